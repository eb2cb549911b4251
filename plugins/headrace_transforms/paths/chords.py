"""Chords of arcs and helices: how many are needed.

Of an arc of radius R a chord over the angle t lies R (1 - cos(t / 2)) inside at its middle, so for
a tolerance e the largest angle is 2 arccos(1 - e / R) (elementary geometry).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Longs = npt.NDArray[np.int64]

_WIDEST = 2 * np.pi / 3
"""No chord goes over a larger angle (rad), however small the arc is: it still turns its way."""
_ROUNDED = 1e-9


def fewest(radius: Floats, turn: Floats, rise: Floats, tolerance: Floats) -> Longs:
    """The least number of equal chords (k) that stay within `tolerance` of arcs that turn by `turn`
    (rad) and rise by `rise` across their plane; lengths in one unit.

    >>> fewest(np.array([25.0]), np.array([2 * np.pi]), np.zeros(1), np.array([0.01])).tolist()
    [112]
    """
    angle = 2 * np.arccos(np.clip(1 - tolerance / np.maximum(radius, 1e-12), -1, 1))
    least = np.ceil(turn / np.minimum(angle, _WIDEST) * (1 - _ROUNDED))
    count: Longs = np.maximum(least, 1).astype(np.int64)
    rising = np.flatnonzero(rise != 0)
    while len(rising):
        off = _apart(radius[rising], turn[rising], rise[rising], count[rising])
        few = off > tolerance[rising] * (1 + _ROUNDED)
        rising, off = rising[few], off[few]
        # it falls with the second to third power of the number
        more = (count[rising] * np.cbrt(off / tolerance[rising])).astype(np.int64)
        count[rising] = np.maximum(more, count[rising] + 1)
    return count


def _apart(radius: Floats, turn: Floats, rise: Floats, count: Longs) -> Floats:
    """How far chords lie from a helix at most: inside it, and above or below the place that it has
    at the same angle, which is largest where both climb alike."""
    half = turn / count / 2
    slope = np.tan(half)
    part = np.sqrt(np.maximum(slope / half - 1, 0)) / slope
    climb = np.abs(rise) / count / 2 * np.abs(part - np.arctan(part * slope) / half)
    apart: Floats = np.hypot(radius * (1 - np.cos(half)), climb)
    return apart


def repeated(count: Longs) -> tuple[Longs, Longs]:
    """For each of all chords (m) the arc that it belongs to, and its number from 1 on."""
    owner = np.repeat(np.arange(len(count)), count)
    first = np.cumsum(count) - count
    return owner, np.arange(len(owner)) - first[owner] + 1
