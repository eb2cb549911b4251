"""Which lines of a program are ever carried out."""

from __future__ import annotations

from headrace import Job


def runs(job: Job, line: int) -> bool:
    """Whether a line stands before the program end, on it, or in a subprogram."""
    return line <= job.landmarks.end or job.trace.calls.defines(line)


def end_of(job: Job) -> int:
    """The line behind the program end: from there on nothing is read."""
    return min(job.landmarks.end + 1, len(job.program))
