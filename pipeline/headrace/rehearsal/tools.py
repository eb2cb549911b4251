"""Tool changes: a bit put in by hand ends at another height."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import EventKind, Trace


def tool_findings(job: Job) -> Iterator[Finding]:
    """Behind a change Z must be found anew before the next cut. The first tool may be named behind
    the touch, if it is in already; the operator is told."""
    cuts = np.concatenate([np.zeros(0, np.int64), *_cuts(job.trace)])
    zeros = [
        event.moves
        for event in job.trace.events_of(EventKind.ZERO)
        if isinstance(event.value, tuple) and "Z" in event.value[2]
    ]
    touches = [event.moves for event in job.trace.events_of(EventKind.PROBE)]
    for change in job.trace.events_of(EventKind.TOOL):
        later = cuts[cuts >= change.moves]
        if not len(later) or any(change.moves <= at <= later[0] for at in zeros):
            continue
        place = job.program.place(change.line)
        if len(later) < len(cuts):
            what = f"tool {change.value} would cut with the zero of the tool before it"
            yield Finding.of("tool-without-zero", what, place)
            return
        if any(at <= change.moves for at in touches):
            what = f"tool {change.value} is called for behind the touch"
            yield Finding.of("tool-behind-touch", what, place)


def _cuts(trace: Trace) -> Iterator[npt.NDArray[np.int64]]:
    """The numbers of the cutting moves, block by block."""
    begun = 0
    for block in trace.blocks:
        yield np.flatnonzero(block.cuts) + begun
        begun += len(block)
