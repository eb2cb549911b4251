"""Distances for places: where G91 seems to be in force by mistake."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language import Trace
from headrace.language.trace import CCW, HOME, LINE, RAPID
from headrace.rehearsal.words.modes import end_of

_MOST = 200
"""So many stretches in G91 are looked at."""

_Box = tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]


def distance_findings(job: Job) -> Iterator[Finding]:
    """The first stretch in G91 that seems to hold places: one that lasts to the end, with cuts in
    it and in G90 before it; or a lift, and then a way sideways that leaves the work. Or one that
    merely lasts to the end."""
    for begun, stop in _stretches(job):
        found = _lifted(job, begun, end_of(job) if stop is None else stop)
        if stop is None:
            found = _unended(job, begun) or found or _left_on(job, begun)
        if found is not None:
            yield found
            return


def _stretches(job: Job) -> Iterator[tuple[int, int | None]]:
    """Lines with a G91, and the next with a G90; None where none comes before the end."""
    lines, codes = job.program.codes()
    on = lines[(codes == 91) & (lines < end_of(job))]
    off = lines[(codes == 90) & (lines < end_of(job))]
    at = np.searchsorted(off, on, "right")
    # of several G91 in a row the first begins the stretch
    firsts = np.flatnonzero(np.diff(at, prepend=-1))[:_MOST]
    for first in firsts:
        stop = int(off[at[first]]) if at[first] < len(off) else None
        yield int(on[first]), stop


def _cutting(trace: Trace) -> npt.NDArray[np.bool_]:
    cutting: npt.NDArray[np.bool_] = (trace.kind >= LINE) & (trace.kind <= CCW)
    return cutting


def _unended(job: Job, begun: int) -> Finding | None:
    """Cuts before the G91 that is never undone, and cuts behind it."""
    own = job.trace.line[_cutting(job.trace)]
    split = int(np.searchsorted(own, begun))
    if split in (0, len(own)):
        return None
    what = f"behind this G91 no G90 comes, and {len(own) - split} of {len(own)} cuts follow"
    return Finding.of("incremental-left-on", what, job.program.place(begun))


def _left_on(job: Job, begun: int) -> Finding:
    what = "G91 is still in force at the end"
    return Finding.of("mode-left-on", what, job.program.place(begun))


def _lifted(job: Job, begun: int, stop: int) -> Finding | None:
    """A lift in G91, and then a rapid sideways whose numbers make sense as a place only."""
    trace = job.trace
    first, last = (int(row) for row in np.searchsorted(trace.line, (begun, stop)))
    cuts = np.flatnonzero(_cutting(trace)[:first])
    if last - first < 2 or not len(cuts):
        return None
    kinds = trace.kind[first : first + 2]
    starts, ends = (
        np.array([of(axis)[first : first + 2] for axis in range(3)])
        for of in (trace.starts, trace.ends)
    )
    way = ends - starts
    lifts = kinds[0] == HOME or (kinds[0] == RAPID and way[2, 0] > 0 and not way[:2, 0].any())
    if not (lifts and kinds[1] == RAPID and way[:2, 1].any()):
        return None
    reached = np.array([trace.ends(axis)[cuts] for axis in (0, 1)])
    low, high = reached.min(axis=1), reached.max(axis=1)
    place = np.where(way[:2, 1] == 0, ends[:2, 1], way[:2, 1])
    if _inside((low, high), ends[:2, 1]) or not _inside((low, high), place):
        return None
    line = int(trace.line[first + 1])
    numbers = " ".join(f"{name}{value:g}" for name, value in zip("XY", ends[:2, 1], strict=True))
    what = f"G91 is still in force from the lift before: this goes on to {numbers}, off the work"
    return Finding.of(
        "incremental-left-on",
        what,
        job.program.place(line),
        remedy="write G90 behind the lift, if this is a place",
        severity=Severity.WARN,
    )


def _inside(box: _Box, point: npt.NDArray[np.float64]) -> bool:
    return bool(((point >= box[0]) & (point <= box[1])).all())
