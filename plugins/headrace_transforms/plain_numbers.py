"""Parameters and expressions worked out."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan
from typing import Any

from headrace import (
    Edit,
    EventKind,
    Facet,
    Job,
    Line,
    Word,
    WorkedOut,
    delete,
    number_text,
    replace,
    transform,
)
from headrace_transforms.lines.respelling import respelt
from headrace_transforms.telling.refusing import place_of, refusal

_AXES = "XYZABC"
_WHOLE = "MTLDH"
_PLACES = {"mm": 7, "inch": 8}
"""Decimals that no controller counts: less than a millionth of a millimetre is lost."""
_STANDARDS_OWN = 5000
"""From here on parameters are the controller's: probes, zeros, stored points (table 2)."""
_SHOWN = 5
"""So many parameters are named, at the most."""


@transform("plain-numbers", changes=[Facet.SPELLING], idempotent=True)
def plain_numbers(job: Job) -> Iterator[Edit]:
    """Write numbers in the place of parameters and expressions (RS274/NGC 3.3.2, 3.3.3).

    Each number is what its word comes to where it stands; settings go. Refused is what the
    controller alone knows: parameters that the job does not set, and what a probe has found.

        #1=20                   ->        G0 X20 Y28
        G0 X#1 Y[#1+SQRT[64]]
    """
    writing = _Writing(job)
    for found in _once(job):
        line = job.program[found.line]
        text = writing.line(line, found)
        yield replace(line.index, text) if text.strip() else delete(line.index)


def needs_plain_numbers(job: Job) -> dict[str, Any] | None:
    """The options of the step where a job leaves its machine something to work out that it does
    not; else None."""
    texts = (piece.text.data for piece in job.program.pieces)
    perhaps = any(b"#" in data or b"[" in data for data in texts)
    return {} if perhaps and not job.machine.parameters and job.worked_out else None


def _once(job: Job) -> Iterator[WorkedOut]:
    """What each line comes to; JobRefused where that is not the same each time that it is run."""
    seen: dict[int, WorkedOut] = {}
    for found in job.worked_out:
        if found != seen.setdefault(found.line, found):
            what = "in a subprogram, this line comes to other numbers at each call"
            place = place_of(job.program, job.program[found.line])
            remedy = "put the step `expand-calls` before this one"
            raise refusal("value-unknown", what, place=place, remedy=remedy)
    yield from seen.values()


class _Writing:
    """The numbers of a job, line by line. `owed` is what increments have lost so far to rounding,
    by their letters: it goes into the next one, so that nothing adds up."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.owed: dict[str, float] = {}
        units = job.trace.events_of(EventKind.UNITS)
        self.units = [(event.line, str(event.value)) for event in units]
        self.unit = job.start.units or job.dialect.units or "mm"

    def line(self, line: Line, found: WorkedOut) -> str:
        """The new text of a line, which may be empty."""
        self._require_known(line, found)
        while self.units and self.units[0][0] <= line.index:
            self.unit = self.units.pop(0)[1]
        spelling = {
            (word.start, word.end): word.letter + self._number(word, value, found.increments)
            for word, value in found.values.items()
        }
        settings = line.scan.settings
        spelling.update({(setting.start, setting.end): "" for setting in settings})
        return respelt(line, spelling)

    def _number(self, word: Word, value: float, increments: bool) -> str:
        if word.letter == "G":
            return number_text(value, 1)
        if word.letter in _WHOLE:
            return number_text(value, 0)
        owed = self.owed.get(word.letter, 0.0) if increments and word.letter in _AXES else 0.0
        text = number_text(value + owed, _PLACES[self.unit])
        self.owed[word.letter] = value + owed - float(text)
        return text

    def _require_known(self, line: Line, found: WorkedOut) -> None:
        """JobRefused where a number hangs on what the controller alone knows."""
        place = place_of(self.job.program, line)
        if found.unset:
            names = [f"#{index}" for index in sorted(found.unset)]
            shown = ", ".join(names[:_SHOWN]) + (", ..." if len(names) > _SHOWN else "")
            what = f"this reads {shown}, which no line has set"
            raise refusal("value-unknown", what, place=place)
        lost = [word.letter for word, value in found.values.items() if isnan(value)]
        if lost:
            what = f"the number of {', '.join(lost)} hangs on what the controller finds"
            raise refusal("value-unknown", what, place=place)
        if any(index >= _STANDARDS_OWN for index in found.made):
            what = f"this sets #{max(found.made)}, which the controller itself works with"
            remedy = "set the place by G10, G92 or at the panel, and take the line out"
            raise refusal("word-unknown-here", what, place=place, remedy=remedy)
        if line.scan.block_delete and line.scan.settings:
            what = "a parameter is set only where a switch says so"
            raise refusal("switch-decides", what, place=place)
