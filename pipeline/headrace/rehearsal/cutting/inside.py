"""Points in a loop: which lie inside, and how far they are from its line."""

from __future__ import annotations

import numpy as np

from headrace.rehearsal.space.extents import Floats
from headrace.rehearsal.space.lanes import Bools

_AT_ONCE = 1 << 18
"""So many pairs of a point and a piece are looked at together."""


def inside(points: Floats, first: Floats, last: Floats) -> Bools:
    """Which of some points (m, 2) lie in a closed line of pieces from `first` to `last` (k, 2): a
    ray to the right crosses it an odd number of times. Points on the line may go either way."""
    odd = np.zeros(len(points), np.bool_)
    for rows in _slices(len(points), len(first)):
        x, y = points[rows, :1], points[rows, 1:]
        spans = (first[:, 1] > y) != (last[:, 1] > y)
        rise = last[:, 1] - first[:, 1]
        share = (y - first[:, 1]) / np.where(rise == 0, 1.0, rise)
        right = first[:, 0] + share * (last[:, 0] - first[:, 0]) > x
        odd[rows] = (spans & right).sum(axis=1) % 2 == 1
    return odd


def gap(points: Floats, first: Floats, last: Floats) -> Floats:
    """How far (m) some points (m, 2) are from the nearest of the pieces from `first` to `last`
    (k, 2); infinite where there are none."""
    found = np.full(len(points), np.inf)
    if not len(first):
        return found
    way = last - first
    square = (way * way).sum(axis=1)
    square = np.where(square == 0, 1.0, square)
    for rows in _slices(len(points), len(first)):
        to = points[rows, None, :] - first
        share = np.clip((to * way).sum(axis=2) / square, 0.0, 1.0)
        off = to - way * share[:, :, None]
        found[rows] = np.sqrt((off * off).sum(axis=2).min(axis=1))
    return found


def _slices(points: int, pieces: int) -> list[slice]:
    step = max(1, _AT_ONCE // max(1, pieces))
    return [slice(at, at + step) for at in range(0, points, step)]
