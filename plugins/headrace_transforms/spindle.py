"""The spindle, by what switches it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace as changed

import numpy as np

from headrace import Edit, Facet, Job, transform
from headrace_transforms.framing.spindle_cuts import cutting_lines, first_own_move
from headrace_transforms.framing.spindle_words import SpindleWords, spindle_lines
from headrace_transforms.framing.switching import Switch
from headrace_transforms.telling.refusing import place_of, refusal


@transform(
    "spindle",
    changes=[Facet.SPINDLE, Facet.DWELL, Facet.STOPS, Facet.COMMENTS],
    options={
        "speed": {
            "type": "number",
            "description": "The speed where the job states none; rev/min.",
            "exclusiveMinimum": 0,
            "examples": [17000],
        },
        "missing": {
            "description": "What to do where the job cuts and never starts the spindle: refuse it,"
            " or start the spindle before its first move.",
            "enum": ["refuse", "start"],
            "default": "refuse",
        },
        "run-up": {
            "type": "number",
            "description": "From switching on until it is at speed; s. When left out, as the"
            " machine says.",
            "minimum": 0,
            "maximum": 600,
            "examples": [5],
        },
        "run-down": {
            "type": "number",
            "description": "From switching off until it stands; s. When left out, as the machine"
            " says.",
            "minimum": 0,
            "maximum": 600,
            "examples": [10],
        },
    },
)
def spindle(
    job: Job,
    *,
    speed: float | None,
    missing: str,
    run_up: float | None,
    run_down: float | None,
) -> Iterator[Edit]:
    """Switch the spindle the way this machine does, and wait until it is at speed.

    Where S sets the speed, the words stay and dwells are added behind them. Behind a relay, S
    goes, and a comment tells the speed. Where it is switched by hand, M3, M5 and S become pauses
    with the speed and the nearest mark of the dial. Whatever else is on those lines stays.

        S16000 M3     ->        (ON 16000 DIAL 3)
        G0 Z5                   M0
        M5                      G4 P2000
                                G0 Z5
                                (SPINDLE OFF, WAIT)
                                M0
    """
    known = job.machine.spindle
    if known.control == "none":
        raise refusal("no-spindle", "the step `spindle` is for a spindle, and the machine has none")
    settled = changed(
        known,
        run_up=known.run_up if run_up is None else run_up,
        run_down=known.run_down if run_down is None else run_down,
    )
    lines = list(spindle_lines(job))
    start = _missing_start(job, lines, missing)
    return Switch(job, changed(job.machine, spindle=settled), speed).edits(lines, start)


def _missing_start(job: Job, lines: list[SpindleWords], missing: str) -> int | None:
    """The line before which a start is to be added; JobRefused where a cut would find the spindle
    at rest."""
    cuts = cutting_lines(job)
    told = [(words.line.index, words.turns_on) for words in lines if words.turns_on is not None]
    turning = job.state_at(job.landmarks.start).spindle in ("cw", "ccw")
    bad = _resting(cuts, told, turning)
    if bad is None:
        return None
    line = job.program[bad]
    started = turning or any(on for index, on in told if index <= bad)
    if started:
        what = "a cut while the spindle stands still"
        raise refusal("cut-at-rest", what, place=place_of(job.program, line))
    if missing == "refuse":
        what = "a cut, and nothing has started the spindle"
        raise refusal("spindle-missing", what, place=place_of(job.program, line))
    first = first_own_move(job)
    assert first is not None, "a cut is a move"
    still = _resting(cuts, sorted([*told, (first - 0.5, True)]), turning)
    if still is not None:
        what = "a cut while the spindle stands still"
        raise refusal("cut-at-rest", what, place=place_of(job.program, job.program[still]))
    return first


def _resting(
    cuts: np.ndarray[tuple[int], np.dtype[np.int32]],
    told: Sequence[tuple[float, bool | None]],
    turning: bool,
) -> int | None:
    """The first of the cutting lines (ascending) at which the spindle does not turn."""
    begins = [0.0, *(index for index, _ in told)]
    ends = [*begins[1:], np.inf]
    turns = [turning, *(bool(on) for _, on in told)]
    for begin, end, on in zip(begins, ends, turns, strict=True):
        at = int(np.searchsorted(cuts, begin))
        if not on and at < len(cuts) and cuts[at] < end:
            return int(cuts[at])
    return None
