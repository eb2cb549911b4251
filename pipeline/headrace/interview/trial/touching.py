"""Test files for the probe: high above the bed, a few mm down, very slowly."""

from __future__ import annotations

from headrace.interview.draft import Draft
from headrace.interview.question import at
from headrace.interview.trial.file import TrialFile
from headrace.interview.trial.moving import PLACED_BY, unfit_to_move
from headrace.interview.trial.still import unfit_without_shift
from headrace.interview.trial.words import STEPS, Words
from headrace.program import number_text

_DOWN, _LITTLE, _BELOW = 10.0, 5.0, 2.0
_NEEDS = (*PLACED_BY, "travel-z", "probe")


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
        *words.zeroed("Z"),
        *_steps_down(words),
        *words.pause("CLIP ON"),
        *words.probe_down(_LITTLE - STEPS, 30),
        *words.pause("CLIP OFF"),
        *words.home("Z"),
    ]


def _probe(words: Words) -> list[str]:
    lowest = words.lowest_target
    top = None if lowest is None else lowest + 2 * _DOWN
    lines = words.home("Z")
    lines += words.zeroed("Z") if top is None else words.shift("Z", top)
    lines += [*_steps_down(words), *words.pause("CLIP ON")]
    if top is not None:
        lines += words.probe_to(top - _DOWN, 60)
    else:
        lines += words.probe_down(_DOWN - STEPS, 60)
    return [*lines, *words.pause("CLIP OFF"), *words.home("Z")]


def _steps_down(words: Words) -> list[str]:
    """Down by G1 first: a machine that goes elsewhere shows it before a probe begins, and one that
    passes over the word of the probe goes on as slowly."""
    asked = words.pause("1 MM Z DOWN NEXT")
    return [*asked, *words.steps("Z", -1, "1 MM Z DOWN? OR STOP")]


def _unfit_to_touch(draft: Draft) -> str | None:
    if draft.value(at("probe.lowest-target")) is not None:
        if why := unfit_without_shift(draft):
            return why
        if draft.value(at("soft-limits.numbers")) == "shown":
            return "it gives Z another number, and the limits of this machine would move with it"
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
            "Z homes, and goes down two steps of 1 mm. Behind the stop CLIP ON a probe aims 3 mm"
            " lower, at a number below zero, at half a mm a second, high above the bed.",
        ),
        told=(
            "It does not start, or an alarm comes at once: answer 0 to probe-lowest.",
            "It goes 3 mm down, with or without an alarm: it may aim below zero; leave probe-lowest"
            " open.",
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
            "Z homes, goes down two steps of 1 mm, and behind the stop CLIP ON at 1 mm a second, 10"
            " mm below home at the most, high above the bed. Go on with the hand that is next to"
            " the emergency stop; with the other touch the side of the nut with the plate, from"
            " the side.",
        ),
        told=(
            "It stops at the touch: the probe works; answer yes to probe, and its word is right.",
            "It goes on in spite of the touch, or ends with an alarm 10 mm below home: nothing was"
            " felt. Look at clip, plate and lead, and run no file that touches off before that is"
            " mended.",
            "It does not go at all: it feels a touch where there is none, or it is another word."
            " T08LOW has shown nothing then; look at the lead, and into its manual.",
            "Take the clip off. Then switch the machine off and on and home it.",
        ),
        body=_probe, unfit=_unfit_to_touch,
    ),
)  # fmt: skip
