"""Order: what happens in which order, and how things stand meanwhile."""

from __future__ import annotations

from collections.abc import Iterator

from headrace.findings import Finding
from headrace.job import Job
from headrace.rehearsal.order.course import Course
from headrace.rehearsal.order.homing import homing_findings
from headrace.rehearsal.order.lifting import lifting_findings
from headrace.rehearsal.order.pauses import pause_findings
from headrace.rehearsal.order.probing import probe_findings
from headrace.rehearsal.order.references import reference_findings
from headrace.rehearsal.order.speeds import speed_findings
from headrace.rehearsal.order.tools import tool_findings
from headrace.rehearsal.order.walk import walk_findings


def order_findings(job: Job) -> Iterator[Finding]:
    """What comes in a wrong order."""
    course = Course(job)
    yield from homing_findings(job)
    yield from speed_findings(job)
    yield from walk_findings(job, course)
    yield from probe_findings(job, course)
    yield from lifting_findings(job, course)
    yield from pause_findings(job)
    yield from tool_findings(job, course)
    yield from reference_findings(job, course)
