"""Test files in which axes move: near home, with Z at its top, slowly but for one."""

from __future__ import annotations

from headrace.interview.draft import Draft
from headrace.interview.question import at
from headrace.interview.trial.file import TrialFile
from headrace.interview.trial.still import unfit_without_shift
from headrace.interview.trial.words import Words

_TALK = ("comments", "pause-word", "pause-text")
_HOMING = (*_TALK, "homing-by", "homing-word", "homing-axes", "work-zero")
PLACED_BY = (*_HOMING, "homed-numbers", "home-ends")
_PLACED = (*PLACED_BY, "travel-x")
_WAY = 15.0
_LIMIT, _NEAR = 60.0, 50.0
_FAST_X, _FAST_Y, _CLEAR = 120.0, 30.0, 20.0
_ALIKE = 0.7
"""Two axes that end within this part of each other's time make a line that looks straight."""
_ROOM = 20.0
"""So much travel (mm) is left beyond what a file reaches."""


def unfit_to_move(draft: Draft, **reach: float) -> str | None:
    """Why no file may move these axes so far from their switches (mm)."""
    units = draft.value(at("units"))
    if units is not None and "mm" not in units:
        return "it is written in mm, and this machine reads inches only"
    distances = draft.value(at("distances"))
    if distances is not None and "increments" not in distances:
        return "it moves by increments (G91), which this machine does not read"
    if draft.value(at("axes.z.home-end")) == "low":
        return "it counts on Z being at its top behind homing, and here Z homes at its low end"
    for axis, most in reach.items():
        travel = draft.value(("axes", axis.lower(), "travel"))
        if travel is not None and travel[1] - travel[0] < most + _ROOM:
            return f"it needs {most + _ROOM:g} mm of travel in {axis}"
    return None


def _unfit_to_home(draft: Draft) -> str | None:
    if draft.value(at("homing.by")) == "by-hand":
        return "this machine is homed at its panel: home it there and read its numbers"
    return unfit_to_move(draft)


def _unfit_for_way(draft: Draft) -> str | None:
    if draft.value(at("homing.axes")) == "all":
        return "its word stands alone on the line, so it can name no point on the way"
    return _unfit_to_home(draft) or unfit_to_move(draft, X=_NEAR + _WAY)


def _unfit_for_rapid(draft: Draft) -> str | None:
    x, y = (draft.value(at(f"axes.{axis}.rapid")) for axis in "xy")
    if x and y and _ALIKE < (x / y) / (_FAST_X / _FAST_Y) < 1 / _ALIKE:
        return "by the rapids of X and Y both ways of going there would look the same"
    return unfit_to_move(draft, X=_CLEAR + _FAST_X, Y=_CLEAR + _FAST_Y)


def _unfit_for_shown(draft: Draft) -> str | None:
    if draft.value(at("soft-limits.action")) == "none":
        return "it shows what soft limits look at, and this machine has none"
    return unfit_without_shift(draft) or unfit_to_move(draft, X=_NEAR + _WAY)


def _home(words: Words) -> list[str]:
    return [
        *words.pause("1 MM IN X NEXT"),
        *words.steps("X", 1, "1 MM GONE? OR STOP"),
        *words.home("Z", "X", "Y"),
        *words.pause("READ X Y Z"),
    ]


def _way(words: Words) -> list[str]:
    side = words.away("X")
    return [
        *words.home("Z", "X"),
        *words.zeroed("Z", "X"),
        *words.pause("50 MM IN X NEXT"),
        *words.feed_away("X", _NEAR),
        *words.pause("WATCH X GO HOME"),
        *words.home_by_way("X", side * _WAY),
        *words.zeroed("X"),
        *words.pause("WHICH WAY FIRST?"),
    ]


def _rapid(words: Words) -> list[str]:
    x, y = words.away("X"), words.away("Y")
    there = {"X": x * _FAST_X, "Y": y * _FAST_Y}
    back = {"X": -x * _FAST_X, "Y": -y * _FAST_Y}
    return [
        *words.home("Z", "X", "Y"),
        *words.zeroed("Z", "X", "Y"),
        *words.pause("20 MM IN X NEXT"),
        *words.feed_away("X", _CLEAR),
        *words.pause("20 MM IN Y NEXT"),
        *words.feed_away("Y", _CLEAR),
        *words.pause("120 MM SLOW NEXT"),
        *words.together("G1", **there),
        *words.pause("FAST BACK NEXT"),
        *words.together("G0", **back),
        *words.pause("ONCE MORE, FAST"),
        *words.together("G0", **there),
        *words.pause("STRAIGHT?"),
    ]


def _limit(words: Words) -> list[str]:
    side = words.away("X")
    return [
        *words.home("Z", "X"),
        *words.zeroed("Z", "X"),
        *words.pause("50 MM IN X NEXT"),
        *words.feed_away("X", _NEAR),
        *words.pause("15 MM IN X NEXT"),
        *words.feed("X", side * _WAY, 100),
        *words.pause("READ X"),
    ]


def _shown(words: Words) -> list[str]:
    side = words.away("X")
    return [
        *words.home("Z", "X"),
        *words.zeroed("Z", "X"),
        *words.pause("50 MM IN X NEXT"),
        *words.feed_away("X", _NEAR),
        *words.shift("X", words.far_end("X") - side * 2),
        *words.pause("15 MM IN X NEXT"),
        *words.feed("X", side * _WAY, 100),
        *words.pause("HOW FAR WENT X?"),
        *words.home("X"),
    ]


