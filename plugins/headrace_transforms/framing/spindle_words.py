"""What the lines of a program say of the spindle."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from headrace import Job, Line, Word
from headrace_transforms.framing.ending import END_CODES
from headrace_transforms.telling.refusing import place_of, refusal

_AXES = "XYZABC"


@dataclass(frozen=True, slots=True)
class SpindleWords:
    """One line: its words that concern the spindle, and what a step before asked there.

    `moves` tells whether something on the line happens in place or in motion behind them.
    """

    line: Line
    start: Word | None
    stop: Word | None
    speed: Word | None
    change: Word | None
    end: Word | None
    asks: str | None
    moves: bool

    @property
    def own(self) -> tuple[Word, ...]:
        """The words that belong to the spindle alone."""
        return tuple(word for word in (self.start, self.stop, self.speed) if word is not None)

    @property
    def turns_on(self) -> bool | None:
        """Whether the spindle turns behind the words of this line; None where they leave it."""
        if self.start is not None or self.asks == "spindle-on":
            return True
        if self.stop is not None or self.change is not None or self.asks == "spindle-off":
            return False
        return None


def spindle_lines(job: Job) -> Iterator[SpindleWords]:
    """The lines from the start of the job's own part to the end, in order."""
    program, marks = job.program, job.landmarks
    last = min(marks.end, len(program) - 1)
    found = [
        program.lines_with("M", 3, 4, 5, 6, *END_CODES),
        program.lines_with("S"),
        np.array([e.line for e in job.trace.events if e.kind == "asks"], np.int64),
    ]
    for index in np.unique(np.concatenate(found)):
        if marks.start <= index <= last:
            yield _read(job, program[int(index)])


def _read(job: Job, line: Line) -> SpindleWords:
    m = {int(word.value): word for word in line.words if word.letter == "M" and word.value}
    stops = job.dialect.stops
    words = SpindleWords(
        line=line,
        start=m.get(3) or m.get(4),
        stop=m.get(5),
        speed=next((word for word in line.words if word.letter == "S"), None),
        change=m.get(6),
        end=next((m[code] for code in END_CODES if code in m and code not in stops), None),
        asks=line.asks,
        moves=any(word.letter in _AXES for word in line.words),
    )
    if words.own and line.scan.block_delete:
        raise refusal(
            "spindle-optional",
            "this line switches the spindle only where a switch says so",
            place=place_of(job.program, line),
        )
    if words.change is not None and words.start is not None and words.moves:
        raise refusal(
            "spindle-crowded",
            "this line changes the tool, starts the spindle and moves",
            place=place_of(job.program, line),
        )
    return words
