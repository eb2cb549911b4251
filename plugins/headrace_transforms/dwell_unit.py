"""What the P of a dwell counts: seconds or milliseconds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace as changed
from decimal import Decimal
from typing import Any

from headrace import Dialect, Edit, EventKind, Facet, Job, Line, Word, number_text, transform
from headrace_transforms.lines.line_changes import Change, edits
from headrace_transforms.paths.reach import runs
from headrace_transforms.telling.refusing import place_of, refusal

_OTHERS = (("G", 10), ("G", 64), ("M", 98))
"""Words that have a P of their own: RS274/NGC 3.5.5, 3.5.14; `M98` is common practice."""


def _dialect(job: Job) -> Dialect:
    return changed(job.dialect, dwell_unit=Dialect.of(job.machine).dwell_unit)


@transform("dwell-unit", changes=[Facet.SPELLING], dialect=_dialect, idempotent=True)
def dwell_unit(job: Job) -> Iterator[Edit]:
    """Write dwells in what the machine counts: seconds or milliseconds.

    What the job counts is said by the recipe (`assume: {dwell: seconds}`); the machine file says
    what the machine does. The P of G4 and of the cycles that dwell (G82 G86 G88 G89) are written
    anew, so that the machine waits exactly as long as was meant.

        G4 P1.5                   ->        G4 P1500
        G82 X10 Z-3 R2 P0.25                G82 X10 Z-3 R2 P250
    """
    if needs_dwell_unit(job) is not None:
        yield from edits(job.program, _changes(job))


def needs_dwell_unit(job: Job) -> dict[str, Any] | None:
    """The options of the step where the job counts dwells otherwise than its machine; else None."""
    return {} if _dialect(job) != job.dialect else None


def _changes(job: Job) -> Iterator[Change]:
    factor = _factor(job)
    drilled = {event.line for event in job.trace.events_of(EventKind.CYCLE)}
    for index in job.program.lines_with("P").tolist():
        line = job.program[index]
        if runs(job, index) and _dwells(job, line, drilled):
            word = next(word for word in line.words if word.letter == "P")
            text = line.rewritten({word: _counted(job, line, word, factor)})
            if text != line.text:
                yield Change(index, line.raw, text)


def _factor(job: Job) -> Decimal:
    """What a number is multiplied by: 1000, or a thousandth."""
    return Decimal(1000) if job.dialect.dwell_unit > _dialect(job).dwell_unit else Decimal("0.001")


def _dwells(job: Job, line: Line, drilled: set[int]) -> bool:
    """Whether the P of a line is a time; JobRefused where that cannot be told."""
    if line.has("G", 4):
        return True
    if any(line.has(letter, number) for letter, number in _OTHERS):
        return False
    if any(word.letter == "G" and word.value is None for word in line.words):
        what = "this line works out its G code, so whether it waits cannot be seen"
        raise refusal("numbers-not-plain", what, place=place_of(job.program, line))
    if job.trace.calls.defines(line.index):
        what = "whether this P is a dwell hangs on where the subprogram is called from"
        remedy = "put the step `expand-calls` before it"
        raise refusal("numbers-not-plain", what, place=place_of(job.program, line), remedy=remedy)
    return line.index in drilled


def _counted(job: Job, line: Line, word: Word, factor: Decimal) -> str:
    if word.value is None:
        what = "this line works out how long it waits"
        raise refusal("numbers-not-plain", what, place=place_of(job.program, line))
    if word.value == 0:
        return line.text[word.start : word.end]
    number = word.value * factor
    places = max(0, -int(number.as_tuple().exponent))
    return line.text[word.start] + number_text(number, places)
