"""Lines that a switch at the panel may leave out: those that begin with a slash."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from headrace import Job

Longs = npt.NDArray[np.int64]


def undecided(job: Job) -> Longs:
    """The lines of which nothing says whether they run, ascending."""
    settled = job.dialect.optional_settled
    return np.zeros(0, np.int64) if settled else job.program.lines_optional()


def left_out(job: Job) -> Longs:
    """The lines that do not run, ascending."""
    return job.program.lines_optional() if job.dialect.block_delete else np.zeros(0, np.int64)
