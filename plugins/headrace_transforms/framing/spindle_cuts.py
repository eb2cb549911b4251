"""Which feed moves of a job need a turning spindle."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from headrace import Job

_FEED = 1
_PLANE_XY = 17


def first_own_move(job: Job) -> int | None:
    """The line of the first move of the job's own."""
    for block in job.trace.blocks:
        own = np.flatnonzero(job.program.own(block.line))
        if len(own):
            return int(block.line[own[0]])
    return None


def cutting_lines(job: Job) -> npt.NDArray[np.int32]:
    """The lines of the job's own feed moves that may cut, ascending; once for each move.

    A move is taken for harmless only where it is known to stay above Z zero, the top of the
    sheet, or to go straight up.
    """
    found = [np.zeros(0, np.int32)]
    for block in job.trace.blocks:
        feeds = block.cuts
        feeds &= job.program.own(block.line)
        begins, ends = block.starts(2), block.ends[2]
        with np.errstate(invalid="ignore"):
            above = (begins > 0) & (ends > 0)
            up = (block.kind == _FEED) & (ends > begins)
            for axis in (0, 1):
                begun, ended = block.starts(axis), block.ends[axis]
                up &= (begun == ended) | (np.isnan(begun) & np.isnan(ended))
        if block.setting.plane != _PLANE_XY:
            above &= block.kind == _FEED
        found.append(block.line[feeds & ~above & ~up])
    return np.concatenate(found)
