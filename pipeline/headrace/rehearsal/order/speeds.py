"""What the file's words ask of the spindle, against what the spindle is."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator

import numpy as np

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import EventKind
from headrace.machine import Spindle
from headrace.program import number_text

_TURNING = ("cw", "ccw")


def speed_findings(job: Job) -> Iterator[Finding]:
    """The first M4 where the spindle has no other way; and, where its speed follows S, the first
    speed that it has not, and the first start at none."""
    spindle = job.machine.spindle
    if not spindle.reverse:
        yield from _reversed(job)
    if spindle.control == "speed":
        yield from _out_of_range(job, spindle)
        yield from _unstated(job, spindle)


def unfollowed(job: Job) -> Iterator[Finding]:
    """The first S that asks for another speed than the only one that a relay switches on."""
    spindle = job.machine.spindle
    if spindle.control != "relay" or spindle.slowest != spindle.fastest:
        return
    for block in job.trace.blocks:
        speed = block.setting.speed
        if block.setting.spindle in _TURNING and speed is not None and speed != spindle.fastest:
            line = _line_of_speed(job, int(block.line[0]))
            what = (
                f"the job asks for {number_text(speed)}, and this spindle turns"
                f" {number_text(spindle.fastest)}"
            )
            yield Finding.of("speed-not-followed", what, job.program.place(line))
            return


def _reversed(job: Job) -> Iterator[Finding]:
    back = next((e for e in job.trace.events_of(EventKind.SPINDLE) if e.value == "ccw"), None)
    if back is not None:
        place = job.program.place(back.line)
        yield Finding.of("spindle-reverse", "M4 turns the spindle the other way", place)


def _out_of_range(job: Job, spindle: Spindle) -> Iterator[Finding]:
    """While the spindle turns, each move has a speed in force; what no move sees, stands on lines
    of its own."""
    block = next(
        (
            block
            for block in job.trace.blocks
            if block.setting.spindle in _TURNING and _beyond(spindle, block.setting.speed)
        ),
        None,
    )
    bad = [] if block is None else [_line_of_speed(job, int(block.line[0]))]
    bad += _between_moves(job, spindle)
    if bad:
        line = min(bad)
        value = job.program[line].get("S")
        asked = "this speed" if value is None else f"S{number_text(float(value))}"
        span = f"{number_text(spindle.slowest)} to {number_text(spindle.fastest)}"
        yield Finding.of("speed-out-of-range", f"{asked} is not a speed of this spindle: {span}",
                         job.program.place(line),
                         remedy=f"write a speed of {span}")  # fmt: skip


def _between_moves(job: Job, spindle: Spindle) -> list[int]:
    """The first line without a move that gives a turning spindle a speed which it has not."""
    lines = job.program.lines_with("S")
    if job.trace.ended_at is not None:
        lines = lines[lines <= job.trace.ended_at]
    lines = lines[~np.isin(lines, job.trace.line)]
    if not len(lines):
        return []
    switched = list(job.trace.events_of(EventKind.SPINDLE))
    at = [event.line for event in switched]
    for line in lines.tolist():
        last = bisect_right(at, line) - 1
        value = job.program[line].get("S")
        turns = last >= 0 and switched[last].value in _TURNING
        if turns and value is not None and _beyond(spindle, job.dialect.speed(float(value))):
            return [line]
    return []


def _beyond(spindle: Spindle, speed: float | None) -> bool:
    return speed is not None and not spindle.slowest <= speed <= spindle.fastest


def _unstated(job: Job, spindle: Spindle) -> Iterator[Finding]:
    if spindle.slowest == spindle.fastest:
        return
    for block in job.trace.blocks:
        if block.setting.spindle in _TURNING and block.setting.speed is None:
            starts = [
                event.line
                for event in job.trace.events_of(EventKind.SPINDLE)
                if event.value in _TURNING and event.line <= int(block.line[0])
            ]
            if starts:
                what = "the spindle is started, and no line says how fast"
                remedy = "write S before it or on this line, or give the step `spindle` a `speed`"
                place = job.program.place(starts[-1])
                yield Finding.of("speed-unknown", what, place, remedy=remedy)
            return


def _line_of_speed(job: Job, line: int) -> int:
    """The last line up to this one that has an S."""
    lines = job.program.lines_with("S")
    at = int(np.searchsorted(lines, line, "right"))
    return int(lines[at - 1]) if at else line
