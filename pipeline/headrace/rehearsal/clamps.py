"""Clamps: boxes on the sheet that the tip's path may not enter.

The path is that of the tip's middle: the bit's radius, the collet nut and the extraction shoe come
on top, and are the operator's to keep clear. So what is found here is certain to collide.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import Block, EventKind
from headrace.language.trace import CCW
from headrace.machine import Clamp

Bools = npt.NDArray[np.bool_]

_NEAR = 1e-6


def clamp_findings(job: Job) -> Iterator[Finding]:
    """The first move through each clamp, behind the last touch and in the sheet's numbers."""
    corner = job.setup.sheet.corner
    touched = max((event.moves for event in job.trace.events_of(EventKind.PROBE)), default=None)
    if corner is None or touched is None:
        return
    for clamp in job.setup.clamps:
        begun = 0
        for block in job.trace.blocks:
            begun += len(block)
            offset = block.setting.offset
            on_sheet = all(abs(offset[axis] - corner[axis]) <= _NEAR for axis in (0, 1))
            if begun <= touched or not on_sheet:
                continue
            rows = np.flatnonzero(_through(block, clamp))
            if len(rows):
                what = (
                    f"the path goes through the clamp `{clamp.name}`, which is {clamp.top:g} high"
                )
                line = int(block.line[rows[0]])
                yield Finding.of("clamp-struck", what, job.program.place(line))
                break


def _through(block: Block, clamp: Clamp) -> Bools:
    """Which moves pass through the box below its top (arcs: by their chord)."""
    starts = [block.starts(axis) for axis in range(3)]
    ends = block.ends
    with np.errstate(invalid="ignore", divide="ignore"):
        near: Bools = (np.fmin(starts[2], ends[2]) < clamp.top) & (block.kind <= CCW)
        for axis in (0, 1):
            near &= np.fmin(starts[axis], ends[axis]) < clamp.high[axis]
            near &= np.fmax(starts[axis], ends[axis]) > clamp.low[axis]
        if not near.any():
            return near
        # the part of the way, from 0 to 1, that lies inside the box along each axis
        enters, leaves = np.zeros(len(block)), np.ones(len(block))
        lows, highs = (*clamp.low, -np.inf), (*clamp.high, clamp.top)
        for axis, (low, high) in enumerate(zip(lows, highs, strict=True)):
            way = ends[axis] - starts[axis]
            first, second = (low - starts[axis]) / way, (high - starts[axis]) / way
            still = way == 0
            inside = (starts[axis] > low) & (starts[axis] < high)
            first = np.where(still, np.where(inside, -np.inf, np.inf), first)
            second = np.where(still, np.where(inside, np.inf, -np.inf), second)
            enters = np.fmax(enters, np.fmin(first, second))
            leaves = np.fmin(leaves, np.fmax(first, second))
        through: Bools = near & (leaves - enters > _NEAR)
    return through
