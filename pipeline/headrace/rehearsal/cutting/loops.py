"""Closed loops of cuts that go through the sheet, and what holds the piece inside.

A loop leads from a place at through depth back to it, within a hundredth of a millimetre, without
leaving the sheet in between. Through means: through the thinnest sheet of the set-up.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from headrace.language.state import NAN
from headrace.machine import Span
from headrace.rehearsal.lengths import NEAR
from headrace.rehearsal.space.clamps import circles
from headrace.rehearsal.space.extents import Floats
from headrace.rehearsal.space.lanes import Bools, lanes
from headrace.rehearsal.space.stretches import Rows, Stretch

_CLOSED = 0.01
"""A loop ends within this of where it began (mm)."""

_RISE = 0.05
"""A tab is higher than this over the deepest cut of its loop (mm)."""

Pieces = tuple[Floats, Floats]
"""Where straight pieces begin and end (k, 2), from the sheet's corner."""


class Way:
    """The moves of a job one behind the other (m), looked at over the sheet."""

    def __init__(self, space: Sequence[Stretch]) -> None:
        self.space = space
        self.begun: Rows = np.cumsum([0, *(len(stretch) for stretch in space)])
        self.places: Floats = np.stack([self._joined(_places(s, axis) for s in space)
                                        for axis in (0, 1)], axis=1)  # fmt: skip
        self.floor: Floats = self._joined(_above(stretch, stretch.frame.floor) for stretch in space)
        top = self._joined(_above(stretch, stretch.frame.tip) for stretch in space)
        cuts = np.concatenate([stretch.own_cuts for stretch in space])
        before = np.concatenate([[NAN], top[:-1]])
        self.engaged: Bools = cuts & (np.fmin(top, before) < -NEAR)
        self.through: Bools = self.engaged & (self.floor <= NEAR)

    def located(self, row: int) -> tuple[Stretch, int]:
        """The stretch that a move is in, and its row there."""
        which = int(np.searchsorted(self.begun, row, "right")) - 1
        return self.space[which], row - int(self.begun[which])

    @cached_property
    def run(self) -> Rows:
        """The number of the run of cuts, without leaving the sheet, that each move is in (m)."""
        runs: Rows = np.cumsum(~self.engaged)
        return runs

    @cached_property
    def entries(self) -> Rows:
        """The moves that go into the sheet, from left to right (k)."""
        rows = np.flatnonzero(self.engaged & ~np.append(False, self.engaged[:-1]))
        return rows[np.argsort(self.starts(rows)[:, 0], kind="stable")]

    @cached_property
    def entered(self) -> Floats:
        """Where they do so (k, 2)."""
        return self.starts(self.entries)

    def starts(self, rows: Rows) -> Floats:
        """Where moves begin (k, 2)."""
        found = self.places[np.maximum(rows - 1, 0)]
        for at in np.flatnonzero(np.isin(rows, self.begun)):
            found[at] = self.located(int(rows[at]))[0].begun[:2]
        return found

    @cached_property
    def box(self) -> Pieces:
        """The box around each move, its lower and its upper corner (m, 2); arcs count as whole
        circles."""
        starts = self.starts(np.arange(len(self.places)))
        low, high = np.minimum(starts, self.places), np.maximum(starts, self.places)
        for stretch, begun in zip(self.space, self.begun[:-1], strict=True):
            for axis in (0, 1):
                around, add = circles(stretch, axis), stretch.frame.sheet[axis]
                if around is not None and add is not None and stretch.block.arcs is not None:
                    rows = stretch.block.arcs.rows + begun
                    low[rows, axis], high[rows, axis] = around[0] + add, around[1] + add
        return low, high

    def pieces(self, rows: Rows) -> Pieces:
        """The ways of some moves (ascending), arcs in short chords."""
        first, last = [np.zeros((0, 2))], [np.zeros((0, 2))]
        bounds = np.searchsorted(rows, self.begun)
        for number in np.flatnonzero(np.diff(bounds)).tolist():
            own = rows[bounds[number] : bounds[number + 1]] - self.begun[number]
            found = lanes(self.space[number], own, None)
            first.append(found.start[:, :2])
            last.append(found.end[:, :2])
        return np.concatenate(first), np.concatenate(last)

    @staticmethod
    def _joined(parts: Iterator[Floats]) -> Floats:
        return np.concatenate(list(parts))


