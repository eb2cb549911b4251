"""The numbers by which lines are told in a text."""

from __future__ import annotations

from headrace.job import Job


def line_number(job: Job, line: int) -> int:
    """The number (from 1) of a line of the program (from 0): that in the job, where it has one."""
    origin = job.program[line].origin
    return 1 + (line if origin is None else origin)
