"""Lines of a prepared job: where a finding stands, how long they are, what unit they state."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import Event, EventKind
from headrace.program import Program
from headrace.program.text import BOM


def as_read(finding: Finding, program: Program) -> Finding:
    """A finding on a line of the job's own, at the number that the line has in the job."""
    place = finding.place
    if place is None or place.file != program.name or not 0 < place.line <= len(program):
        return finding
    origin = program[place.line - 1].origin
    return finding if origin is None else replace(finding, place=replace(place, line=origin + 1))


def own(job: Job, event: Event) -> bool:
    """Whether something happens on a line that came with the job."""
    return job.program[event.line].origin is not None


def length_findings(job: Job) -> Iterator[Finding]:
    """The first line that is longer than the machine reads: a number might be cut off."""
    most = job.machine.line_length
    for first, piece in job.program.numbered_pieces():
        lengths = np.diff(piece.text.starts[piece.start : piece.stop + 1])
        for at in np.flatnonzero(lengths > most):
            line = first + int(at)
            length = len(job.program[line].raw.rstrip(b"\r\n"))
            if length > most:
                what = f"a line of {length} characters, and the machine reads {most}"
                yield Finding.of("line-over-length", what, job.program.place(line))
                return


def mark_findings(job: Job) -> Iterator[Finding]:
    """A byte-order mark, which an editor put in front of the first line."""
    for first, piece in job.program.numbered_pieces():
        if piece.start == 0 and bytes(piece.data[: len(BOM)]) == BOM:
            what = "a byte-order mark, which controllers read as three odd characters"
            yield Finding.of("byte-order-mark", what, job.program.place(first))
            return


def unit_findings(job: Job) -> Iterator[Finding]:
    """A unit that was only assumed must be the one in which the machine powers up, or be stated."""
    if job.start.units == job.machine.power_up_units:
        return
    for block in job.trace.blocks:
        own = block.line[job.program.own(block.line)]
        if len(own):
            stated = job.trace.events_of(EventKind.UNITS)
            if not any(event.line <= own[0] for event in stated):
                what = f"the job is assumed to be in {job.start.units}, and no line says so"
                remedy = "add the step `safe-start`: it states the unit"
                if job.stand_alone:
                    remedy = "write G21 (mm) or G20 (inch) as the first line of the file"
                yield Finding.of("units-not-stated", what, remedy=remedy)
            return


def comment_findings(job: Job) -> Iterator[Finding]:
    """The first comment in a style that the machine does not read."""
    reads = job.machine.comments
    strange = [
        mark for mark, read in ((b"(", reads.parentheses), (b";", reads.semicolon)) if not read
    ]
    found = [line for mark in strange if (line := _commented(job.program, mark)) is not None]
    if found:
        kind = {"none": "no comments", "both": ""}.get(reads.style, f"only {reads.style}")
        what = f"a comment in another style: the machine reads {kind}"
        yield Finding.of("comment-unread", what, job.program.place(min(found)))


def _commented(program: Program, mark: bytes) -> int | None:
    """The first line with a comment that begins by a mark; None without one."""
    for first, piece in program.numbered_pieces():
        starts, data = piece.text.starts, piece.text.data
        at = int(starts[piece.start])
        while (at := data.find(mark, at, int(starts[piece.stop]))) >= 0:
            here = int(np.searchsorted(starts, at, "right")) - 1
            line = first + here - piece.start
            if any(c.semicolon is (mark == b";") for c in program[line].comments):
                return line
            at = int(starts[here + 1])
    return None


def optional_findings(job: Job) -> Iterator[Finding]:
    """The first line of the job's own that a switch at the panel skips, and how many there are."""
    if job.machine.optional_lines not in (None, "switch"):
        return
    optional = list(slashed(job.program, len(job.program)))
    if optional:
        count = f"{len(optional)} lines begin" if len(optional) > 1 else "a line begins"
        what = f"{count} with a slash"
        yield Finding.of("optional-lines", what, job.program.place(optional[0]))


def slashed(program: Program, end: int) -> Iterator[int]:
    """The lines up to `end` that begin with a slash and have words."""
    for line in program.lines_optional().tolist():
        if line <= end and program[line].is_code:
            yield line
