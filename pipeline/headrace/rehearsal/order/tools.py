"""Tool changes: a bit put in by hand ends at another height."""

from __future__ import annotations

from collections.abc import Iterator

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import Event, EventKind
from headrace.machine import unknown
from headrace.rehearsal.order.course import Course
from headrace.rehearsal.order.heads import head_findings


def tool_findings(job: Job, course: Course) -> Iterator[Finding]:
    """What a job calls for and the set-up does not describe, and what a change leaves undone."""
    yield from _undescribed(job)
    yield from _unfinished(job, course)
    if job.machine.heads:
        yield from head_findings(job)


def _undescribed(job: Job) -> Iterator[Finding]:
    """The first bit that a job calls for and a table lacks; without a table, a second bit."""
    known = {tool.number for tool in (*job.setup.tools, job.setup.tool)}
    for change in job.trace.events_of(EventKind.TOOL):
        if change.value is None or change.value in known:
            continue
        place = job.program.place(change.line)
        if job.setup.tools:
            what = f"the job calls for tool {change.value}, and the set-up does not describe it"
            yield Finding.of("tool-not-in-table", what, place)
            return
        if job.setup.tool.number is not None:
            question = f"whether tool {change.value} is long enough, nor how low its collet comes"
            yield unknown("setup.tools", question, place)
            return


def _unfinished(job: Job, course: Course) -> Iterator[Finding]:
    """Behind a change Z must be found anew before the next cut, and somebody must have had the time
    to make it. The first tool may be named behind the touch, if it is in already; the operator is
    told."""
    zeros = [event.moves for event in job.trace.zeros("Z")]
    stops = {event.moves for event in job.trace.events_of(EventKind.STOP)}
    if 1 in job.dialect.stops:
        stops |= {event.moves for event in job.trace.events_of(EventKind.OPTIONAL_STOP)}
    touches = [event.moves for event in job.trace.events_of(EventKind.PROBE)]
    first = course.first_feed(0, len(course))
    tool_in: object = job.trace.tool
    for change in job.trace.events_of(EventKind.TOOL):
        was, tool_in = tool_in, change.value
        cut = course.first_feed(change.moves, len(course))
        if cut is None or not _by_hand(job, change):
            continue
        place = job.program.place(change.line)
        tool = "a tool without a number" if change.value is None else f"tool {change.value}"
        later = first is not None and first < change.moves
        if later and was is not None and was == tool_in:
            continue  # it is in already
        if any(change.moves <= at <= cut for at in zeros):
            if later and _unattended(job) and change.moves not in stops:
                what = f"nothing waits while {tool} is put in"
                yield Finding.of("change-without-stop", what, place)
                return
        elif later:
            what = f"{tool} would cut with the zero of the tool before it"
            yield Finding.of("tool-without-zero", what, place)
            return
        elif any(at <= change.moves for at in touches):
            what = f"{tool} is called for behind the touch"
            yield Finding.of("tool-behind-touch", what, place)


def _by_hand(job: Job, change: Event) -> bool:
    """Whether a bit is put in; not where an output lowers another head."""
    line = job.program[change.line]
    return not job.machine.heads or line.asks is not None or line.has("M", 6)


def _unattended(job: Job) -> bool:
    """Whether a hand changes tools, and the word for it is not the one that waits."""
    return job.machine.tool_change == "by-hand" and job.machine.pause.word not in ("M6", "M06")
