"""The outlines of areas on a grid, as closed lines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headrace.picture.thinning import thinned
from headrace.picture.way import Bools, Rows
from headrace.rehearsal.space.extents import Floats

_STEPS = np.array([[1, 0], [0, 1], [-1, 0], [0, -1]])
"""Right, up, left, down, in columns and rows."""


@dataclass(frozen=True, eq=False, slots=True)
class Outlines:
    """Closed lines (`begins`, k) through corners of cells (m), in cells; the area lies left."""

    u: Floats
    v: Floats
    begins: Rows


def outlines(area: Bools, within: float) -> Outlines:
    """The outlines of an area (rows, columns of cells), thinned: they stray at most `within`
    cells. Cells that meet at a corner alone are not joined."""
    start, way = _edges(area)
    if not len(start):
        none = np.zeros(0)
        return Outlines(none, none, np.zeros(0, np.int64))
    order, begins = _in_turn(_following(start, way, area.shape))
    wide = area.shape[1] + 1
    u, v = (start % wide)[order].astype(np.float64), (start // wide)[order].astype(np.float64)
    ends = np.zeros(len(u), np.bool_)
    ends[begins] = True
    ends[np.append(begins[1:], len(u)) - 1] = True
    keep = thinned(u, v, ends, within)
    starts = np.zeros(len(u), np.bool_)
    starts[begins] = True
    return Outlines(u[keep], v[keep], np.flatnonzero(starts[keep]))


def _edges(area: Bools) -> tuple[Rows, Rows]:
    """The edges between the area and what is beside it: the corner at which each begins, counted
    row by row, and its way (0 to 3); the area lies left of it."""
    rows, columns = area.shape
    wide = columns + 1
    padded = np.zeros((rows + 2, columns + 2), np.bool_)
    padded[1:-1, 1:-1] = area
    starts, ways = [], []
    # which neighbour is outside, and the corner of the cell where that edge begins
    for way, (beside, corner) in enumerate((
        (padded[:-2, 1:-1], (0, 0)), (padded[1:-1, 2:], (1, 0)),
        (padded[2:, 1:-1], (1, 1)), (padded[1:-1, :-2], (0, 1)),
    )):  # fmt: skip
        row, column = np.nonzero(area & ~beside)
        starts.append((row + corner[1]) * wide + column + corner[0])
        ways.append(np.full(len(row), way))
    return np.concatenate(starts), np.concatenate(ways)


def _following(start: Rows, way: Rows, shape: tuple[int, ...]) -> Rows:
    """The edge that follows each: to the left where there is one, else straight on or right."""
    wide = shape[1] + 1
    stop = start + _STEPS[way, 0] + _STEPS[way, 1] * wide
    leaves = np.full((4, (shape[0] + 1) * wide), -1)
    leaves[way, start] = np.arange(len(start))
    left, straight, right = (leaves[(way + turn) % 4, stop] for turn in (1, 0, 3))
    following: Rows = np.where(left >= 0, left, np.where(straight >= 0, straight, right))
    return following


def _in_turn(following: Rows) -> tuple[Rows, Rows]:
    """The edges of loops one behind the other, and where each loop begins. Every edge learns the
    first of its loop, and then how far it is from there, over twice as many edges in each round
    (pointer jumping)."""
    count = len(following)
    first, ahead = np.arange(count), following
    for _ in range(count.bit_length()):
        first = np.minimum(first, first[ahead])
        ahead = ahead[ahead]
    # cut every loop open before its first edge, and count the edges up to there
    heads = first[following] == following
    ahead = np.where(heads, np.arange(count), following)
    left = np.where(heads, 0, 1)
    for _ in range(count.bit_length()):
        left = left + left[ahead]
        ahead = ahead[ahead]
    order = np.lexsort((-left, first))
    begins = np.flatnonzero(np.diff(first[order], prepend=-1))
    return order, begins
