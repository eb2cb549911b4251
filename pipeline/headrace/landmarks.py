"""Named places of a program, where steps insert."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headrace.language import EventKind, Trace
from headrace.program import Program

_AT_ONCE = 4096
"""The first cut is most often near the beginning: so many cuts are looked at at a time."""


@dataclass(frozen=True, slots=True)
class Landmarks:
    """Lines (from 0). Insert before `start` what comes before the job's own part, before `end`
    what comes after it; `end` is the line of the program end, or the length of the program.

    `first_cut` is the job's first cutting move, None if it never cuts; `tool_changes` are the
    lines whose word changes the tool (not the pauses at which somebody is asked for one).
    """

    start: int
    end: int
    first_cut: int | None
    tool_changes: tuple[int, ...]

    @classmethod
    def of(cls, program: Program, trace: Trace, opening: range = range(0)) -> Landmarks:
        """From a program and what it does. Lines with the identities `opening` count as the
        beginning of the job's own part."""
        end = len(program) if trace.ended_at is None else trace.ended_at
        return cls(
            start=_start(program, end, opening),
            end=end,
            first_cut=_first_cut(program, trace),
            tool_changes=tuple(
                event.line
                for event in trace.events_of(EventKind.TOOL)
                if program[event.line].asks is None
            ),
        )


def _start(program: Program, end: int, opening: range) -> int:
    """The first line of the job's own, or of its opening, that does anything: the heading stays
    above."""
    for first, piece in program.numbered_pieces():
        ids = piece.lineage.ids_of(piece.start, piece.stop)
        for at in np.flatnonzero(program.own_ids(ids, opening)):
            index = first + int(at)
            if index >= end or program[index].is_code:
                return _with_its_text(program, min(index, end))
    return end


def _with_its_text(program: Program, index: int) -> int:
    """A stop and the comment above it belong together: that comment may be what it shows."""
    if 0 < index < len(program) and program[index].has("M", 0, 1, 60):
        above = program[index - 1]
        if above.comments and not above.is_code and above.origin is not None:
            return index - 1
    return index


def _first_cut(program: Program, trace: Trace) -> int | None:
    for block in trace.blocks:
        cuts = block.line[block.cuts]
        for begun in range(0, len(cuts), _AT_ONCE):
            lines = cuts[begun : begun + _AT_ONCE]
            own = lines[program.own(lines)]
            if len(own):
                return int(own[0])
    return None
