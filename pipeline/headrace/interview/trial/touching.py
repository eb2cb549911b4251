"""Test files for the probe: high above the bed, a few mm down, very slowly."""

from __future__ import annotations

from headrace.interview.draft import Draft
from headrace.interview.question import at
from headrace.interview.trial.file import TrialFile
from headrace.interview.trial.moving import unfit_to_move
from headrace.interview.trial.still import unfit_without_shift
from headrace.interview.trial.words import Words
from headrace.program import number_text

_DOWN, _LITTLE, _BELOW = 10.0, 5.0, 2.0
_NEEDS = (
    "comments", "pause-word", "pause-text", "homing-by", "homing-axes", "work-zero",
    "homed-numbers", "home-ends", "travel-z", "probe",
)  # fmt: skip


def _unfit(draft: Draft) -> str | None:
    if draft.has("probe") is False:
        return "the machine has no probe"
    return unfit_to_move(draft, Z=_DOWN)


def _unfit_below_zero(draft: Draft) -> str | None:
    top = draft.value(at("axes.z.homed-number"))
    if top is not None and top > _LITTLE - _BELOW:
        return f"Z shows {number_text(top, 3)} when it is homed: zero lies too far below"
    return _unfit(draft)


def _low(words: Words) -> list[str]:
    return [
        *words.home("Z"),
        *words.pause("CLIP ON"),
        *words.probe_down(_LITTLE, 30),
        *words.pause("CLIP OFF"),
        *words.home("Z"),
    ]


def _probe(words: Words) -> list[str]:
    lowest = words.lowest_target
    if lowest is None:
        raised, probe = [], words.probe_down(_DOWN, 60)
    else:
        top = lowest + 2 * _DOWN
        asked = f"Z SHOWS {number_text(top, 0)}? OR STOP"
        raised = [*words.shift("Z", top), *words.pause(asked)]
        probe = words.probe_to(top - _DOWN, 60)
    return [
        *words.home("Z"),
        *raised,
        *words.pause("CLIP ON"),
        *probe,
        *words.pause("CLIP OFF"),
        *words.home("Z"),
    ]


def _unfit_to_touch(draft: Draft) -> str | None:
    if draft.value(at("probe.lowest-target")) is not None and (why := unfit_without_shift(draft)):
        return why
    return _unfit(draft)


FILES = (
    TrialFile(
        "T08LOW", "May a probe aim below zero?",
        shows=("probe-lowest",), needs=_NEEDS, reach={"Z": _LITTLE},
        prepare=(
            "There is no bit: the clip goes to the collet nut. At the stop CLIP ON put it there,"
            " and the plate aside. Touch nothing.",
        ),
        watch=(
            "Z homes. Behind the stop CLIP ON a probe aims 5 mm lower, at a number below zero, at"
            " half a mm a second, high above the bed.",
        ),
        told=(
            "It does not start, or an alarm comes at once: answer 0 to probe-lowest.",
            "It goes 5 mm down, and an alarm tells that nothing was touched: it may aim below"
            " zero; leave probe-lowest open.",
            "Take the clip off. Then switch the machine off and on and home it.",
        ),
        body=_low, unfit=_unfit_below_zero,
    ),
    TrialFile(
        "T09PROBE", "Does touching stop it?",
        shows=("probe", "probe-word"), needs=_NEEDS, reach={"Z": _DOWN},
        prepare=(
            "There is no bit: the clip goes to the collet nut. At the stop CLIP ON put it there,"
            " hold the plate BESIDE the nut, not below it, and not touching.",
        ),
        watch=(
            "Z homes, then goes down at 1 mm a second, 10 mm at the most, high above the bed. Go"
            " on with one hand, then touch the side of the nut with the plate, from the side.",
        ),
        told=(
            "It stops at the touch: the probe works; answer yes to probe, and its word is right.",
            "It goes all 10 mm, or stops with an alarm there: nothing was felt. Look at clip, plate"
            " and lead, and run no file that touches off before that is mended.",
            "It does not go at all: it is another word; look into its manual.",
            "Take the clip off. Then switch the machine off and on and home it.",
        ),
        body=_probe, unfit=_unfit_to_touch,
    ),
)  # fmt: skip
