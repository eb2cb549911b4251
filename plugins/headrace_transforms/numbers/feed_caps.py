"""How fast each move may go, so that no axis goes faster than it can.

The speed of an axis is the feed times its share of the way, |d| / L; on an arc its share is that of
the tangent, where it is largest. What is not known counts as if it went along that axis alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from headrace import Job
from headrace_transforms.paths.arcs import CLOCKWISE, PLANES

Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
Longs = npt.NDArray[np.int64]

ARC, PROBE = 3, 4
"""Kinds of moves at feed; `ARC` is the last one that cuts."""
_NOISE = 1e-9
"""Feeds that are over by less than this share are let pass."""


@dataclass(frozen=True, slots=True)
class Limits:
    """The most that each axis goes (by its number; mm/min or degrees/min), the whole way (`most`),
    and the bit downwards (`plunge`)."""

    axes: Mapping[int, float]
    most: float = np.inf
    plunge: float = np.inf

    @classmethod
    def of(cls, job: Job, most: float | None, plunge: float | None) -> Limits:
        """Those of a machine; None for what has no limit of its own."""
        axes = {"xyzabc".index(name): axis.feed for name, axis in job.machine.axes.items()}
        return cls(axes, most or np.inf, plunge or np.inf)

    @property
    def lowest(self) -> float:
        """No move at this feed is too fast."""
        return min(self.most, self.plunge, *self.axes.values())


def shares(job: Job, limits: Limits) -> Iterator[tuple[int, Floats]]:
    """For each block of moves that has any of the job's own that are too fast: how many moves come
    before it, and what share of its feed each move may have (n), 1 where all of it."""
    begun = 0
    by_machine = job.program.lines_with("G", 53)
    for block in job.trace.blocks:
        inverse, feed = block.setting.inverse_time, block.feed
        if inverse or not _slow(feed, limits.lowest):
            own = block.cuts & job.program.own(block.line)
            ways = _Ways.of(block, np.isin(block.line, by_machine))
            path = feed * ways.length if inverse else feed
            with np.errstate(invalid="ignore", divide="ignore"):
                share = ways.fastest(limits) / path
            over = own & (share < 1 - _NOISE)
            if over.any():
                yield begun, np.where(over, share, 1.0)
        begun += len(block)


def _slow(feed: Floats, lowest: float) -> bool:
    """Whether no known feed is higher than the lowest limit."""
    values = feed[:1] if feed.strides == (0,) else feed
    return not (values > lowest).any()


@dataclass(frozen=True, slots=True, eq=False)
class _Ways:
    """How far the moves of a block go: in all (`length`, n; mm), along each axis at the most for
    each mm of that (`share`, 6 x n), and down (`down`, n); NaN is not there: what is not known has
    the share 1."""

    length: Floats
    share: list[Floats]
    down: Floats

    @classmethod
    def of(cls, block: Any, by_machine: Bools) -> _Ways:
        """Those of a block; `by_machine` (n) are moves to places in machine coordinates."""
        ways = [np.diff(ends, prepend=block.start[axis]) for axis, ends in enumerate(block.ends)]
        named = [np.isnan(way) & (by_machine | _led(block, axis)) for axis, way in enumerate(ways)]
        ways = [np.nan_to_num(way) for way in ways]
        length = _norm(ways[:3])
        turned = _norm(ways[3:])
        length = np.where(length > 0, length, turned)
        flat = [np.abs(way) for way in ways]
        down = np.abs(np.minimum(ways[2], 0.0))
        if block.arcs is not None:
            _bend(block, ways, length, flat, down)
        with np.errstate(invalid="ignore", divide="ignore"):
            share = [np.nan_to_num(way / length, nan=0.0, posinf=1.0) for way in flat]
            down = np.nan_to_num(down / length, nan=0.0, posinf=1.0)
        share = [np.where(open_, 1.0, part) for open_, part in zip(named, share, strict=True)]
        return cls(length, share, np.where(named[2], 1.0, down))

    def fastest(self, limits: Limits) -> Floats:
        """The highest feed of each move (n; mm/min); infinite for one that goes nowhere."""
        moving = (self.length > 0) | (np.maximum.reduce(self.share) > 0)
        found = np.where(moving, limits.most, np.inf)
        with np.errstate(divide="ignore"):
            for axis, limit in limits.axes.items():
                found = np.minimum(found, limit / self.share[axis])
            return np.minimum(found, limits.plunge / self.down)


def _led(block: Any, axis: int) -> Bools:
    """Which moves may go along an axis, where that is not known: those that end at a known place,
    and all increments."""
    led: Bools = block.setting.incremental | ~np.isnan(block.ends[axis])
    return led


def _norm(ways: list[Floats]) -> Floats:
    total: Floats = np.sqrt(sum(way * way for way in ways))
    return total


def _bend(block: Any, ways: list[Floats], length: Floats, flat: list[Floats], down: Floats) -> None:
    """Put arcs in the place of their chords: each way is what the arc would make of it, if all of
    it went as along its fastest point."""
    arcs = block.arcs
    rows = arcs.rows
    first, second, across = PLANES[block.setting.plane]
    u = block.starts(first)[rows] - arcs.centre_u
    v = block.starts(second)[rows] - arcs.centre_v
    level = np.hypot(u, v) * arcs.turn
    length[rows] = np.hypot(level, ways[across][rows])
    sense = np.where(block.kind[rows] == CLOCKWISE, -1.0, 1.0)
    sweep = _Sweep(np.arctan2(v, u), sense, arcs.turn)
    # the tangent is (-sin, cos) times the sense
    for axis, crest in ((first, np.pi / 2), (second, 0.0)):
        flat[axis][rows] = level * np.maximum(sweep.most(crest), sweep.most(crest + np.pi))
    if across != 2:
        lowest: Floats = sense * np.pi / 2 if first == 2 else np.where(sense > 0, np.pi, 0.0)
        down[rows] = level * np.abs(np.maximum(sweep.most(lowest), 0.0))


@dataclass(frozen=True, slots=True, eq=False)
class _Sweep:
    """Arcs (k) by the angles at which they begin, their sense (1 against the clock, or -1) and how
    far they turn (rad, positive)."""

    begun: Floats
    sense: Floats
    turn: Floats

    def most(self, crest: Floats | float) -> Floats:
        """The highest cosine of the angle from the `crest` (k), over each arc."""
        passed = np.mod((crest - self.begun) * self.sense, 2 * np.pi) <= self.turn
        end = self.begun + self.sense * self.turn
        ends = np.maximum(np.cos(self.begun - crest), np.cos(end - crest))
        most: Floats = np.where(passed, 1.0, ends)
        return most
