"""Numbers without a decimal point that were meant as counts of a smallest step."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from headrace.findings import Finding
from headrace.job import Job

_POINTED = re.compile(rb"[XYZxyz][ \t]*[-+]?\d*\.")
_BEGINNING = 1 << 16
_STEPS = {"mm": 1000.0, "inch": 10_000.0}
"""How many of the usual smallest steps are in one unit: common practice."""


def point_findings(job: Job) -> Iterator[Finding]:
    """A job without any point in X, Y and Z that is larger than the machine, and fits it when its
    numbers count smallest steps."""
    if _pointed(job, _BEGINNING):
        return
    sizes = _sizes(job)
    travels = [job.machine.axes[name].travel for name in "xyz"]
    units = job.trace.end.units or "mm"
    too_large = any(size > travel for size, travel in zip(sizes, travels, strict=True))
    fits = all(size / _STEPS[units] <= t for size, t in zip(sizes, travels, strict=True))
    if not too_large or not fits or _pointed(job, None):
        return
    text = " by ".join(f"{size:g}" for size in sizes)
    step = 1 / _STEPS[units]
    what = (
        f"no X, Y or Z has a decimal point, and the job is {text} mm large; in steps of"
        f" {step:g} {units} it would fit the machine"
    )
    yield Finding.of("increments-likely", what, job.program.place(_first(job)))


def _first(job: Job) -> int:
    """The line of the job's own first move."""
    lines = job.trace.line
    return int(lines[np.argmax(job.program.own(lines))])


def _pointed(job: Job, most: int | None) -> bool:
    """Whether a number in the job's own lines has a point, in so many bytes from the beginning of
    each run of lines."""
    return any(
        _POINTED.search(piece.data[:most])
        for first, piece in job.program.numbered_pieces()
        if job.program[first].origin is not None
    )


def _sizes(job: Job) -> list[float]:
    """How far apart the job's own moves end along X Y Z (mm), where the numbers count from one and
    the same place; 0 where nothing is known."""
    trace = job.trace
    own = job.program.own(trace.line)
    lengths = [len(block) for block in trace.blocks]
    sizes = []
    for axis in range(3):
        offsets = np.array([block.setting.offset[axis] for block in trace.blocks])
        places, which = np.unique(offsets, return_inverse=True)
        ends = trace.ends(axis)
        known = own & np.isfinite(ends)
        low, high = np.full(len(places), np.inf), np.full(len(places), -np.inf)
        if len(places) == 1:
            low[0] = np.min(ends, where=known, initial=np.inf)
            high[0] = np.max(ends, where=known, initial=-np.inf)
        else:
            which = np.repeat(which, lengths)[known]
            np.minimum.at(low, which, ends[known])
            np.maximum.at(high, which, ends[known])
        sizes.append(float(np.max(high - low, initial=0.0)))
    return sizes
