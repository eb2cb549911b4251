"""How thick a chip each tooth takes: the way between two teeth, fz = vf / (n z).

Ramps and helices count, straight plunges do not: the bit's tip cuts otherwise. What the controller
makes of a feed in corners, and how much of the bit is in the wood, is not looked at.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, floor, isnan

import numpy as np

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language.state import NAN
from headrace.language.trace import LINE
from headrace.machine import Span
from headrace.program import number_text
from headrace.rehearsal.space.extents import Floats
from headrace.rehearsal.space.lanes import Bools
from headrace.rehearsal.space.stretches import Stretch, by_tool

_SHARE = 0.1
"""So much of the cut may lie outside."""

_SLACK = 1.005
"""Numbers of CAM are rounded: feeds that are outside by less are let pass."""


@dataclass(slots=True)
class _Outside:
    """How long (mm) the cuts on one side are, and the longest of them with its speed."""

    total: float = 0.0
    longest: float = 0.0
    feed: float = NAN
    speed: float = NAN
    stretch: Stretch | None = None
    row: int = 0


def chip_findings(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """Chips outside what the bit's maker gives, where that is more than a tenth of the cut. Without
    `chip` and `teeth` there is nothing to say: they are a matter of choice."""
    speeds: dict[int, Floats] | None = None
    for stretches in by_tool(space):
        chip, teeth = stretches[0].tool.chip, stretches[0].tool.teeth
        if chip is None or teeth is None:
            continue
        if job.machine.spindle.control == "by-hand":
            yield from _by_hand(stretches, chip, teeth)
            continue
        speeds = speeds_of(job, space) if speeds is None else speeds
        yield from _of_bit(stretches, speeds, chip, teeth)


def _of_bit(
    space: Sequence[Stretch], speeds: dict[int, Floats], chip: Span, teeth: int
) -> Iterator[Finding]:
    """What one bit cuts."""
    thin, thick = _Outside(), _Outside()
    for stretch in space:
        speed = speeds[id(stretch)]
        feed = feeds_of(stretch)
        per = speed * teeth
        low = feed * _SLACK < per * chip.least
        high = feed > per * chip.most * _SLACK
        for part, rows in ((thin, low), (thick, high)):
            if rows.any():
                _add(part, stretch, rows & _sideways(stretch), feed, speed)
    outside = thin.total + thick.total
    # how long the sound cuts are matters only beside others
    if not outside or outside <= _SHARE * (total := _length(space, speeds)):
        return
    for part, name in ((thin, "chips-too-thin"), (thick, "chips-too-thick")):
        if part.stretch is not None and part.total > _SHARE * total / 2:
            yield _finding(name, part, part.stretch, chip, teeth, part.total / total)


def _finding(
    name: str, part: _Outside, stretch: Stretch, chip: Span, teeth: int, share: float
) -> Finding:
    taken = part.feed / part.speed / teeth
    per = part.speed * teeth
    side = f"less than {chip.least:g}" if name == "chips-too-thin" else f"more than {chip.most:g}"
    what = (
        f"F{part.feed:g} at {part.speed:g} rev/min takes {number_text(taken, 3)} mm a tooth,"
        f" {side}; so does {share:.0%} of the cut"
    )
    remedy = f"F{ceil(per * chip.least):g} to F{floor(per * chip.most):g} is right at this speed"
    return Finding.of(name, what, stretch.place(part.row), remedy=remedy)


def _by_hand(space: Sequence[Stretch], chip: Span, teeth: int) -> Iterator[Finding]:
    """A speed that is set by hand stands in no file: say which would be right."""
    longest: dict[float, float] = {}
    first: dict[float, tuple[Stretch, int]] = {}
    for stretch in space:
        rows = np.flatnonzero(_sideways(stretch) & ~np.isnan(stretch.lengths))
        values, which = np.unique(feeds_of(stretch)[rows], return_inverse=True)
        lengths = np.bincount(which, stretch.lengths[rows], len(values))
        for number, (feed, length) in enumerate(zip(values.tolist(), lengths, strict=True)):
            longest[feed] = longest.get(feed, 0.0) + float(length)
            first.setdefault(feed, (stretch, int(rows[int(np.argmax(which == number))])))
    feed = max(longest, key=lambda one: longest[one], default=NAN)
    if isnan(feed) or not feed > 0:
        return
    slow, fast = feed / teeth / chip.most, feed / teeth / chip.least
    what = (
        "cannot tell how thick the chips are: the speed is set by hand; most of the cut goes at"
        f" F{feed:g}"
    )
    remedy = f"set {ceil(slow):g} to {floor(fast):g} rev/min for {chip.least:g} to {chip.most:g}"
    stretch, row = first[feed]
    yield Finding.of("cannot-tell", what, stretch.place(row), remedy=remedy, severity=Severity.NOTE)


def _add(part: _Outside, stretch: Stretch, rows: Bools, feed: Floats, speed: Floats) -> None:
    lengths = np.where(rows, np.nan_to_num(stretch.lengths), 0.0)
    part.total += float(lengths.sum())
    at = int(lengths.argmax())
    if lengths[at] > part.longest:
        part.longest = float(lengths[at])
        part.feed, part.speed = float(feed[at]), float(speed[at])
        part.stretch, part.row = stretch, at


def _sideways(stretch: Stretch) -> Bools:
    """Which moves are cuts of the job's own in the sheet that do not go straight up or down."""
    block, tip = stretch.block, stretch.frame.tip
    sideways = block.kind > LINE
    for axis in (0, 1):
        sideways |= np.diff(block.ends[axis], prepend=block.start[axis]) != 0
    cuts = stretch.own_cuts & sideways
    return cuts if tip is None else cuts & (stretch.numbers(2) + tip.least < 0)


def feeds_of(stretch: Stretch) -> Floats:
    """The feed of each move (mm/min)."""
    feed = stretch.block.feed
    return stretch.lengths * feed if stretch.block.setting.inverse_time else feed


def _length(space: Sequence[Stretch], speeds: dict[int, Floats]) -> float:
    """How long all the cuts are at known speeds (mm)."""
    total = 0.0
    for stretch in space:
        known = _sideways(stretch) & ~np.isnan(speeds[id(stretch)])
        total += float(np.nan_to_num(stretch.lengths)[known].sum())
    return total


def speeds_of(job: Job, space: Sequence[Stretch]) -> dict[int, Floats]:
    """By the identity of each stretch the speed of the spindle during its moves (n, rev/min); NaN
    where not known."""
    spindle, blocks = job.machine.spindle, job.trace.blocks
    fixed = spindle.slowest if spindle.control == "relay" else None
    speeds = [block.setting.speed if fixed is None else fixed for block in blocks]
    known = np.array([speed or NAN for speed in speeds], np.float64)
    every = np.repeat(known, [len(block) for block in blocks])
    ends = np.cumsum([len(stretch) for stretch in space])
    parts = np.split(every, ends[:-1])
    return {id(stretch): part for stretch, part in zip(space, parts, strict=True)}
