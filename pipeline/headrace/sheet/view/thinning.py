"""A way with fewer points: between those that are kept the others lie evenly on straight lines."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Points = npt.NDArray[np.int32]
_Kind = TypeVar("_Kind", bound=np.generic)

_SHORTEST, _LONGEST = 64, 512
"""Steps of a piece that is thinned by itself; pieces are thinned side by side."""
_SAMPLE = 20
"""Pieces that tell how many points a tolerance would leave."""
_EXACT = 1 << 23
"""Below it single precision tells whole numbers apart."""


def thinned(points: Points, forced: Bools, within: float) -> Bools:
    """Which of the points (c, p), whole numbers, to keep (p), the forced ones among them.

    The points between two kept ones are not further than `within`, along each coordinate, from
    where they would lie if the way went evenly from one to the other, point by point. O(p).
    """
    kept = forced.copy()
    kept[:1] = kept[-1:] = True
    lane = _lane(len(kept))
    if len(kept) > lane:
        marks = _lanes(kept[None], lane)[:, 0]
        marks |= _swept(_lanes(points, lane), marks, np.array([within]))
    tail = (len(kept) - 1) // lane * lane
    kept[tail:] |= _swept(points.T[tail:, :, None], kept[tail:, None], np.array([within]))[:, 0]
    return kept


def sparse_enough(points: Points, forced: Bools, withins: Sequence[float], most: int) -> int:
    """Which of the tolerances (ascending) is the first that is likely to leave `most` points at
    the most, reckoned from pieces here and there; the last one, if none does."""
    lane = _lane(len(forced))
    if len(forced) <= lane:
        return 0
    lanes, marks = _lanes(points, lane), _lanes(forced[None], lane)[:, 0]
    count = marks.shape[1]
    which = np.unique(np.linspace(0, count - 1, min(count, _SAMPLE)).astype(np.int64))
    tries = len(withins)
    kept = _swept(
        np.tile(lanes[:, :, which], (1, 1, tries)),
        np.tile(marks[:, which], (1, tries)),
        np.repeat(np.array(withins), len(which)),
    )
    share = len(forced) / (len(which) * lane)
    found = kept[1:].sum(axis=0).reshape(tries, -1).sum(axis=1) * share
    few = np.flatnonzero(found <= most)
    return int(few[0]) if len(few) else tries - 1


def _lane(count: int) -> int:
    """How many steps a piece of so many points takes: few where the points are few."""
    return min(max(int(count**0.5), _SHORTEST), _LONGEST)


def _lanes(points: npt.NDArray[_Kind], lane: int) -> npt.NDArray[_Kind]:
    """Pieces (n, c, l) of the points (c, p), each beginning where the last one ends; what is left
    over is in none."""
    pieces = sliding_window_view(points, lane + 1, axis=1, writeable=True)[:, ::lane]
    return pieces.transpose(2, 0, 1)


def _swept(points: Points, forced: Bools, within: Floats) -> Bools:
    """Which of the points (n, c, l) to keep (n, l), for tolerances (1 or l). Each piece goes on
    from the last kept point for as long as one and the same slope passes no point by more than
    `within`, and the slope to the point itself is such a one."""
    small = max(points.max(), -points.min()) < _EXACT
    here = np.ascontiguousarray(points, np.float32 if small else np.float64)
    limit = within.astype(here.dtype)
    kept = forced.copy()
    kept[0] = kept[-1] = True
    anchor = here[0].copy()
    since = np.zeros(kept.shape[1], here.dtype)
    low, high = np.full_like(anchor, -np.inf), np.full_like(anchor, np.inf)
    for at in range(1, len(here)):
        since += 1
        slope = here[at] - anchor
        slope /= since
        turned = ((slope < low) | (slope > high)).any(axis=0)
        turned |= kept[at - 1]
        which = np.flatnonzero(turned)
        if len(which):
            kept[at - 1, which] = True
            anchor[:, which] = here[at - 1][:, which]
            since[which] = 1
            slope[:, which] = here[at][:, which] - anchor[:, which]
            low[:, which], high[:, which] = -np.inf, np.inf
        room = limit / since
        np.maximum(low, slope - room, out=low)
        slope += room
        np.minimum(high, slope, out=high)
    return kept
