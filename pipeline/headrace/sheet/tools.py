"""The bits of a file, and what it does with each."""

from __future__ import annotations

from collections.abc import Sequence

from headrace.job import Job
from headrace.language.trace import PROBE
from headrace.machine import Span
from headrace.sheet.cuts import Cuts
from headrace.sheet.facts import ToolUse
from headrace.sheet.naming import bit_of
from headrace.sheet.spans import clean
from headrace.sheet.sums import summed
from headrace.timing.times import Times


def tool_uses(job: Job, cuts: Sequence[Cuts], times: Times | None) -> tuple[ToolUse, ...]:
    """The bits that cut or touch, in the order in which they are in the collet."""
    seconds = {} if times is None else {each.tool: each.seconds for each in times.tools}
    bits: dict[int | None, list[Cuts]] = {}
    for part in cuts:
        bits.setdefault(part.stretch.block.setting.tool, []).append(part)
    return tuple(
        _use(job, number, parts, seconds.get(number))
        for number, parts in bits.items()
        if any(part.cuts.any() or (part.stretch.block.kind == PROBE).any() for part in parts)
    )


def _use(job: Job, number: int | None, parts: Sequence[Cuts], seconds: float | None) -> ToolUse:
    bit, spindle = bit_of(job.setup, number), job.machine.spindle
    sum_ = summed((part, part.whole) for part in parts)
    speeds = () if sum_ is None else sum_.speeds
    by_hand = spindle.control == "by-hand"
    marks = dict.fromkeys(spindle.nearest_mark(speed) for speed in speeds) if by_hand else {}
    return ToolUse(
        number=number,
        kind=bit.kind,
        diameter=bit.diameter,
        stick_out=bit.stick_out,
        flute=bit.flute,
        teeth=bit.teeth,
        fastest=bit.fastest,
        speeds=speeds,
        dial=", ".join(mark for mark in marks if mark is not None) or None,
        feeds=None if sum_ is None else sum_.feeds,
        plunges=None if sum_ is None else sum_.plunges,
        ramps=None if sum_ is None else sum_.ramps,
        chip=None if sum_ is None else _chip(sum_.turn, bit.teeth),
        chip_limits=bit.chip,
        cut=0.0 if sum_ is None else sum_.length,
        deepest=None if sum_ is None else sum_.deepest,
        seconds=seconds,
        plunge=bit.plunge,
        first_line=None if sum_ is None else int(job.trace.line[sum_.first]) + 1,
    )


def _chip(turn: Span | None, teeth: int | None) -> Span | None:
    """How thick the chips are: the way between two teeth, fz = vf / (n z)."""
    if turn is None or teeth is None:
        return None
    return Span(clean(turn.least / teeth), clean(turn.most / teeth))
