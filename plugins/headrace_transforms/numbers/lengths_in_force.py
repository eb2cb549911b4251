"""Where heights count from another tool length than before."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from headrace import EventKind, Job
from headrace_transforms.paths.rapids import HOME


@dataclass(frozen=True, slots=True)
class Height:
    """A move to a height under a tool length (None: none is in force): its line, and how many moves
    came before it."""

    length: int | None
    line: int
    moves: int


def unfounded(job: Job) -> tuple[Height, Height] | None:
    """Two heights of the job's own, one behind the other, that count from different tool lengths
    although Z got no new zero between them, with the second bit in. None where there are none.

    Places in machine coordinates and homing are no such heights.
    """
    last: Height | None = None
    for first, end in _heights(job):
        if last is not None and last.length != first.length and not _new_zero(job, last, first):
            return last, first
        last = end
    return None


def _new_zero(job: Job, last: Height, first: Height) -> bool:
    """Whether Z gets a new zero between two heights, behind the last change of the bit there."""
    found = False
    for event in job.trace.events_of(EventKind.TOOL, EventKind.ZERO):
        if last.moves < event.moves <= first.moves:
            names = event.value[2] if isinstance(event.value, tuple) else ""
            found = "Z" in names or (found and event.kind is not EventKind.TOOL)
    return found


def _heights(job: Job) -> Iterator[tuple[Height, Height]]:
    """The first and the last height of each block that has any."""
    begun = 0
    for block in job.trace.blocks:
        setting, ends = block.setting, block.ends[2]
        placed = any(axis == 2 for axis, _ in setting.placed)
        if not placed and not (ends.strides == (0,) and ends[0] == block.start[2]):
            # increments from an unknown place lead to an unknown one, and may go down
            named = (ends != block.starts(2)) & (setting.incremental | ~np.isnan(ends))
            rows = np.flatnonzero(named & (block.kind != HOME) & job.program.own(block.line))
            if len(rows):
                first, last = (
                    Height(setting.length, int(block.line[row]), begun + int(row))
                    for row in (rows[0], rows[-1])
                )
                yield first, last
        begun += len(block)
