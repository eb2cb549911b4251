"""Words that the described machine does not have, and dwells that cannot be meant."""

from __future__ import annotations

from collections.abc import Iterator

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import EventKind
from headrace.language.modal import AXES, SYSTEMS, g_name
from headrace.program import Program
from headrace.program.columns import ODD

_SHORTEST, _LONGEST = 0.05, 120.0
"""Dwells (s) outside these are hardly ever meant: common practice is 0.1 s to 30 s."""


def word_findings(job: Job) -> Iterator[Finding]:
    """The first line for each word that the machine does not have."""
    program, machine = job.program, job.machine
    for name in AXES:
        if name.lower() in machine.axes:
            continue
        lines = program.lines_with(name)
        if len(lines):
            yield _unknown(program, int(lines[0]), f"the machine has no axis {name}")
    if not machine.machine_moves:
        yield from _code(program, 530, "the machine knows no moves in machine coordinates")
    for code in SYSTEMS:
        if g_name(code) not in (*machine.work_zero.systems, *machine.modes):
            yield from _code(program, code, f"the machine has no work offset {g_name(code)}")
    if not machine.parameters:
        yield from _worked_out(program)


def dwell_findings(job: Job) -> Iterator[Finding]:
    """The first dwell of the job's own that looks as if another unit of time were meant."""
    for event in job.trace.events_of(EventKind.DWELL):
        seconds = float(str(event.value))
        implausible = 0 < seconds < _SHORTEST or seconds > _LONGEST
        if implausible and job.program[event.line].origin is not None:
            what = f"this machine would wait {seconds:g} s"
            yield Finding.of("dwell-implausible", what, job.program.place(event.line))
            return


def _code(program: Program, code: int, what: str) -> Iterator[Finding]:
    lines = program.lines_with("G", code / 10)
    if len(lines):
        yield _unknown(program, int(lines[0]), what)


def _worked_out(program: Program) -> Iterator[Finding]:
    """Parameters and expressions, where the machine works nothing out."""
    for line in program.lines_flagged(ODD):
        scan = program[int(line)].scan
        if scan.settings or any(word.expression is not None for word in scan.words):
            what = "the machine works out no parameters and expressions"
            yield _unknown(program, int(line), what)
            return


def _unknown(program: Program, line: int, what: str) -> Finding:
    return Finding.of("word-unknown-here", what, program.place(line))
