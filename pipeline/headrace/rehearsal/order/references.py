"""What the numbers count from: where homing has to come first, and where it is not enough."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

import numpy as np

from headrace.findings import Finding, Place
from headrace.job import Job
from headrace.language import Block, EventKind
from headrace.machine import Machine, Setup, Span, lacking, sheet_top_at, spoilboard_at, unknown
from headrace.rehearsal.lengths import mm
from headrace.rehearsal.order.course import Course

_NEAR = 0.1
"""So near (mm) to the sheet's top, Z0 may have been worked out by hand instead of touched."""


def reference_findings(job: Job, course: Course) -> Iterator[Finding]:
    """A cut in the machine's numbers, and a move in these before they are found."""
    told = list(_cut_without_zero(job, course))
    yield from told or _beside_sheet(job, course)
    yield from _from_before(job, course)
    yield from _before_homing(job)


def _cut_without_zero(job: Job, course: Course) -> Iterator[Finding]:
    """A cut behind homing that has put Z back to the machine's numbers."""
    if not job.dialect.homing_clears_shift:
        return
    zeros = [event.moves for event in job.trace.zeros("Z")]
    for home in job.trace.events_of(EventKind.HOME):
        own = job.program[home.line].origin is not None
        if "Z" not in str(home.value) or (own and not job.stand_alone):
            continue  # `job-loses-zero` tells of that
        cut = course.first_feed(home.moves, len(course))
        if cut is not None and not any(home.moves <= at <= cut for at in zeros):
            what = "a cut behind homing, and nothing has set Z zero on the sheet since"
            yield Finding.of("cut-without-zero", what, course.place(cut))
            return


def _beside_sheet(job: Job, course: Course) -> Iterator[Finding]:
    """A cut in numbers whose zero is known, and is certainly not where the jobs have theirs."""
    first = 0
    for block in job.trace.blocks:
        first, begun = first + len(block), first
        offset = block.setting.offset[2]
        if isnan(offset) or not block.cuts.any():
            continue
        cut = _into_work(course, block, begun)
        if cut is None:
            continue
        setup = job.setup.with_tool(block.setting.tool)
        zero = _zero_of_jobs(job.machine, setup)
        if zero is None:
            question = "whether Z0 lies where the jobs have it, for nothing has been touched"
            yield unknown(lacking(job.machine, setup), question, course.place(cut))
            return
        yield from _beside(job, zero - offset, course.place(cut))
        return


def _into_work(course: Course, block: Block, begun: int) -> int | None:
    """The first move at feed of a block that goes sideways, or certainly into the sheet."""
    sideways = np.zeros(len(block), np.bool_)
    for axis in (0, 1):
        with np.errstate(invalid="ignore"):
            sideways |= np.abs(block.ends[axis] - block.starts(axis)) > 0
    rows = np.flatnonzero(block.cuts & sideways)
    if len(rows):
        return begun + int(rows[0])
    cut = course.first_cut(begun, begun + len(block))
    return cut.move if cut is not None and cut.certain else None


def _beside(job: Job, zero: Span, place: Place) -> Iterator[Finding]:
    """`zero` is where the jobs have Z0, in the numbers in force."""
    if zero.least <= _NEAR and zero.most >= -_NEAR:
        return
    side, way = ("below", zero) if zero.least > 0 else ("above", 0.0 - zero)
    where = "the top of the sheet" if job.setup.sheet.zero == "top" else "the bed"
    least, most = mm(way.least), mm(way.most)
    far = least if least == most else f"{least} to {most}"
    what = f"a cut, and Z0 lies {far} mm {side} {where}: nothing has found it there"
    yield Finding.of("cut-without-zero", what, place)


def _zero_of_jobs(machine: Machine, setup: Setup) -> Span | None:
    """Where the jobs have Z0, in machine coordinates; None where that is not described."""
    zero_at = spoilboard_at if setup.sheet.zero == "bed" else sheet_top_at
    return zero_at(machine, setup)


def _from_before(job: Job, course: Course) -> Iterator[Finding]:
    """A file that homes and cuts on a machine that keeps its zeros, and finds none for Z."""
    homes = [e for e in job.trace.events_of(EventKind.HOME) if "Z" in str(e.value)]
    if job.dialect.homing_clears_shift or not homes:
        return
    cut = course.first_feed(homes[0].moves, len(course))
    if cut is None or not isnan(course.at(cut)[0].setting.offset[2]):
        return
    finding = (*job.trace.zeros("Z"), *job.trace.events_of(EventKind.PROBE))
    if not any(event.moves <= cut for event in finding):
        what = "a cut behind homing, and Z counts from a zero that this file has not found"
        yield Finding.of("zero-from-before", what, course.place(cut))


def _before_homing(job: Job) -> Iterator[Finding]:
    """A move in machine coordinates that comes before the homing of the same file."""
    home = next(job.trace.events_of(EventKind.HOME), None)
    lines = job.program.lines_with("G", 53)
    if home is not None and len(lines) and lines[0] < home.line:
        what = "a move in machine coordinates, and the machine homes only behind it"
        yield Finding.of("not-homed", what, job.program.place(int(lines[0])),
                         remedy="home first")  # fmt: skip
