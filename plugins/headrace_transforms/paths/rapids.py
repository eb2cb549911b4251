"""The rapids of a job: which way each goes, and how fast the machine can go it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from headrace import EventKind, Job
from headrace_transforms.numbers.modes import Bools

Floats = npt.NDArray[np.float64]
Longs = npt.NDArray[np.int64]

RAPID, HOME = 0, 5
_SAME = 1e-6
"""Ends that are nearer (mm) are the same place."""


@dataclass(frozen=True, slots=True, eq=False)
class Rapids:
    """Rapids that are said on a line of their own (r, ascending).

    `row` (r) counts among all moves; `ways` (r, 6) is how far each goes (mm, degrees), NaN where
    that is not known, and `moving` (r, 6) whether it may go anywhere along an axis. `slantwise`
    (r) tells of those in work coordinates that go along Z, as is known, and along other axes too.
    """

    line: Longs
    row: Longs
    ways: Floats
    moving: Bools
    slantwise: Bools

    def __len__(self) -> int:
        return len(self.line)

    @classmethod
    def of(cls, job: Job) -> Rapids:
        """All of them. Those of cycles, of calls, and to stored points are none."""
        trace = job.trace
        row = np.flatnonzero(trace.kind == RAPID)
        line = trace.line[row].astype(np.int64)
        others = np.concatenate([
            job.program.lines_with("G", 28, 30),
            [event.line for event in trace.events_of(EventKind.CYCLE)],
            list(trace.calls.calls),
        ]).astype(np.int64)  # fmt: skip
        if len(others):
            single = ~np.isin(line, others)
            row, line = row[single], line[single]
        starts, ends, counted = _places(job, row)
        ways = ends - starts
        with np.errstate(invalid="ignore"):
            moving = ~(np.abs(ways) <= _SAME)
        # an axis that is not named stays where it is, wherever that may be
        nowhere = np.isnan(starts) & np.isnan(ends)
        by_machine = np.isin(line, job.program.lines_with("G", 53))
        moving &= ~nowhere
        for at in np.flatnonzero(by_machine | (counted & nowhere.any(axis=1))).tolist():
            words = job.program[int(line[at])]
            named = np.array([words.has(letter) for letter in "XYZABC"])
            moving[at] = named if by_machine[at] else moving[at] | (named & nowhere[at])
        slantwise = moving[:, 2] & ~np.isnan(ways[:, 2]) & ~by_machine
        slantwise &= np.delete(moving, 2, axis=1).any(axis=1)
        return cls(line, row, ways, moving, slantwise)

    def where(self, keep: Bools) -> Rapids:
        """Some of them."""
        return replace(
            self,
            line=self.line[keep],
            row=self.row[keep],
            ways=self.ways[keep],
            moving=self.moving[keep],
            slantwise=self.slantwise[keep],
        )

    def fastest(self, job: Job, axes: tuple[int, ...]) -> Floats:
        """How fast each can go along some of its axes (r; mm/min), so that none is driven beyond
        its own: along the way where that is known, else as slowly as the slowest axis."""
        rapid = np.array([job.machine.axes[name].rapid for name in "xyz"])
        moving = np.zeros((len(self), 3), bool)
        moving[:, axes] = self.moving[:, axes]
        ways = np.where(moving, np.abs(self.ways[:, :3]), 0.0)
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.where(moving, rapid / ways, np.inf).min(axis=1)
            along: Floats = share * np.sqrt((ways * ways).sum(axis=1))
        slowest = np.where(moving, rapid, np.inf).min(axis=1)
        slowest[np.isinf(slowest)] = rapid.min()
        return np.where(np.isfinite(along), along, slowest)


def _places(job: Job, row: Longs) -> tuple[Floats, Floats, Bools]:
    """Where some moves (r) begin and end (r, 6), and whether they are increments (r)."""
    starts, ends = np.empty((len(row), 6)), np.empty((len(row), 6))
    counted = np.zeros(len(row), bool)
    first = 0
    for block in job.trace.blocks:
        low, high = np.searchsorted(row, (first, first + len(block)))
        at = row[low:high] - first
        first += len(block)
        if not len(at):
            continue
        counted[low:high] = block.setting.incremental
        for axis, column in enumerate(block.ends):
            ends[low:high, axis] = column[at]
            starts[low:high, axis] = column[np.maximum(at - 1, 0)]
            if at[0] == 0:
                starts[low, axis] = block.start[axis]
    return starts, ends, counted
