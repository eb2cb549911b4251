"""A program before or after a step, and what is wrong between the two."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from headrace.findings import Place
from headrace.language import EventKind, Trace
from headrace.program import Program


@dataclass(frozen=True, slots=True)
class Breach:
    """What was changed; the line as it was, and the line as it is now."""

    what: str
    was: Place | None = None
    now: Place | None = None

    @property
    def place(self) -> Place | None:
        """Where to look first: the line as it was."""
        return self.was or self.now

    def __str__(self) -> str:
        both = self.was is not None and self.now is not None and self.was != self.now
        if not both or self.now is None:
            return self.what
        return f"{self.what}; the line is now `{self.now.excerpt.strip()}`"


@dataclass(frozen=True, slots=True)
class Version:
    """A program and what it does. Lines with the identities `opening` count as the job's own."""

    program: Program
    trace: Trace
    opening: range = range(0)

    def own(self, lines: npt.NDArray[np.int32]) -> npt.NDArray[np.bool_]:
        """For each of some lines (n) whether it is the job's own, or of its opening."""
        return self.program.own_ids(self.program.ids(lines), self.opening)

    def within(self, start: int, stop: int) -> Version:
        """The same with the moves and events of the lines `start` to `stop` alone."""
        blocks, moves = [], [0]
        for block in self.trace.blocks:
            inside = (block.line >= start) & (block.line < stop)
            rows = np.flatnonzero(inside)
            moves.extend((moves[-1] + np.cumsum(inside)).tolist())
            if len(rows):  # one call may have a line's moves more than once, but in one row
                blocks.append(block.part(int(rows[0]), int(rows[-1]) + 1))
        events = tuple(
            replace(event, moves=moves[event.moves])
            for event in self.trace.events
            if start <= event.line < stop
        )
        called = [e.value for e in self.trace.events_of(EventKind.TOOL) if e.line < start]
        tool = called[-1] if called else self.trace.tool
        tool = tool if isinstance(tool, int) else None
        trace = replace(self.trace, blocks=tuple(blocks), events=events, tool=tool)
        return replace(self, trace=trace)

    def place(self, line: int) -> Place:
        """The whole of a line; of one of the job's own, by its number in the job."""
        view = self.program[line]
        place = self.program.place(line)
        return place if view.origin is None else replace(place, line=view.origin + 1)
