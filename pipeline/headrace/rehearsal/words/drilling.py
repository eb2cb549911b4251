"""Drilling cycles that go on where no hole is meant."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language.modal import CYCLES
from headrace.rehearsal.lengths import NEAR
from headrace.rehearsal.words.modes import end_of

_MOST = 1000
"""So many stretches under a cycle are looked at."""


def drilling_findings(job: Job) -> Iterator[Finding]:
    """The first hole that is none: behind a stop of the spindle or a tool change, or at X0 Y0,
    where the head is sent when the work is done. Or a cycle that nothing cancels."""
    for begun, stop, cancelled in _stretches(job):
        found = _switched(job, begun, stop) or _at_zero(job, begun, stop, cancelled)
        if found is None and not cancelled:
            what = "a drilling cycle is still in force at the end"
            found = Finding.of("mode-left-on", what, job.program.place(begun))
        if found is not None:
            yield found
            return


def _stretches(job: Job) -> Iterator[tuple[int, int, bool]]:
    """The lines from the first of a cycle up to the next that ends it, or to the program's end;
    and whether one ends it."""
    lines, codes = job.program.codes()
    end = end_of(job)
    drills = lines[np.isin(codes, [code / 10 for code in CYCLES]) & (lines < end)]
    if not len(drills):
        return
    other = np.union1d(lines[np.isin(codes, (38.2, 80))], job.program.lines_with("G", 0, 1, 2, 3))
    at = np.searchsorted(other, drills, "right")
    for first in np.flatnonzero(np.diff(at, prepend=-1))[:_MOST]:
        cancelled = at[first] < len(other) and other[at[first]] <= end
        yield int(drills[first]), int(other[at[first]]) if cancelled else end, bool(cancelled)


def _holes(job: Job, begun: int, stop: int) -> tuple[npt.NDArray[np.int32], npt.NDArray[np.int64]]:
    """The lines with holes (k), and the last row of each among all moves (k)."""
    trace = job.trace
    low, high = np.searchsorted(trace.line, (begun, stop))
    lines = trace.line[low:high]
    lasts = np.flatnonzero(np.diff(lines, append=-1))
    return lines[lasts], lasts + low


def _switched(job: Job, begun: int, stop: int) -> Finding | None:
    """A hole behind M5 or a tool change, without a cycle stated anew."""
    switches = job.program.lines_with("M", 5, 6)
    switches = switches[(switches > begun) & (switches < stop)]
    if not len(switches):
        return None
    lines, codes = job.program.codes()
    restated = lines[np.isin(codes, [code / 10 for code in CYCLES]) & (lines > switches[0])]
    until = min(stop, int(restated[0])) if len(restated) else stop
    holes, _ = _holes(job, int(switches[0]), until)
    if not len(holes):
        return None
    text = job.program[int(switches[0])].text.strip()
    what = f"the cycle is still in force behind `{text}`, and this line drills"
    return Finding.of("cycle-left-on", what, job.program.place(int(holes[0])))


def _at_zero(job: Job, begun: int, stop: int, cancelled: bool) -> Finding | None:
    """The last hole lies at X0 Y0, and the others do not."""
    holes, rows = _holes(job, begun, stop)
    if len(holes) < 2:
        return None
    places = np.array([job.trace.ends(axis)[rows] for axis in (0, 1)])
    at_zero = (np.abs(places) < NEAR).all(axis=0)
    if not at_zero[-1] or at_zero[:-1].any():
        return None
    after = "" if cancelled else ", and no G80 comes before the end"
    what = f"the last hole of this cycle is drilled at X0 Y0{after}"
    severity = Severity.WARN if cancelled else Severity.REFUSE
    return Finding.of("cycle-left-on", what, job.program.place(int(holes[-1])), severity=severity)
