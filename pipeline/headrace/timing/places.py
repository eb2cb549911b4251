"""Where the machine is expected to stand, in machine coordinates: what a job's numbers tell, and
where its zero follows from a touch, what the description tells of sheet, bit and plate."""

from __future__ import annotations

from bisect import bisect_right
from functools import cached_property
from math import isnan

import numpy as np

from headrace.errors import JobRefused
from headrace.job import Job
from headrace.language import Block
from headrace.language.trace import HOME, PROBE
from headrace.machine import Heights, Span
from headrace.rehearsal.numbered import Numbered
from headrace.rehearsal.shifts import Shift, shifts
from headrace.rehearsal.space.frame import Frame

_Z = 2


class Places(Numbered):
    """The places of a job's moves."""

    def __init__(self, job: Job) -> None:
        super().__init__(job.trace.blocks)
        self.job = job

    def behind(self, move: int, axis: int) -> float | None:
        """Where an axis stands behind a move, in machine coordinates (mm): the middle of where it
        may be. None where that is not known; behind move -1 nothing is."""
        while move >= 0:
            block, row = self.at(move)
            start, number = self.start(move, axis), float(block.ends[axis][row])
            if block.kind[row] == PROBE and start != number:
                plate = self.plate(block.setting.tool) if axis == _Z else None
                return None if plate is None else _middle(plate)
            if not isnan(number):
                return self._in_machine(move, axis, number)
            placed = dict(block.setting.placed).get(axis)
            lost = block.kind[row] == HOME or block.setting.incremental or not isnan(start)
            if placed is not None or lost:
                return placed
            # its number was lost, by choosing a work offset system: it stands where it did before
            move -= 1 + self._still(block, row, axis)
        return None

    def _in_machine(self, move: int, axis: int, number: float) -> float | None:
        """A number that an axis has behind a move, in machine coordinates."""
        offset = self.at(move)[0].setting.offset[axis]
        if not isnan(offset):
            return number + offset
        zero = self._frame(move).machine[axis]
        return None if zero is None else number + _middle(zero)

    @staticmethod
    def _still(block: Block, row: int, axis: int) -> int:
        """How many moves before a row of a block have no number along an axis either; those at the
        beginning of the block, or none."""
        known = ~np.isnan(block.ends[axis][:row]) | (block.kind[:row] >= PROBE)
        return 0 if known.any() else row

    def plate(self, tool: int | None) -> Span | None:
        """Where a bit touches the plate, in machine coordinates; None where not described."""
        job = self.job
        try:
            touch = Heights.of(job.machine, job.setup.with_tool(tool), "the time of a probe").touch
        except JobRefused:
            return None
        return job.machine.axes["z"].high - touch

    def _frame(self, move: int) -> Frame:
        which = bisect_right(self._begun, move) - 1
        setting = self._blocks[which].setting
        setup = self.job.setup.with_tool(setting.tool)
        return Frame.of(self.job.machine, setup, setting.offset[:3], self._shifts[which])

    @cached_property
    def _shifts(self) -> list[Shift]:
        return list(shifts(self._blocks, self.job.trace))


def _middle(span: Span) -> float:
    return (span.least + span.most) / 2.0
