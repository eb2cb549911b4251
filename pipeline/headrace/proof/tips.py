"""The path of a blade's tip, where a job's moves lead the axis that it trails."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import inf, nan, radians
from typing import NamedTuple

import numpy as np

from headrace.language.trace import LINE, RAPID
from headrace.plugins.trailing import Trailing
from headrace.proof.path import SAME, Bools, Floats, Path
from headrace.proof.pull import Led, Longs, Pulls

_FINE = 8
"""The tip is followed to so small a part of the tolerance: a quarter of that for its chords, the
rest for what it strays while it turns on the spot."""
_FLAT = 17
"""The plane of X and Y."""


class Blade(NamedTuple):
    """Where a blade points to (rad), whether the job has led it anywhere yet, and as which tool."""

    points: float
    led: bool = False
    tool: int | None = None


class Tips:
    """Blades that trail one another, as they are by now.

    `within` (mm) is the tolerance of the path, `grain` how near what `of` gives is to the tip.
    """

    def __init__(self, trails: Sequence[Trailing], within: float) -> None:
        self._trails = tuple(reversed(trails))
        self.blades: list[Blade] = []
        self.grain: float = within / _FINE if trails else 0.0
        self.begin()

    def begin(self) -> None:
        """A file begins: all blades point to where they do at first."""
        self.blades = [Blade(radians(each.heading)) for each in self._trails]

    def of(self, path: Path, own: Bools) -> Path:
        """The way of the tip for some moves of the axis; those that are not the job's `own` (m)
        stay as they are, and so do moves above the sheet before the job has named a place in X or
        Y: there the axis is where it was brought, not where it leads the tip. Chords stand for what
        the tip draws; what turns it on the spot, lifted or not, goes. It is nowhere (infinite)
        where it would be pushed, where nobody knows whether it is deep enough to swivel, and where
        another tool is in than the one that was led first: its blade points anywhere."""
        for at, trailing in enumerate(self._trails):
            drawn = _Drawn(path, own, trailing, self.blades[at], self.grain)
            path, own, self.blades[at] = drawn.path, own[drawn.parents], drawn.blade
        return path


class _Drawn:
    """What one blade draws: a path, the rows that its moves come from, and where it points to."""

    def __init__(
        self, path: Path, own: Bools, trailing: Trailing, blade: Blade, grain: float
    ) -> None:
        self._source, self._offset = path, trailing.offset
        self._grain, self._spot = grain / 4, grain * 3 / 4
        ways = [path.ends[axis] - path.starts[axis] for axis in (0, 1)]
        named = [(way != 0) & ~np.isnan(path.ends[axis]) for axis, way in enumerate(ways)]
        moved = own & (path.arcs | named[0] | named[1])
        flat = path.arcs & (path.arc[3] == _FLAT)
        lowest = np.fmin(path.starts[2], path.ends[2])
        highest = np.maximum(path.starts[2], path.ends[2])  # unknown where one end of it is
        pulled = moved & ((path.kind == LINE) | flat) & (highest <= SAME - trailing.bite)
        pulled &= ~np.isnan(ways[0] + ways[1])
        lifted = (lowest >= -SAME) | (np.isnan(lowest) & (path.kind == RAPID))
        leads = own & (moved | ~lifted)
        waits = ~np.logical_or.accumulate(leads | blade.led)
        rows = np.flatnonzero(pulled)
        led = Pulls.of(path, rows).led(trailing.offset, blade.points)
        chords, lost = self._chords(rows, led)
        tool, other = _tools(path, leads, blade)
        self.blade = Blade(float(led.points[-1]), blade.led or bool(leads.any()), tool)
        # where it points to behind so many pulls
        before, after = (led.points[np.cumsum(pulled) - back] for back in (pulled, 0))
        self._shifted(own & ~waits, (before, after), pulled, chords)
        nowhere = moved & np.where(pulled, other, ~lifted | (path.arcs & ~flat))
        nowhere[lost] = True
        for axis in (0, 1):
            self.path.ends[axis][nowhere[self.parents]] = inf
        if path.ids is not None:
            self._settle(own)

    def _chords(self, rows: Longs, led: Led) -> tuple[dict[int, Floats], Longs]:
        """The tips (X, Y, Z; 3, n) of those pulled rows for which one chord is not enough; and the
        rows in which the blade is pushed."""
        path = self._source
        tips, pushed = led.tips(self._grain)
        begun, counts = np.unique(tips.owner, return_index=True, return_counts=True)[1:]
        z = path.starts[2][rows][tips.owner]
        z = z + (path.ends[2][rows][tips.owner] - z) * tips.part
        places = np.vstack([tips.places, z])
        chords = {
            int(rows[at]): places[:, begun[at] : begun[at] + counts[at]]
            for at in np.flatnonzero((counts > 2) & ~pushed).tolist()
        }
        return chords, rows[pushed]

    def _shifted(
        self, led: Bools, blades: tuple[Floats, Floats], pulled: Bools, chords: dict[int, Floats]
    ) -> None:
        """All rows as the tip makes them: chords where it is pulled, else moved to the tip.
        `blades` is where it points to before and behind each row (rad)."""
        path = self._source
        counts = np.ones(len(path), np.int64)
        for row, points in chords.items():
            counts[row] = points.shape[1] - 1
        self.parents = np.repeat(np.arange(len(path)), counts)
        drawn = path.where(self.parents)
        starts, ends = ([column.copy() for column in side] for side in (drawn.starts, drawn.ends))
        held, placed = (
            [None if column is None else column.copy() for column in side]
            for side in (drawn.held, drawn.placed)
        )
        arc, kind, led = drawn.arc.copy(), drawn.kind.copy(), led[self.parents]
        before, after = (self._offset * np.array([np.cos(b), np.sin(b)]) for b in blades)
        before, after = before[:, self.parents], after[:, self.parents]
        for axis in (0, 1):
            for back, columns in (
                (before, (starts[axis], held[axis], arc[axis])),
                (after, (ends[axis], placed[axis])),
            ):
                for column in columns:
                    if column is not None:
                        column[led] -= back[axis][led]
        drawn_on = pulled[self.parents]
        kind[drawn_on], arc[:, drawn_on] = LINE, nan
        begun = np.cumsum(counts) - counts
        for row, points in chords.items():
            here = slice(int(begun[row]), int(begun[row]) + points.shape[1] - 1)
            for axis in range(3):
                starts[axis][here], ends[axis][here] = points[axis, :-1], points[axis, 1:]
        self.path = replace(
            drawn, starts=starts, ends=ends, held=held, placed=placed, arc=arc, kind=kind, by=None
        )

    def _settle(self, own: Bools) -> None:
        """Take out what lifts, turns and lowers the blade on the spot, line by line."""
        path = self.path
        assert path.ids is not None
        bounds = np.append(np.flatnonzero(np.diff(path.ids, prepend=-1)), len(path))
        climbs = (path.starts[2] != path.ends[2]) & ~np.isnan(path.ends[2]) & own[self.parents]
        first, last = bounds[:-1], bounds[1:]
        several = np.add.reduceat(climbs, first) > 0 if len(first) else np.zeros(0, np.bool_)
        several &= last - first > 1
        gone = np.zeros(len(path), np.bool_)
        for begin, stop in zip(first[several].tolist(), last[several].tolist(), strict=True):
            climbing = np.flatnonzero(climbs[begin:stop]) + begin
            self._on_the_spot(int(climbing[0]), climbing, stop, gone)
        if gone.any():
            self.path, self.parents = self.path.where(~gone), self.parents[~gone]

    def _on_the_spot(self, begin: int, climbing: Longs, stop: int, gone: Bools) -> None:
        """Make one move, or none, of those from `begin` to the last one of `climbing` (rows whose Z
        changes) up to which the tip stays on the spot; the line's moves end at `stop`."""
        path = self.path
        start = [float(column[begin]) for column in path.starts]
        rows = slice(begin, int(climbing[-1]) + 1)
        sides = (*(path.starts[axis][rows] - start[axis] for axis in (0, 1)),
                 *(path.ends[axis][rows] - start[axis] for axis in (0, 1)))  # fmt: skip
        away = np.fmax(np.hypot(sides[0], sides[1]), np.hypot(sides[2], sides[3]))
        strays = np.flatnonzero(~(away <= self._spot))
        until = begin + int(strays[0]) if len(strays) else rows.stop
        climbing = climbing[climbing < until]
        if len(climbing) < 2:
            return
        last = int(climbing[-1])
        end = [float(column[last]) for column in path.ends]
        lowest = float(path.ends[2][begin : last + 1].min())
        if lowest < min(start[2], end[2]) - SAME:
            return
        if abs(end[2] - start[2]) <= SAME:
            quickest = np.nanmax(path.feed[last + 1 : stop], initial=0.0)
            if last + 1 < stop and (path.feed[begin : last + 1] > quickest + SAME).any():
                return  # down again faster than the line's own cut
            gone[begin : last + 1] = True
            if last + 1 < stop:  # what the tip has strayed on the spot belongs to the next move
                for axis in range(3):
                    path.starts[axis][last + 1] = start[axis]
            return
        feeds = path.feed[climbing]
        alike = (path.kind[climbing] == path.kind[last]).all()
        if alike and np.array_equal(feeds, np.broadcast_to(feeds[-1], len(feeds)), equal_nan=True):
            gone[begin:last] = True
            for axis in range(3):
                path.starts[axis][last] = start[axis]


def _tools(path: Path, leads: Bools, blade: Blade) -> tuple[int | None, Bools]:
    """The tool that is led first, and which moves are made with another one (m)."""
    first = np.flatnonzero(leads)
    tool = blade.tool
    if not blade.led and len(first):
        tool = path.settings[path.which[first[0]]].tool
    other: Bools = np.array([held.tool != tool for held in path.settings], np.bool_)[path.which]
    return tool, other
