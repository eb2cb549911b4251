"""A program before or after a step, and what is wrong between the two."""

from __future__ import annotations

from dataclasses import dataclass, replace

from headrace.findings import Place
from headrace.language import Trace
from headrace.program import Program

SAME = 1e-6
"""Positions, feeds and times that differ by less (mm, mm/min, s) are the same: far below any
controller's least increment, far above the rounding of the arithmetic."""

Breach = tuple[str, Place | None]
"""What was changed, and where."""


@dataclass(frozen=True, slots=True)
class Version:
    """A program and what it does."""

    program: Program
    trace: Trace

    def place(self, line: int) -> Place:
        """The whole of a line; of one of the job's own, by its number in the job."""
        view = self.program[line]
        place = self.program.place(line)
        return place if view.origin is None else replace(place, line=view.origin + 1)
