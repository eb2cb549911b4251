"""Work zeros: what the job itself does to the zero that the steps have found."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import Event, EventKind


def zero_findings(job: Job) -> Iterator[Finding]:
    """Zeros that the job moves, loses or never had."""
    yield from _moved(job)
    yield from _homed(job)
    yield from _untouched(job)


def _own(job: Job, event: Event) -> bool:
    return job.program[event.line].origin is not None


def _moved(job: Job) -> Iterator[Finding]:
    """The job shifts the numbers or states an origin itself."""
    for event in job.trace.events_of(EventKind.ZERO):
        moved = isinstance(event.value, tuple) and event.value[0] != "system"
        if moved and _own(job, event):
            place = job.program.place(event.line)
            yield Finding.of("job-moves-zero", "the job itself moves the work zero", place)
            return


def _homed(job: Job) -> Iterator[Finding]:
    """The job runs the homing switches, which takes the zero away, and then goes on cutting."""
    if not job.dialect.homing_clears_shift:
        return
    for event in job.trace.events_of(EventKind.HOME):
        begun = 0
        for block in job.trace.blocks:
            begun += len(block)
            if begun > event.moves and _own(job, event) and block.cuts.any():
                place = job.program.place(event.line)
                what = "the job homes the machine, which takes its zero away, and cuts after that"
                yield Finding.of("job-loses-zero", what, place)
                return


def _untouched(job: Job) -> Iterator[Finding]:
    """Where the steps have set a zero, every cut of the job must be in a system that has one."""
    known = False
    for block in job.trace.blocks:
        unknown = any(isnan(block.setting.offset[axis]) for axis in (0, 1))
        known = known or not unknown
        if known and unknown and block.cuts.any():
            line = int(block.line[0])
            what = f"work offset system {block.setting.system} is cut in, and nothing has set it"
            yield Finding.of("zero-unknown", what, job.program.place(line))
            return
