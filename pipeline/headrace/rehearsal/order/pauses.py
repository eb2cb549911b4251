"""Pauses that may not wait at all."""

from __future__ import annotations

from collections.abc import Iterator

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import EventKind


def pause_findings(job: Job) -> Iterator[Finding]:
    """The first M1, where the file's own lines (or the added ones) have no pause that always
    waits."""
    if 1 in job.dialect.stops:
        return
    waits = {job.program[stop.line].origin is None for stop in job.trace.events_of(EventKind.STOP)}
    for stop in job.trace.events_of(EventKind.OPTIONAL_STOP):
        if (job.program[stop.line].origin is None) not in waits:
            word = job.machine.pause.word
            remedy = f"write {word} where somebody has to do something"
            place = job.program.place(stop.line)
            yield Finding.of("pause-optional", "M1 is the only pause here", place, remedy=remedy)
            return
