"""Rapids on a machine whose G0 goes at F, as its other moves do."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from headrace.findings import Finding
from headrace.job import Job
from headrace.language.trace import CCW, LINE, RAPID

_Bools = npt.NDArray[np.bool_]
_Longs = npt.NDArray[np.int64]


def rapid_findings(job: Job) -> Iterator[Finding]:
    """The first rapid at the feed of the cut before it, or without any feed, and how many there
    are."""
    if job.machine.rapid_feed != "word":
        return
    trace = job.trace
    row = np.flatnonzero(trace.kind == RAPID)
    row = row[~np.isin(trace.line[row], job.program.lines_with("G", 28, 30))]
    feed = trace.feed[row]
    slow = np.isnan(feed) | _at_feed_of_cut(job, row)
    if slow.any():
        first = int(np.argmax(slow))
        count = int(slow.sum())
        what = f"this rapid goes at F{feed[first]:g}, the feed of the cut before it"
        if np.isnan(feed[first]):
            what = "this rapid goes at F, and none is stated before it"
        if count > 1:
            what += f"; so do {count - 1} more" if count > 2 else "; so does one more"
        yield Finding.of("rapid-at-feed", what, job.program.place(int(trace.line[row[first]])))


def _at_feed_of_cut(job: Job, row: _Longs) -> _Bools:
    """Which rapids (n) come behind a cut, with its feed and no other F stated in between."""
    trace = job.trace
    cuts = np.flatnonzero((trace.kind >= LINE) & (trace.kind <= CCW))
    if not len(cuts):
        return np.zeros(len(row), np.bool_)
    at = np.searchsorted(cuts, row) - 1
    last = cuts[np.maximum(at, 0)]
    stated = np.append(-1, job.program.lines_with("F"))
    since = stated[np.searchsorted(stated, trace.line[row], "right") - 1] > trace.line[last]
    same: _Bools = (at >= 0) & ~since & (trace.feed[row] == trace.feed[last])
    return same
