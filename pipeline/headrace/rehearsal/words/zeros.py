"""Work zeros: what the job itself does to the zero that the steps have found."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import Event, EventKind
from headrace.machine import unknown


def zero_findings(job: Job) -> Iterator[Finding]:
    """Zeros that the job moves, loses or never had."""
    yield from _moved(job)
    yield from _forgotten(job)
    yield from _homed(job)
    yield from _untouched(job)


def _own(job: Job, event: Event) -> bool:
    return job.program[event.line].origin is not None


def _moved(job: Job) -> Iterator[Finding]:
    """The job shifts the numbers or states an origin itself, and steps have done so before it."""
    if job.stand_alone:
        return
    for event in job.trace.events_of(EventKind.ZERO):
        moved = isinstance(event.value, tuple) and event.value[0] != "system"
        if moved and _own(job, event):
            place = job.program.place(event.line)
            kept = job.machine.work_zero.kept_after_end
            span = "for the files behind it too" if kept else "up to its end"
            if kept is None:
                span = "perhaps for the files behind it too"
            what = f"the job itself moves the work zero, {span}"
            yield Finding.of("job-moves-zero", what, place)
            return


def _forgotten(job: Job) -> Iterator[Finding]:
    """A file looked at alone that sets a zero by G92 and cuts nothing: the zero is for the next."""
    kept = job.machine.work_zero.kept_after_end
    shifts = [
        event
        for event in job.trace.events_of(EventKind.ZERO)
        if isinstance(event.value, tuple) and event.value[:2] == ("shift", 920)
    ]
    if kept or not shifts or not job.stand_alone or not _own(job, shifts[-1]):
        return
    if any(block.cuts.any() for block in job.trace.blocks):
        return
    place = job.program.place(shifts[-1].line)
    if kept is None:
        question = "whether the next file starts from this zero"
        yield unknown("machine.work-zero.kept-after-end", question, place)
    else:
        what = "this machine forgets the zero at the end of the file, and nothing is cut before"
        remedy = "set the zero in the file that cuts"
        yield Finding.of("zero-not-kept", what, place, remedy=remedy)


def _homed(job: Job) -> Iterator[Finding]:
    """The job runs the homing switches, which takes the zero away, and then goes on cutting."""
    if not job.dialect.homing_clears_shift:
        return
    for event in job.trace.events_of(EventKind.HOME):
        begun = 0
        for block in job.trace.blocks:
            begun += len(block)
            if begun > event.moves and _own(job, event) and block.cuts.any():
                if job.stand_alone and _set_again(job, event, begun):
                    break
                place = job.program.place(event.line)
                what = "the job homes the machine, which takes its zero away, and cuts after that"
                mend = "set the zero behind the homing, before the first cut"
                remedy = mend if job.stand_alone else None
                yield Finding.of("job-loses-zero", what, place, remedy=remedy)
                return


def _set_again(job: Job, home: Event, moves: int) -> bool:
    """Whether a zero is set behind the homing and before so many moves are made."""
    return any(
        home.line < event.line and event.moves < moves
        for event in job.trace.events_of(EventKind.ZERO)
        if isinstance(event.value, tuple) and event.value[0] != "system"
    )


def _untouched(job: Job) -> Iterator[Finding]:
    """Where the steps have set a zero, every cut of the job must be in a system that has one; where
    nothing has, another system than the first is hardly ever the one that the operator sets."""
    known = False
    unset = None
    for block in job.trace.blocks:
        setting = block.setting
        unknown_here = any(isnan(setting.offset[axis]) for axis in (0, 1))
        known = known or not unknown_here
        if not unknown_here or not (known or setting.system > 1) or not block.cuts.any():
            continue
        place = job.program.place(int(block.line[0]))
        if known:
            what = f"work offset system {setting.system} is cut in, and nothing has set it"
            yield Finding.of("zero-unknown", what, place)
            return
        if len(job.machine.work_zero.systems) >= setting.system:
            unset = unset or (setting.system, place)
    if unset is not None:
        what = f"work offset system {unset[0]} is cut in, and this file does not set it"
        yield Finding.of("system-unset", what, unset[1])
