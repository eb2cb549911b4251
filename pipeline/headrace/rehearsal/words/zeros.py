"""Work zeros: what the job itself does to the zero that the steps have found."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language import Event, EventKind
from headrace.machine import unknown
from headrace.rehearsal.lengths import mm
from headrace.rehearsal.words.lines import own

_STILL = 1e-6
_MOST = 100
"""So many zeros that stay where they are are looked at."""


def zero_findings(job: Job) -> Iterator[Finding]:
    """Zeros that the job moves, loses or never had."""
    yield from _moved(job)
    yield from _forgotten(job)
    yield from _homed(job)
    yield from _untouched(job)


def _moved(job: Job) -> Iterator[Finding]:
    """The first line of the job that moves a zero which was found before it: by the steps, or,
    where a file is looked at alone, by a line of the file itself. Another bit has no zero in Z."""
    last = job.trace.blocks[-1] if job.trace.blocks else None
    found: set[str] = set()
    systems: set[int] = set()
    stepped = False
    looked_at = 0
    kinds = (EventKind.ZERO, EventKind.PROBE, EventKind.HOME, EventKind.TOOL)
    for event in job.trace.events_of(*kinds):
        if event.kind is EventKind.TOOL:
            found.discard("Z")
            continue
        if event.kind is EventKind.PROBE and isinstance(event.value, dict):
            found.difference_update("XYZABC"[axis] for axis in event.value)
            continue
        if event.kind is EventKind.HOME and isinstance(event.value, tuple):
            found.difference_update(event.value)
            continue
        if not isinstance(event.value, tuple) or event.value[0] == "system":
            continue
        axes = str(event.value[2]) or "XYZ"
        # another system that is set for the first time moves no zero
        other = event.value[0] == "origin" and bool(systems) and event.value[1] not in systems
        systems.update([event.value[1]] if event.value[0] == "origin" else [])
        if not own(job, event):
            stepped = True
        elif not job.stand_alone:
            looked_at += 1
            if looked_at > _MOST or _gone(job, event, axes):
                yield _moves_zero(job, event, axes, stepped)
                return
        elif other or last is None or event.line >= last.base + last.rel[-1]:
            pass
        elif found & set(axes):
            again = "".join(axis for axis in axes if axis in found)
            looked_at += 1
            if looked_at > _MOST or _gone(job, event, again):
                yield _set_twice(job, event, again)
                return
        found.update(axes)


def _gone(job: Job, event: Event, axes: str) -> list[str]:
    """How far a line moves the zero, as text for each axis that it moves, or may move."""
    before, after = job.state_at(event.line), job.state_at(event.line + 1)
    told = []
    for axis in axes:
        at = "XYZABC".index(axis)
        gone = after.offset[at] - before.offset[at]
        if isnan(gone):
            gone = before.position[at] - after.position[at]
        if isnan(gone):
            told.append(f"{axis} by an unknown way")
        elif abs(gone) > _STILL:
            told.append(f"{axis} by {mm(gone)}")
    return told


def _moves_zero(job: Job, event: Event, axes: str, stepped: bool) -> Finding:
    """Of a job that steps prepare."""
    kept = job.machine.work_zero.kept_after_end
    span = "for the files behind it too" if kept else "up to its end"
    if kept is None:
        span = "perhaps for the files behind it too"
    gone = ", ".join(_gone(job, event, axes)) or "again and again"
    what = f"the job itself moves the work zero, {span}: {gone}"
    severity = Severity.REFUSE if stepped else Severity.WARN
    place = job.program.place(event.line)
    return Finding.of("job-moves-zero", what, place, severity=severity)


def _set_twice(job: Job, event: Event, axes: str) -> Finding:
    """Of a file looked at alone."""
    gone = ", ".join(_gone(job, event, axes)) or "again and again"
    what = f"the file sets its zero once more, away from where it was: {gone}"
    remedy = "take out the word that is not meant"
    place = job.program.place(event.line)
    return Finding.of("job-moves-zero", what, place, severity=Severity.WARN, remedy=remedy)


def _forgotten(job: Job) -> Iterator[Finding]:
    """A file looked at alone that sets a zero by G92 and cuts nothing: the zero is for the next."""
    kept = job.machine.work_zero.kept_after_end
    shifts = [
        event
        for event in job.trace.events_of(EventKind.ZERO)
        if isinstance(event.value, tuple) and event.value[:2] == ("shift", 920)
    ]
    if kept or not shifts or not job.stand_alone or not own(job, shifts[-1]):
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
        if not own(job, event):
            continue
        begun = 0
        for block in job.trace.blocks:
            begun += len(block)
            if begun > event.moves and block.cuts.any():
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