def _places(stretch: Stretch, axis: int) -> Floats:
    """Where moves end, from the sheet's corner (n); NaN where that is not described."""
    add = stretch.frame.sheet[axis]
    return np.full(len(stretch), NAN) if add is None else stretch.numbers(axis) + add


def _above(stretch: Stretch, add: Span | None) -> Floats:
    """The least height at which moves may end (n); NaN where that is not described."""
    return np.full(len(stretch), NAN) if add is None else stretch.numbers(2) + add.least


@dataclass(frozen=True, slots=True)
class Loop:
    """The moves `first` to `last` of a way, in a box from `low` to `high`. `tab` is the height of
    the highest tab over the spoilboard in the thinnest sheet (mm), at most 0 where nothing of it is
    left; `rises` tells whether there is a tab at all."""

    first: int
    last: int
    low: tuple[float, float]
    high: tuple[float, float]
    tab: float
    rises: bool

    @property
    def rows(self) -> Rows:
        return np.arange(self.first, self.last + 1)


def loops(way: Way, width: float) -> Iterator[Loop]:
    """The loops of a way that are wide enough for a bit of this `width` (mm) to leave a piece
    inside, in the order of their beginning. Of those that go round the same way, the first."""
    bounds = np.array(list(_nested(_pairs(way))), np.int64).reshape(-1, 2) + 1
    if not len(bounds):
        return
    low, high = (
        reduced.reduceat(np.append(corner, [[NAN] * 2], axis=0), bounds.ravel())[::2]
        for reduced, corner in zip((np.minimum, np.maximum), way.box, strict=True)
    )
    floor = np.append(way.floor, NAN)
    most = np.maximum.reduceat(floor, bounds.ravel())[::2]
    rises = most > np.minimum.reduceat(floor, bounds.ravel())[::2] + _RISE
    wide = np.flatnonzero((high - low > width + NEAR).all(axis=1))
    shapes = np.column_stack([low, high, most, rises])[wide]
    _, firsts = np.unique(shapes.round(6), axis=0, return_index=True)
    for at in wide[np.sort(firsts)].tolist():
        first, behind = bounds[at].tolist()
        box = tuple(low[at].tolist()), tuple(high[at].tolist())
        yield Loop(first, behind - 1, *box, float(most[at]), bool(rises[at]))


def _pairs(way: Way) -> Rows:
    """Moves that end at one place at through depth, the second where the first is come back to
    (k, 2), in order."""
    rows = np.flatnonzero(way.through & ~np.isnan(way.places).any(axis=1))
    places, runs = way.places[rows], way.run[rows]
    found = []
    for shift in ((0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (0.5, 0.5)):
        # two places that are near lie in one cell of at least one of the four grids
        cells = np.floor(places / (2 * _CLOSED) + shift).astype(np.int64)
        order = np.lexsort((rows, cells[:, 1], cells[:, 0], runs))
        one, other = order[:-1], order[1:]
        same = (cells[one] == cells[other]).all(axis=1) & (runs[one] == runs[other])
        found.append(np.stack([rows[one[same]], rows[other[same]]], axis=1))
    pairs = np.unique(np.concatenate(found), axis=0)
    away = np.abs(way.places[pairs[:, 0]] - way.places[pairs[:, 1]]).max(axis=1, initial=0.0)
    pairs = pairs[away <= _CLOSED + NEAR]
    # going round twice comes back to every place of the first round: one pair is enough
    again = np.zeros(len(pairs), np.bool_)
    again[1:] = (pairs[1:] == pairs[:-1] + 1).all(axis=1) & (np.diff(pairs[1:], axis=1) > 1)[:, 0]
    once: Rows = pairs[~again]
    return once


def _nested(pairs: Rows) -> Iterator[tuple[int, int]]:
    """The pairs that lie inside or beside those before them, not across their ends."""
    open_until: list[int] = []
    for first, last in pairs.tolist():
        while open_until and open_until[-1] <= first:
            open_until.pop()
        if not open_until or last <= open_until[-1]:
            open_until.append(last)
            yield first, last
