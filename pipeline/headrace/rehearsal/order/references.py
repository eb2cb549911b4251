"""What the numbers count from: where homing has to come first, and where it is not enough."""

from __future__ import annotations

from collections.abc import Iterator

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import EventKind
from headrace.rehearsal.order.course import Course


def reference_findings(job: Job, course: Course) -> Iterator[Finding]:
    """A cut in the machine's numbers, and a move in these before they are found."""
    yield from _cut_without_zero(job, course)
    yield from _before_homing(job)


def _cut_without_zero(job: Job, course: Course) -> Iterator[Finding]:
    """A cut behind homing that has put Z back to the machine's numbers."""
    if not job.dialect.homing_clears_shift:
        return
    zeros = [
        event.moves
        for event in job.trace.events_of(EventKind.ZERO)
        if isinstance(event.value, tuple) and "Z" in event.value[2]
    ]
    for home in job.trace.events_of(EventKind.HOME):
        own = job.program[home.line].origin is not None
        if "Z" not in str(home.value) or (own and not job.stand_alone):
            continue  # `job-loses-zero` tells of that
        cut = course.first_feed(home.moves, len(course))
        if cut is not None and not any(home.moves <= at <= cut for at in zeros):
            what = "a cut behind homing, and nothing has set Z zero on the sheet since"
            yield Finding.of("cut-without-zero", what, course.place(cut))
            return


def _before_homing(job: Job) -> Iterator[Finding]:
    """A move in machine coordinates that comes before the homing of the same file."""
    home = next(job.trace.events_of(EventKind.HOME), None)
    lines = job.program.lines_with("G", 53)
    if home is not None and len(lines) and lines[0] < home.line:
        what = "a move in machine coordinates, and the machine homes only behind it"
        yield Finding.of("not-homed", what, job.program.place(int(lines[0])),
                         remedy="home first")  # fmt: skip