FILES = (
    TrialFile(
        "T03HOME", "Does it find its switches, and which numbers does it show there?",
        shows=("homed-numbers", "home-ends", "back-off"),
        needs=(*_TALK, "homing-by", "homing-word", "homing-axes"), reach={"Z": 0, "X": 0, "Y": 0},
        prepare=(
            "Switch the machine off and on, so that no zero of an earlier job is left, and bring"
            " the head to the middle.",
        ),
        watch=(
            "X goes 1 mm, and 1 mm more, from where it stands. Then Z goes UP, then X, then Y home,"
            " each behind a stop of its own; all at once where the word homes all of them. Each"
            " must touch its switch; most then come back a little.",
        ),
        told=(
            "An alarm at the first step: it takes no move before it is homed. Home it at its panel,"
            " bring the head to the middle again, and run this file anew.",
            "Z goes down, even a little: EMERGENCY STOP. Answer by-hand to homing-by.",
            "An axis that does not run to its switch: the word is no homing word. Answer by-hand"
            " to homing-by.",
            "X or Y goes along with Z: the word homes all axes at once; answer all to homing-axes.",
            "The numbers at the last stop are homed-numbers, with their signs. Where it shows both"
            " the machine's own numbers and those of a work zero, take the machine's own. How far"
            " each came back is back-off.",
            "Then move each axis by hand a few mm away from its switch. Numbers that rise: low."
            " Numbers that fall: high. These are home-ends.",
        ),
        body=_home, unfit=_unfit_to_home,
    ),
    TrialFile(
        "T04WAY", "Does the homing word go straight home?",
        shows=("homing-word",), needs=_PLACED,
        reach={"Z": 0, "X": _NEAR + _WAY},
        watch=(
            "Z and X home. X goes 50 mm away from its switch, slowly. Behind the next stop the"
            " homing word comes with a place that lies 15 mm farther away.",
        ),
        told=(
            "X goes home at once: good, the word goes through no point. This counts only if both"
            " steps of 1 mm came.",
            "X goes 15 mm AWAY first: on this machine the word goes through the point on its line,"
            " and with Z that may be a dive into the sheet. Answer by-hand to homing-by.",
        ),
        body=_way, unfit=_unfit_for_way,
    ),
    TrialFile(
        "T05RAPID", "Is G0 straight?",
        shows=("rapids",), needs=(*_PLACED, "travel-y"),
        reach={"Z": 0, "X": _CLEAR + _FAST_X, "Y": _CLEAR + _FAST_Y},
        watch=(
            "All axes home, X and Y go 20 mm away from their switches. Then 120 mm in X and 30 in Y"
            " slowly: that is a straight line, and there must be room for it. Then the same way"
            " back and there again, each behind a stop, AS FAST AS THE MACHINE GOES. Turn the"
            " override of rapids down, if it has one. Look along the way from the side.",
        ),
        told=(
            "The same slanting line all the way: answer straight to rapids.",
            "Slanting first, then along one axis alone: answer each-axis.",
            "Leave rapids open if X goes about four times as fast as Y: then both look the same.",
        ),
        body=_rapid,
        unfit=_unfit_for_rapid,
    ),
    TrialFile(
        "T06LIMIT", "What becomes of a move beyond the travel?",
        shows=("soft-limits",), needs=_PLACED,
        reach={"Z": 0, "X": _NEAR + _WAY},
        prepare=(
            "First, in the settings of the controller: write down the travel of X, and make it 60"
            " mm, counted from where X stands after homing. NO SUCH SETTING: DO NOT RUN THIS FILE."
            " Nothing here goes near a real end; the shorter travel is what it tries.",
            "Bring X by hand to some 40 mm from its switch this time, not to the middle: with so"
            " short a travel some do not look for the switch any farther away.",
        ),
        watch=(
            "Z and X home. X goes 50 mm away from its switch, slowly; behind the next stop 15 mm"
            " more, which ends 5 mm beyond the travel that you set.",
        ),
        told=(
            "An alarm before it moves: answer alarms to soft-limits.",
            "X goes less than 15 mm there, without a word: answer clamps.",
            "X goes all 15 mm: answer none, if you are sure that the setting counts at all.",
            "GIVE X ITS TRAVEL BACK in the settings, switch off and on, and home.",
        ),
        body=_limit, unfit=lambda d: unfit_to_move(d, X=_NEAR + _WAY),
    ),
    TrialFile(
        "T07SHOWN", "Which numbers do the limits look at?",
        shows=("soft-limit-numbers",), needs=(*_PLACED, "soft-limits"),
        reach={"Z": 0, "X": _NEAR + _WAY},
        watch=(
            "Z and X home. X goes 50 mm away from its switch, slowly, and gets another number"
            " there, 2 mm before its far end. If that number is not shown at the next stop, stop"
            " the file: G92 is not its word. Else it goes 15 mm, and then home.",
        ),
        told=(
            "X goes all 15 mm: answer machine to soft-limit-numbers, if travel-x is what its"
            " settings say.",
            "X goes less, or there is an alarm: answer shown.",
            "Then switch the machine off and on and home it, so that the number is gone.",
        ),
        body=_shown,
        unfit=_unfit_for_shown,
    ),
)  # fmt: skip
