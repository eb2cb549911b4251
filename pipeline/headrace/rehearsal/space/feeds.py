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
from headrace.language.trace import CCW, LINE
from headrace.rehearsal.space.extents import Floats, before, outermost, passes
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
    kind = block.kind[rows]
    rows = rows[(kind >= LINE) & (kind <= CCW)]
    ways = [block.ends[each][rows] - _begun(block, each, rows) for each in range(3)]
    along = np.abs(ways[axis])
    if block.setting.inverse_time:
        speed = along * block.feed[rows]
    else:
        with np.errstate(invalid="ignore", divide="ignore"):
            speed = block.feed[rows] * along / np.sqrt(sum(np.nan_to_num(way) ** 2 for way in ways))
    if block.arcs is not None:
        _, of_rows, of_arcs = np.intersect1d(
            rows, block.arcs.rows, assume_unique=True, return_indices=True
        )
        speed[of_rows] = _on_arcs(stretch, axis)[of_arcs]
    found = outermost(speed, True)
    if found is None or found[0] <= most:
        return None
    return _Speed(found[0], stretch, int(rows[found[1]]))


def _steep(block: Block, axis: int, share: float) -> Rows:
    """The moves on which an axis makes more than a `share` of the way, and all arcs. What is known
    is cheap: no root, no division."""
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
    if block.arcs is not None:
        likely[block.arcs.rows] = True
    return np.flatnonzero(likely)


def _begun(block: Block, axis: int, rows: Rows) -> Floats:
    """Where moves begin along an axis; where that is not known, as if it stood still."""
    begun = before(block, axis, rows)
    return np.where(np.isnan(begun), block.ends[axis][rows], begun)


def _on_arcs(stretch: Stretch, axis: int) -> Floats:
    """How fast each arc drives an axis at its fastest (mm/min)."""
    block, spokes = stretch.block, stretch.spokes
    arcs = block.arcs
    assert arcs is not None
    assert spokes is not None
    first, _, across = PLANES[block.setting.plane]
    rise = block.ends[across][arcs.rows] - before(block, across, arcs.rows)
    flat = spokes.length * arcs.turn
    length = np.hypot(flat, np.nan_to_num(rise))
    feed = block.feed[arcs.rows]
    if block.setting.inverse_time:
        feed = feed * length
    with np.errstate(invalid="ignore", divide="ignore"):
        if axis == across:
            along: Floats = feed * np.abs(rise) / length
            return along
        level = feed * flat / length
    begun = np.arctan2(spokes.v, spokes.u)
    # along the first axis an arc is fastest where it passes straight above or below its centre
    across_it = np.pi / 2 if axis == first else 0.0
    passed = passes(begun, spokes.ways, arcs.turn, across_it)
    passed |= passes(begun, spokes.ways, arcs.turn, across_it + np.pi)
    done = begun + spokes.ways * arcs.turn
    ends = np.maximum(np.abs(np.cos(begun - across_it)), np.abs(np.cos(done - across_it)))
    fastest: Floats = level * np.where(passed, 1.0, ends)
    return fastest


def speed_findings(job: Job, _: Sequence[Stretch]) -> Iterator[Finding]:
    """The first move while the spindle turns faster than the bit's marked speed."""
    most, spindle = job.setup.tool.fastest, job.machine.spindle
    if most is None:
        return
    for block in job.trace.blocks:
        setting = block.setting
        if setting.spindle not in ("cw", "ccw") or not len(block):
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
