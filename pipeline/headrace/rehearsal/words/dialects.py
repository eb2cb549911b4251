"""Words that the job has in another sense than the machine."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import Dialect, EventKind
from headrace.language.dialect import DWELLS
from headrace.language.modal import PLANES
from headrace.rehearsal.lengths import NEAR
from headrace.rehearsal.words.lines import slashed
from headrace.rehearsal.words.modes import end_of

_UNITS = {unit: name for name, unit in DWELLS.items()}


def dialect_findings(job: Job) -> Iterator[Finding]:
    """Of each thing that is said otherwise than the machine reads it, the first line. What the job
    does not use at all does no harm."""
    machine = Dialect.of(job.machine)
    if job.dialect.dwell_unit != machine.dwell_unit:
        yield from _dwells(job, machine)
    if job.dialect.speeds != machine.speeds:
        yield from _speeds(job)
    if job.dialect.absolute_centres != machine.absolute_centres:
        yield from _centres(job, machine)
    if job.dialect.projected_feed != machine.projected_feed:
        yield from _helices(job, machine)
    if job.dialect.block_delete != machine.block_delete:
        yield from _optional(job, machine)


def _dwells(job: Job, machine: Dialect) -> Iterator[Finding]:
    for event in job.trace.events_of(EventKind.DWELL):
        if event.value:
            meant, read = (_UNITS[d.dwell_unit] for d in (job.dialect, machine))
            what = f"this dwell counts {meant}, and the machine counts {read}"
            yield _left(job, event.line, what, "dwell-unit")
            return


def _speeds(job: Job) -> Iterator[Finding]:
    lines = job.program.lines_with("S")
    lines = lines[lines <= end_of(job)]
    if len(lines):
        what = "this S is a speed in rev/min, and the machine counts S by numbers of its own"
        yield _left(job, int(lines[0]), what, "spindle-scale")


def _centres(job: Job, machine: Dialect) -> Iterator[Finding]:
    """The first arc with a centre, unless a word before it says how centres count."""
    line = _first_centre(job)
    if line is None:
        return
    lines, codes = job.program.codes()
    if not (np.isin(codes, (90.1, 91.1)) & (lines <= line)).any():
        ways = ("count from where the arc begins", "are places")
        meant, read = (ways[d.absolute_centres] for d in (job.dialect, machine))
        what = f"the centres of this job {meant}, and on this machine they {read}"
        yield _left(job, line, what, "absolute")


def _first_centre(job: Job) -> int | None:
    """The line of the first arc whose centre is said."""
    by_radius = job.program.lines_with("R")
    for block in job.trace.blocks:
        if block.arcs is not None:
            lines = block.line[block.arcs.rows]
            lines = lines[~np.isin(lines, by_radius)]
            if len(lines):
                return int(lines[0])
    return None


def _helices(job: Job, machine: Dialect) -> Iterator[Finding]:
    """The first arc that leaves its plane, where F counts along its way."""
    for block in job.trace.blocks:
        if block.arcs is None or block.setting.inverse_time:
            continue
        climbs = rises(block.starts(across := PLANES[block.setting.plane][2]), block.ends[across])
        rows = block.arcs.rows[climbs[block.arcs.rows]]
        if len(rows):
            ways = ("along its whole way", "along what is seen of it in its plane")
            meant, read = (ways[d.projected_feed] for d in (job.dialect, machine))
            what = f"F counts {meant} on this helix, and on this machine {read}"
            yield _left(job, int(block.line[rows[0]]), what, "arcs-to-lines")
            return


def rises(starts: npt.NDArray[np.float64], ends: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
    """Which moves (n) leave their height; not those of which it is unknown."""
    climbs: npt.NDArray[np.bool_] = np.abs(ends - starts) > NEAR
    return climbs


def _optional(job: Job, machine: Dialect) -> Iterator[Finding]:
    lines = list(slashed(job.program, end_of(job)))
    if lines:
        ways = ("run", "are left out")
        meant, read = (ways[d.block_delete] for d in (job.dialect, machine))
        what = f"lines with a slash {meant} in this job, and on this machine they {read}"
        yield _left(job, lines[0], what, "optional-lines")


def _left(job: Job, line: int, what: str, step: str) -> Finding:
    return adaptable(job, "dialect-left", line, what, step)


def adaptable(job: Job, name: str, line: int, what: str, step: str) -> Finding:
    """A finding that `adapt`, or one step that it takes, sees to."""
    remedy = f"add the step `adapt`, or `{step}`"
    return Finding.of(name, what, job.program.place(line), remedy=remedy)
