"""Words that the described machine does not have, and dwells that cannot be meant."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language import EventKind
from headrace.language.modal import AXES, SYSTEMS, g_name
from headrace.program import Program, number_text
from headrace.program.columns import ODD

_SHORTEST, _LONGEST = 0.05, 120.0
"""Dwells (s) outside these are hardly ever meant."""

_USUAL = (0.1, 30.0)
"""The dwells (s) of common practice."""


def word_findings(job: Job) -> Iterator[Finding]:
    """The first line for each word that the machine does not have."""
    program, machine = job.program, job.machine
    for name in AXES:
        if name.lower() in machine.axes or name.lower() in machine.rotary:
            continue
        lines = program.lines_with(name)
        if len(lines):
            yield _unknown(program, int(lines[0]), f"the machine has no axis {name}")
    lacking = {} if machine.machine_moves else {53.0: "no moves in machine coordinates"}
    for code in SYSTEMS:
        if g_name(code) not in (*machine.work_zero.systems, *machine.modes):
            lacking[code / 10] = f"no work offset {g_name(code)}"
    if not machine.work_zero.word.startswith("G10") and not machine.work_zero.systems:
        lacking[10.0] = "no work offset systems that G10 could set"
    if machine.probe is None:
        lacking[38.2] = "no probe that is described"
    lines, codes = program.codes()
    for number in codes[np.sort(np.unique(codes, return_index=True)[1])].tolist():
        if number in lacking:
            line = int(lines[np.argmax(codes == number)])
            yield _unknown(program, line, f"the machine has {lacking[number]}")
    yield from _centre_words(job)
    if not machine.parameters:
        yield from _worked_out(program)
    yield from _cycles(job)
    yield from _subprograms(job)
    yield from _numbers(job)


def output_findings(job: Job) -> Iterator[Finding]:
    """The first line of the job's own for each switching word that the description says nothing
    of, and that no step has put there."""
    for code in (7, 8):
        lines = job.program.lines_with("M", code)
        lines = lines[job.program.own(lines)]
        if len(lines) and f"M{code}" not in job.machine.outputs:
            place = job.program.place(int(lines[0]))
            what = f"M{code} switches something on, and nothing is described for it"
            yield Finding.of("output-not-described", what, place)


def dwell_findings(job: Job) -> Iterator[Finding]:
    """The first dwell of the job's own that looks as if another unit of time were meant."""
    seconds_a_unit = job.dialect.dwell_unit
    for event in job.trace.events_of(EventKind.DWELL):
        seconds = float(str(event.value))
        number = seconds / seconds_a_unit
        other = number * (0.001 if seconds_a_unit == 1.0 else 1.0)
        beyond = 0 < seconds < _SHORTEST or seconds > _LONGEST
        swapped = not _USUAL[0] <= seconds <= _USUAL[1] and _USUAL[0] <= other <= _USUAL[1]
        if (beyond or (swapped and seconds)) and job.program[event.line].origin is not None:
            what = (
                f"this machine would wait {_time(seconds)}; in the other unit it were"
                f" {_time(other)}"
            )
            meant = number_text(other / seconds_a_unit)
            remedy = f"write P{meant} if {_time(other)} are meant; see `dwell` in the machine file"
            place = job.program.place(event.line)
            yield Finding.of("dwell-implausible", what, place, remedy=remedy)
            return


def _centre_words(job: Job) -> Iterator[Finding]:
    """Words for how centres of arcs count, which RS274/NGC (2000) does not have. One that says
    what holds anyway does no harm where it is passed over."""
    if {"G90.1", "G91.1"} & set(job.machine.modes):
        return
    lines, codes = job.program.codes()
    for number, severity in ((90.1, Severity.REFUSE), (91.1, Severity.NOTE)):
        if (codes == number).any():
            what = f"nothing says that the machine has G{number}"
            place = job.program.place(int(lines[np.argmax(codes == number)]))
            remedy = (
                "name G91.1 under `modes` in the machine file if it has both, or export without"
            )
            yield Finding.of("word-unknown-here", what, place, remedy=remedy, severity=severity)


def _time(seconds: float) -> str:
    """A time in the unit in which a person thinks of it."""
    for unit, length in (("days", 86_400.0), ("hours", 3600.0), ("minutes", 60.0)):
        if seconds >= 2 * length:
            return f"{seconds / length:.4g} {unit}"
    return f"{seconds:g} s"


def _cycles(job: Job) -> Iterator[Finding]:
    """The first line under each cycle that the machine does not read; where it reads none, the
    first line that cancels one or says how one returns, too."""
    if job.machine.cycles is None:
        return
    if not job.machine.cycles:
        lines, codes = job.program.codes()
        for number in (80.0, 98.0, 99.0):
            if (codes == number).any() and f"G{number:g}" not in job.machine.modes:
                line = int(lines[np.argmax(codes == number)])
                what = f"the machine has no cycles, and nothing says that it reads G{number:g}"
                remedy = f"add the step `cycles-to-moves`, or name G{number:g} under `modes`"
                yield _unknown(job.program, line, what, remedy)
    read = set(job.machine.cycles)
    for event in job.trace.events_of(EventKind.CYCLE):
        if event.value not in read:
            read.add(str(event.value))
            remedy = "add the step `cycles-to-moves`, which writes moves in the place of cycles"
            what = f"the machine has no cycle {event.value}"
            yield _unknown(job.program, event.line, what, remedy)


def _subprograms(job: Job) -> Iterator[Finding]:
    """The first line that numbers a program or calls a subprogram, where the machine has none."""
    calls = job.trace.calls
    lines = [*calls.calls, *(body.first for body in calls.bodies.values())]
    lines += [] if calls.heading is None else [calls.heading]
    if lines and not job.machine.subprograms:
        what = "the machine reads no program numbers and no subprograms"
        remedy = "add the step `expand-calls`, which writes out what they stand for"
        yield _unknown(job.program, min(lines), what, remedy)


def _numbers(job: Job) -> Iterator[Finding]:
    """Line numbers, where the machine refuses them."""
    if job.machine.line_numbers == "refused":
        lines = job.program.lines_with("N")
        if len(lines):
            what = "a line number, and the machine refuses them"
            remedy = "add the step `renumber: {remove: true}`"
            yield _unknown(job.program, int(lines[0]), what, remedy)


def _worked_out(program: Program) -> Iterator[Finding]:
    """Parameters and expressions, where the machine works nothing out."""
    for line in program.lines_flagged(ODD):
        scan = program[int(line)].scan
        if scan.settings or any(word.expression is not None for word in scan.words):
            what = "the machine works out no parameters and expressions"
            remedy = "add the step `plain-numbers`, which writes what they come to"
            yield _unknown(program, int(line), what, remedy)
            return


def _unknown(program: Program, line: int, what: str, remedy: str | None = None) -> Finding:
    return Finding.of("word-unknown-here", what, program.place(line), remedy=remedy)
