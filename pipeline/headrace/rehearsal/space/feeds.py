"""Feeds that an axis cannot follow, and speeds that the bit cannot stand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import floor

import numpy as np

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import Block
from headrace.language.modal import PLANES
from headrace.language.trace import LINE, Ints
from headrace.rehearsal.space.extents import Floats, before, outermost, passes
from headrace.rehearsal.space.lanes import Bools
from headrace.rehearsal.space.rolled import angles
from headrace.rehearsal.space.stretches import Rows, Stretch

_SLACK = 1.005
"""Numbers of CAM are rounded: speeds that are over by less are let pass."""


@dataclass(frozen=True, slots=True)
class _Speed:
    """How fast a move would drive an axis (mm/min)."""

    fast: float
    stretch: Stretch
    row: int


def feed_findings(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """For each axis the move that would drive it fastest, where that is too fast."""
    for axis, name in enumerate("xyz"):
        limit = job.machine.axes[name].feed
        worst: _Speed | None = None
        for stretch in space:
            worst = _fastest(stretch, axis, worst.fast if worst else limit * _SLACK) or worst
        if worst is None:
            continue
        feed = float(worst.stretch.block.feed[worst.row])
        what = (
            f"F{feed:g} would drive {name.upper()} at {worst.fast:.0f} mm/min, and it cuts at"
            f" {limit:g} at the most"
        )
        remedy = f"F{floor(feed * limit / worst.fast):g} is the most for this move"
        if worst.stretch.block.setting.inverse_time:
            remedy = "give the move more time"
        yield Finding.of("feed-over-axis", what, worst.stretch.place(worst.row), remedy=remedy)


def _fastest(stretch: Stretch, axis: int, most: float) -> _Speed | None:
    """The move of a stretch that drives an axis fastest, if that is faster than `most`."""
    block = stretch.block
    highest = outermost(block.feed, True)
    if highest is None:
        return None
    if block.setting.inverse_time:
        rows = np.flatnonzero(block.cuts)
    elif highest[0] > most:
        rows = _steep(block, axis, most / highest[0])
    else:
        return None
    rows = rows[(block.kind[rows] == LINE) & ~_shared(stretch)[rows]]
    found = [
        _Speed(fast, stretch, row) for fast, row in _quickest(rows, _on_lines(block, axis, rows))
    ]
    if block.arcs is not None:
        which, speeds = _on_arcs(stretch, axis)
        found += [
            _Speed(fast, stretch, row) for fast, row in _quickest(block.arcs.rows[which], speeds)
        ]
    worst = max(found, key=lambda speed: (speed.fast, -speed.row), default=None)
    return None if worst is None or worst.fast <= most else worst


def _shared(stretch: Stretch) -> Bools:
    """Which moves (n) give a part of their F to an axis that turns, so that it tells nothing of the
    others alone."""
    shared = np.zeros(len(stretch), np.bool_)
    if not stretch.block.setting.inverse_time:
        for letter, axis in stretch.job.machine.rotary.items():
            if axis.counts != "linear":
                shared |= angles(stretch.block, letter) != 0
    return shared


def _quickest(rows: Rows | Ints, speeds: Floats) -> Iterator[tuple[float, int]]:
    """The highest of some speeds (n) and its move of `rows` (n), where any is known."""
    found = outermost(speeds, True)
    if found is not None:
        yield found[0], int(rows[found[1]])


def _on_lines(block: Block, axis: int, rows: Rows) -> Floats:
    """How fast each straight move of `rows` drives an axis (mm/min)."""
    if block.setting.inverse_time:
        along: Floats = np.abs(block.ends[axis][rows] - _begun(block, axis, rows))
        return along * block.feed[rows]
    ways = [block.ends[each][rows] - _begun(block, each, rows) for each in range(3)]
    with np.errstate(invalid="ignore", divide="ignore"):
        length = np.sqrt(sum(np.nan_to_num(way) ** 2 for way in ways))
        speed: Floats = block.feed[rows] * np.abs(ways[axis]) / length
    return speed


def _steep(block: Block, axis: int, share: float) -> Rows:
    """The moves on which an axis makes more than a `share` of the way. What is known is cheap: no
    root, no division."""
    ends = block.ends[axis]
    if ends.strides == (0,):
        likely = np.zeros(len(block), np.bool_)
    else:
        part = np.zeros(len(block))
        rest = np.zeros(len(block))
        for each in range(3):
            values = block.ends[each]
            if values.strides != (0,):
                way = values[1:] - values[:-1]
                way *= way
                if each == axis:
                    part[1:] = way
                else:
                    rest[1:] += way
        part *= 1 / (share * share) - 1
        likely = part > rest
    likely[:1] = True
    return np.flatnonzero(likely)


def _begun(block: Block, axis: int, rows: Rows) -> Floats:
    """Where moves begin along an axis; where that is not known, as if it stood still."""
    begun = before(block, axis, rows)
    return np.where(np.isnan(begun), block.ends[axis][rows], begun)


def _on_arcs(stretch: Stretch, axis: int) -> tuple[Rows, Floats]:
    """How fast arcs drive an axis at their fastest (mm/min): their numbers among those of the
    block, and their speeds. Across their plane only those that rise or sink are there."""
    block, spokes = stretch.block, stretch.spokes
    arcs = block.arcs
    assert arcs is not None
    assert spokes is not None
    first, _, across = PLANES[block.setting.plane]
    rise = block.ends[across][arcs.rows] - before(block, across, arcs.rows)
    if axis == across:
        which = np.flatnonzero(np.nan_to_num(rise))
        return which, _level(stretch, which, rise[which])[1]
    which = np.arange(len(arcs.rows))
    level, _ = _level(stretch, which, rise)
    begun = spokes.begun
    # along the first axis an arc is fastest where it passes straight above or below its centre
    across_it = np.pi / 2 if axis == first else 0.0
    passed = passes(begun, spokes.ways, arcs.turn, across_it)
    passed |= passes(begun, spokes.ways, arcs.turn, across_it + np.pi)
    done = begun + spokes.ways * arcs.turn
    ends = np.maximum(np.abs(np.cos(begun - across_it)), np.abs(np.cos(done - across_it)))
    return which, level * np.where(passed, 1.0, ends)


def _level(stretch: Stretch, which: Rows, rise: Floats) -> tuple[Floats, Floats]:
    """How fast the arcs numbered `which` go in their plane and across it (mm/min)."""
    block, spokes = stretch.block, stretch.spokes
    arcs = block.arcs
    assert arcs is not None
    assert spokes is not None
    flat = spokes.length[which] * arcs.turn[which]
    length = np.hypot(flat, np.nan_to_num(rise))
    feed = block.feed[arcs.rows[which]]
    if block.setting.inverse_time:
        feed = feed * length
    with np.errstate(invalid="ignore", divide="ignore"):
        return feed * flat / length, feed * np.abs(rise) / length


def speed_findings(job: Job, _: Sequence[Stretch]) -> Iterator[Finding]:
    """The first move while the spindle turns faster than the bit's marked speed."""
    spindle = job.machine.spindle
    for block in job.trace.blocks:
        setting = block.setting
        most = job.setup.tool_of(setting.tool).fastest
        if most is None or setting.spindle not in ("cw", "ccw") or not len(block):
            continue
        speed = spindle.slowest if spindle.control == "relay" else setting.speed
        if speed is not None and speed > most:
            what = f"the spindle turns at {speed:g}, and the bit is marked for {most:g} at the most"
            remedy = (
                "put another bit in: this spindle has one speed"
                if spindle.control == "relay"
                else f"state S{most:g} or less"
            )
            place = job.program.place(int(block.line[0]))
            yield Finding.of("speed-over-bit", what, place, remedy=remedy)
            return
