"""Lifting comes before anything sideways: at the beginning, and on the way to where the head
parks."""

from __future__ import annotations

from collections.abc import Iterator

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.rehearsal.lengths import mm
from headrace.rehearsal.order.course import Course


def lifting_findings(job: Job, course: Course) -> Iterator[Finding]:
    """The first move sideways at a height that nothing tells, and a rapid that leaves the last cut
    sideways."""
    early = course.first_at_unknown_height()
    if early is not None:
        what = "the head goes sideways before any line says how high it is"
        yield Finding.of("sideways-unlifted", what, course.place(early), remedy=_lift(job))
    last = course.last_cut()
    low = None if last is None else course.first_low_rapid(last + 1, len(course))
    if low is not None:
        depth = course.depth(low)
        far = "" if depth is None else f" {mm(depth)} mm"
        what = f"behind the last cut a rapid goes sideways with the tip{far} in the sheet"
        yield Finding.of("sideways-unlifted", what, course.place(low), remedy=_lift(job),
                         severity=Severity.REFUSE)  # fmt: skip


def _lift(job: Job) -> str:
    height = job.setup.safe_height
    if height is None:
        return "lift before it: Z alone, on a line of its own"
    return f"lift before it, on a line of its own: G0 Z{mm(height)}"
