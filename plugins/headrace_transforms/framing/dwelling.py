"""Dwells, in what the P of a job counts."""

from __future__ import annotations

from math import ceil

from headrace import Job, number_text


def dwell_lines(job: Job, seconds: float) -> tuple[str, ...]:
    """A dwell of at least `seconds` (s); no line where there is nothing to wait for."""
    if seconds <= 0:
        return ()
    milliseconds = ceil(seconds * 1000 - 1e-6)
    return (f"G4 P{number_text(milliseconds * 0.001 / job.dialect.dwell_unit, 3)}",)
