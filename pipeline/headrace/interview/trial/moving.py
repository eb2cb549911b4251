"""Test files in which axes move: near home, with Z at its top, slowly but for one."""

from __future__ import annotations

from headrace.interview.draft import Draft
from headrace.interview.question import at
from headrace.interview.trial.file import TrialFile
from headrace.interview.trial.still import unfit_without_shift
from headrace.interview.trial.words import Words

_TALK = ("comments", "pause-word", "pause-text")
_HOMING = (*_TALK, "homing-by", "work-zero")
_PLACED = (*_HOMING, "homed-numbers", "home-ends", "travel-x")
_WAY = 15.0
_LIMIT, _NEAR = 60.0, 50.0
_FAST_X, _FAST_Y, _CLEAR = 120.0, 30.0, 20.0
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


def _home(words: Words) -> list[str]:
    return [*words.home("Z", "X", "Y"), *words.pause("READ X Y Z")]


def _way(words: Words) -> list[str]:
    side = words.away("X")
    return [
        *words.home("Z", "X"),
        *words.zeroed("Z", "X"),
        *words.pause("X GOES 50 NEXT"),
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
        *words.pause("GOES 20, 20 NEXT"),
        *words.feed_away("X", _CLEAR),
        *words.feed_away("Y", _CLEAR),
        *words.pause("FAST NEXT: 120 X"),
        *words.rapid(**there),
        *words.pause("FAST BACK NEXT"),
        *words.rapid(**back),
        *words.pause("ONCE MORE, FAST"),
        *words.rapid(**there),
        *words.pause("STRAIGHT?"),
    ]


def _limit(words: Words) -> list[str]:
    side = words.away("X")
    return [
        *words.home("Z", "X"),
        *words.zeroed("Z", "X"),
        *words.pause("X GOES 50 NEXT"),
        *words.feed_away("X", _NEAR),
        *words.pause("X GOES 15 NEXT"),
        *words.feed("X", side * _WAY, 100),
        *words.pause("READ X"),
    ]


def _shown(words: Words) -> list[str]:
    side = words.away("X")
    return [
        *words.home("Z", "X"),
        *words.zeroed("Z", "X"),
        *words.pause("X GOES 50 NEXT"),
        *words.feed_away("X", _NEAR),
        *words.shift("X", words.far_end("X") - side * 2),
        *words.pause("X GOES 5 NEXT"),
        *words.feed("X", side * 5.0, 100),
        *words.pause("HOW FAR WENT X?"),
        *words.home("X"),
    ]


FILES = (
    TrialFile(
        "T03HOME", "Does it find its switches, and which numbers does it show there?",
        shows=("homed-numbers", "home-ends", "back-off"),
        needs=(*_TALK, "homing-by", "homing-word", "homing-axes"), reach={"Z": 0, "X": 0, "Y": 0},
        watch=(
            "Z goes UP first, then X, then Y, each behind a stop of its own; all at once where the"
            " word homes all of them. Each must touch its switch; most then come back a little.",
        ),
        told=(
            "An axis that does not run to its switch: the word is no homing word. Answer by-hand"
            " to homing-by.",
            "X or Y goes along with Z: the word homes all axes at once; answer all to homing-axes.",
            "The numbers at the last stop are homed-numbers. How far each came back is back-off.",
            "Then move each axis by hand a few mm away from its switch. Numbers that rise: low."
            " Numbers that fall: high. These are home-ends.",
        ),
        body=_home, unfit=_unfit_to_home,
    ),
    TrialFile(
        "T04WAY", "Does the homing word go straight home?",
        shows=("homing-word",), needs=(*_PLACED, "homing-word", "homing-axes"),
        reach={"Z": 0, "X": _NEAR + _WAY},
        watch=(
            "Z and X home. X goes 50 mm away from its switch, slowly. Behind the next stop the"
            " homing word comes with a place that lies 15 mm farther away.",
        ),
        told=(
            "X goes home at once: good, the word goes through no point.",
            "X goes 15 mm AWAY first: on this machine the word goes through the point on its line,"
            " and with Z that may be a dive into the sheet. Answer by-hand to homing-by.",
        ),
        body=_way, unfit=_unfit_for_way,
    ),
    TrialFile(
        "T05RAPID", "Is G0 straight?",
        shows=("rapids",), needs=(*_PLACED, "travel-y", "homing-axes"),
        reach={"Z": 0, "X": _CLEAR + _FAST_X, "Y": _CLEAR + _FAST_Y},
        watch=(
            "All axes home, X and Y go 20 mm away from their switches. Then three rapids, each"
            " behind a stop: 120 mm in X and 30 in Y, AS FAST AS THE MACHINE GOES. Turn the"
            " override of rapids down, if it has one. Look along the way from the side.",
        ),
        told=(
            "A slanting line all the way: answer straight to rapids.",
            "Slanting first, then along X alone: answer each-axis.",
        ),
        body=_rapid,
        unfit=lambda d: unfit_to_move(d, X=_CLEAR + _FAST_X, Y=_CLEAR + _FAST_Y),
    ),
    TrialFile(
        "T06LIMIT", "What becomes of a move beyond the travel?",
        shows=("soft-limits",), needs=(*_PLACED, "homing-axes"),
        reach={"Z": 0, "X": _NEAR + _WAY},
        prepare=(
            "First, in the settings of the controller: write down the travel of X, and make it 60"
            " mm, counted from where X stands after homing. NO SUCH SETTING: DO NOT RUN THIS FILE."
            " Nothing here goes near a real end; the shorter travel is what it tries.",
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
        shows=("soft-limit-numbers",), needs=(*_PLACED, "homing-axes", "soft-limits"),
        reach={"Z": 0, "X": _NEAR + 5},
        watch=(
            "Z and X home. X goes 50 mm away from its switch, slowly, and gets another number"
            " there, 2 mm before its far end. Behind the next stop it goes 5 mm, and then home.",
        ),
        told=(
            "X goes all 5 mm: answer machine to soft-limit-numbers.",
            "X goes 2 mm, or there is an alarm: answer shown.",
            "Then switch the machine off and on and home it, so that the number is gone.",
        ),
        body=_shown,
        unfit=lambda d: unfit_without_shift(d) or unfit_to_move(d, X=_NEAR + 5),
    ),
)  # fmt: skip
