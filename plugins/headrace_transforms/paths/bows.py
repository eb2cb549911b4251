"""Arcs through rows of places: where many short lines stand for one arc.

The arc begins and ends where the row does, so its centre lies on the bisector of the chord between
the two; where on it, least squares over the places between say. How far places and lines lie from
the arc is measured as it is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
Longs = npt.NDArray[np.int64]

_LARGEST_RADIUS = 10_000.0
_LARGEST_TURN = np.radians(350)
"""Nearer to a full circle a small change of the ends would be a large one of the arc."""
_LONG_TURN = np.radians(300)
"""Longer arcs are two."""
_LARGEST_STEP = np.radians(120)
_LEVELS = (8, 16, 32)
"""Rows of so many lines are looked at from every place at once."""
_AT_ONCE = 1 << 16


@dataclass(frozen=True, slots=True)
class Bow:
    """Lines `first` to `stop` as one arc: its centre (mm), its turn (rad, anticlockwise above
    zero)."""

    first: int
    stop: int
    centre: tuple[float, float]
    turn: float


def bows(points: Floats, tolerance: float, least: int) -> Iterator[Bow]:
    """The arcs, from the first place on each as long as it can be, in the lines between `points`
    (n + 1, 3; X Y Z, mm) that take the place of `least` lines or more."""
    count = len(points) - 1
    sizes = [least, *(size for size in _LEVELS if size > least)]
    levels: list[tuple[int, Bools]] = []
    starts = np.arange(len(points))
    for size in sizes:
        if size <= count:
            fits = _fits_from(points, starts[starts <= count - size], size, tolerance)
            starts = np.flatnonzero(fits)
            levels.append((size, fits))
    if not levels:
        return
    at = 0
    for start in np.flatnonzero(levels[0][1]).tolist():
        if start < at:
            continue
        size = _longest(points, start, tolerance, levels)
        found = fitted(points[start : start + size + 1], tolerance)
        if found is not None and abs(found[1]) > _LONG_TURN:
            # what is left of a circle would be too little for an arc of its own
            size //= 2
            found = fitted(points[start : start + size + 1], tolerance)
        if found is not None:
            yield Bow(start, start + size, *found)
            at = start + size


def _longest(points: Floats, start: int, tolerance: float, levels: list[tuple[int, Bools]]) -> int:
    """How many lines from `start` on are one arc: twice as many as long as they are, then halving
    what is left."""
    most = len(points) - 1 - start
    low, high = levels[0][0], most + 1
    for size, fits in levels[1:]:
        if size <= most and fits[start]:
            low = size
        else:
            high = min(high, size)
            break
    while high > most and low < most:
        size = min(2 * low, most)
        if fitted(points[start : start + size + 1], tolerance) is None:
            high = size
            break
        low = size
    while high - low > 1:
        size = (low + high) // 2
        if fitted(points[start : start + size + 1], tolerance) is None:
            high = size
        else:
            low = size
    return low


def fitted(points: Floats, tolerance: float) -> tuple[tuple[float, float], float] | None:
    """Centre and turn of the arc through a row of places (k + 1, 3); None where there is none."""
    fits, centre, turn = _fit(points[None, :, :], tolerance)
    if not fits[0]:
        return None
    return (float(centre[0, 0]), float(centre[0, 1])), float(turn[0])


def _fits_from(points: Floats, starts: Longs, size: int, tolerance: float) -> Bools:
    """For each place (n + 1) whether it is one of `starts` and the `size` lines from it on are an
    arc."""
    fits = np.zeros(len(points), np.bool_)
    step = max(1, _AT_ONCE // size)
    for begun in range(0, len(starts), step):
        some = starts[begun : begun + step]
        fits[some] = _fit(points[some[:, None] + np.arange(size + 1)], tolerance)[0]
    return fits


def _fit(rows: Floats, tolerance: float) -> tuple[Bools, Floats, Floats]:
    """Which rows of places (r, k + 1, 3) are arcs (r), their centres (r, 2) and turns (r)."""
    x, y, height = (np.ascontiguousarray(rows[:, :, axis]) for axis in range(3))
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        way_x, way_y = x[:, -1] - x[:, 0], y[:, -1] - y[:, 0]
        chord = np.hypot(way_x, way_y)
        half = chord / 2
        along_x, along_y = way_x / chord, way_y / chord
        middle_x, middle_y = x[:, 0] + way_x / 2, y[:, 0] + way_y / 2
        off_x, off_y = x[:, 1:-1] - middle_x[:, None], y[:, 1:-1] - middle_y[:, None]
        beside = off_y * along_x[:, None] - off_x * along_y[:, None]
        # places at (u, v) from the middle: u^2 + (v - t)^2 = half^2 + t^2 for a centre at (0, t)
        excess = off_x**2 + off_y**2 - (half**2)[:, None]
        t = (beside * excess).sum(axis=1) / (2 * (beside**2).sum(axis=1))
        centre_x, centre_y = middle_x - t * along_y, middle_y + t * along_x
        radius = np.hypot(half, t)
        x -= centre_x[:, None]
        y -= centre_y[:, None]
        out = np.abs(np.hypot(x, y) - radius[:, None]).max(axis=1)
        cross = x[:, :-1] * y[:, 1:] - y[:, :-1] * x[:, 1:]
        steps = np.arctan2(cross, x[:, :-1] * x[:, 1:] + y[:, :-1] * y[:, 1:])
        length = np.hypot(x[:, 1:] - x[:, :-1], y[:, 1:] - y[:, :-1])
        bow = radius - (np.abs(cross) / length).min(axis=1)
        total = steps.sum(axis=1)
        lowest, highest = steps.min(axis=1), steps.max(axis=1)
        step = np.maximum(-lowest, highest)
        apart = np.maximum(out, bow)
        climb = height[:, -1] - height[:, 0]
        if climb.any():
            meant = height[:, :1] + climb[:, None] * np.cumsum(steps, axis=1) / total[:, None]
            off = np.abs(height[:, 1:] - meant).max(axis=1)
            # between its ends a chord of a helix is ahead of it, then behind
            apart = np.hypot(apart, off + np.abs(climb) / steps.shape[1] * step**2 / 40)
        elif (height != height[:, :1]).any():
            apart = np.hypot(apart, np.abs(height - height[:, :1]).max(axis=1))
        fits = (apart <= tolerance) & (radius < _LARGEST_RADIUS) & (radius > 2 * tolerance)
        fits &= (np.abs(total) < _LARGEST_TURN) & (step < _LARGEST_STEP)
        fits &= (lowest > 0) | (highest < 0)
    return fits, np.column_stack([centre_x, centre_y]), total
