"""Straight pieces of a way against a rectangle grown all round, its corners rounded."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from headrace.rehearsal.space.extents import Floats

Bools = npt.NDArray[np.bool_]
Corner = tuple[float, float]


def below(start: Floats, end: Floats, top: float) -> tuple[Floats, Floats, Bools]:
    """The part of each piece (m, 3) whose Z is less than `top`: its ends in X and Y (m, 2), and
    whether there is any."""
    rise = end[:, 2] - start[:, 2]
    low = np.minimum(start[:, 2], end[:, 2]) < top
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        crossing = np.clip((top - start[:, 2]) / rise, 0.0, 1.0)
    crossing = np.where(rise == 0, 0.0, crossing)
    begun = np.where(start[:, 2] < top, 0.0, crossing)
    done = np.where(end[:, 2] < top, 1.0, crossing)
    way = end[:, :2] - start[:, :2]
    first = start[:, :2] + way * begun[:, None]
    last = start[:, :2] + way * done[:, None]
    return first, last, low


def distance(first: Floats, last: Floats, low: Corner, high: Corner) -> Floats:
    """How far (m) straight pieces from `first` to `last` (m, 2) are from the rectangle `low` to
    `high`; 0 where they touch it, NaN where a piece is not known."""
    found = np.minimum(_from_point(first, low, high), _from_point(last, low, high))
    for corner in ((low[0], low[1]), (low[0], high[1]), (high[0], low[1]), high):
        found = np.minimum(found, _to_point(first, last, corner))
    found[_enters(first, last, low, high)] = 0.0
    return found


def _from_point(point: Floats, low: Corner, high: Corner) -> Floats:
    out = np.maximum(np.maximum(np.array(low) - point, point - np.array(high)), 0.0)
    gap: Floats = np.hypot(out[:, 0], out[:, 1])
    return gap


def _to_point(first: Floats, last: Floats, point: Corner) -> Floats:
    way = last - first
    to = np.array(point) - first
    square = (way * way).sum(axis=1)
    share = (to * way).sum(axis=1) / np.where(square == 0, 1.0, square)
    off = to - way * np.clip(share, 0.0, 1.0)[:, None]
    gap: Floats = np.hypot(off[:, 0], off[:, 1])
    return gap


def _enters(first: Floats, last: Floats, low: Corner, high: Corner) -> Bools:
    """Which pieces share a place with the rectangle."""
    enters, leaves = np.zeros(len(first)), np.ones(len(first))
    for axis in (0, 1):
        way = last[:, axis] - first[:, axis]
        still = way == 0
        divisor = np.where(still, 1.0, way)
        one = (low[axis] - first[:, axis]) / divisor
        other = (high[axis] - first[:, axis]) / divisor
        inside = (first[:, axis] >= low[axis]) & (first[:, axis] <= high[axis])
        enters = np.fmax(enters, np.where(still, np.where(inside, 0, 2), np.minimum(one, other)))
        leaves = np.fmin(leaves, np.where(still, 1.0, np.maximum(one, other)))
    known = ~np.isnan(first).any(axis=1) & ~np.isnan(last).any(axis=1)
    shared: Bools = (enters <= leaves) & known
    return shared
