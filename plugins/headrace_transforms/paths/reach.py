"""Which lines of a program are ever carried out."""

from __future__ import annotations

from headrace import Job


def runs(job: Job, line: int) -> bool:
    """Whether a line stands before the program end, on it, or in a subprogram."""
    return line <= job.landmarks.end or job.trace.calls.defines(line)
