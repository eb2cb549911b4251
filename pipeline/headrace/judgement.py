"""The last word on a prepared job: what there is to tell of it, and whether it may be written."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from headrace.findings import Finding, Place
from headrace.job import Job
from headrace.language import EventKind, Trace
from headrace.language.suitability import LIMITS, WHOLE, limits
from headrace.language.trace import CCW, LINE
from headrace.program import Program


def judge(source: Sequence[Finding], job: Job) -> Iterator[Finding]:
    """What there is to say in the end: of the source as a whole, and of every line as it is now."""
    of_lines = {finding.name for finding in job.trace.findings}
    lengths = {finding.name for finding in limits(job.program)}
    for finding in source:
        lasting = finding.name not in LIMITS or finding.name in lengths
        if finding.name in WHOLE and lasting and finding.name not in of_lines:
            yield finding
    yield from (_as_read(finding, job.program) for finding in job.trace.findings)
    if not job.stand_alone:
        yield from _unit(job)
    yield from _tool_changes(job)


def _as_read(finding: Finding, program: Program) -> Finding:
    """A finding on a line of the job's own, at the number that the line has in the job."""
    place = finding.place
    if place is None or (origin := program[place.line - 1].origin) is None:
        return finding
    return replace(finding, place=replace(place, line=origin + 1))


def _unit(job: Job) -> Iterator[Finding]:
    """A unit that was only assumed must be the one in which the machine powers up, or be stated."""
    if job.start.units == job.machine.power_up_units:
        return
    for block in job.trace.blocks:
        own = block.line[job.program.ids(block.line) < job.program.job_lines]
        if len(own):
            stated = job.trace.events_of(EventKind.UNITS)
            if not any(event.line <= own[0] for event in stated):
                what = f"the job is assumed to be in {job.start.units}, and no line says so"
                remedy = "add the step `safe-start`: it states the unit"
                yield Finding.of("units-not-stated", what, remedy=remedy)
            return


def _tool_changes(job: Job) -> Iterator[Finding]:
    """A bit put in by hand ends at another height: behind a change Z must be found anew before the
    next cut."""
    cuts = np.concatenate([np.zeros(0, np.int64), *_cuts(job.trace)])
    zeros = [
        event.moves
        for event in job.trace.events_of(EventKind.ZERO)
        if isinstance(event.value, tuple) and "Z" in event.value[2]
    ]
    for change in job.trace.events_of(EventKind.TOOL):
        later = cuts[cuts >= change.moves]
        first = len(cuts) == len(later)
        if first or not len(later) or any(change.moves <= at <= later[0] for at in zeros):
            continue
        text = job.program[change.line].text
        place = Place(job.program.name, change.line + 1, 1, max(1, len(text)), text)
        what = f"tool {change.value} would cut with the zero of the tool before it"
        yield _as_read(Finding.of("tool-without-zero", what, place), job.program)
        return


def _cuts(trace: Trace) -> Iterator[npt.NDArray[np.int64]]:
    """The numbers of the cutting moves, block by block."""
    begun = 0
    for block in trace.blocks:
        yield np.flatnonzero((block.kind >= LINE) & (block.kind <= CCW)) + begun
        begun += len(block)
