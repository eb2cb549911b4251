"""Moves behind a G53 that seem to go on in machine coordinates."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from headrace.findings import Finding
from headrace.job import Job

_MOST = 50
"""So many lines with G53 are looked at."""

_FAR = 50.0
"""A place this far (mm) outside all others is hardly one of the work."""


def machine_move_findings(job: Job) -> Iterator[Finding]:
    """The first move behind a G53 that lies far from all the job's places in X or Y, and inside
    the machine's travel: numbers of the machine, as it seems, without the word for them."""
    lines, codes = job.program.codes()
    spelt = np.unique(lines[codes == 53])
    named = spelt[job.program.own(spelt)]
    rows = np.searchsorted(job.trace.line, named, "right") if len(named) else named
    for row in rows[rows < len(job.trace)][:_MOST].tolist():
        line = int(job.trace.line[row])
        if line in spelt:
            continue
        for axis in (0, 1):
            number = job.program[line].get("XY"[axis])
            if number is not None and _foreign(job, axis, row, named):
                what = f"{'XY'[axis]}{number} lies far from the work, behind a line with G53"
                yield Finding.of("machine-move-not-lasting", what, job.program.place(line))
                return


def _foreign(job: Job, axis: int, row: int, named: npt.NDArray[np.int64]) -> bool:
    """Whether the place of a move lies far outside those of the job's others, and in the travel."""
    span = job.machine.axes["xy"[axis]]
    ends = job.trace.ends(axis)
    here = float(ends[row])
    others = np.isfinite(ends) & (job.trace.line != job.trace.line[row])
    others &= job.program.own(job.trace.line) & ~np.isin(job.trace.line, named)
    if not span.low <= here <= span.high or not others.any():
        return False
    low, high = float(ends[others].min()), float(ends[others].max())
    far = max(_FAR, high - low)
    return not low - far <= here <= high + far
