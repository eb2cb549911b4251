"""Lines with fewer points that look the same: none is further from the old line than told.

The points that stay are found as Douglas and Peucker (1973) do, for many lines and all their parts
at once: in each round every part that strays too far from its chord is cut at its furthest point.
Distances are to the chord itself, so that old and new line are nowhere further apart than that
(their Hausdorff distance).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Rows = npt.NDArray[np.int64]

_LONGEST = 512
"""Every so many points one stays anyway: no line is so crooked that the rounds do not end."""
_AT_ONCE = _LONGEST << 7
"""So many points are looked at in one go, which memory has room for; between two that stay lines do
not depend on what lies elsewhere."""


def thinned(u: Floats, v: Floats, ends: Bools, within: float) -> Bools:
    """Which points of lines stay (n). `u` and `v` are the points of all lines one behind the other,
    `ends` tells which are the first or the last of a line; these stay."""
    rows = np.flatnonzero(ends | _bends(u, v))
    stays = ends[rows]
    stays[::_LONGEST] = True
    for first in range(0, len(rows), _AT_ONCE):
        lot = slice(first, first + _AT_ONCE + 1)  # both ends of a lot stay, or are a line's
        _cut(u[rows[lot]], v[rows[lot]], stays[lot], within)
    found = np.zeros(len(u), np.bool_)
    found[rows[stays]] = True
    return found


def _bends(u: Floats, v: Floats) -> Bools:
    """Which points do not lie straight between their neighbours, going on the same way."""
    bends = np.ones(len(u), np.bool_)
    if len(u) < 3:
        return bends
    across, along = np.diff(u), np.diff(v)
    cross = across[1:] * along[:-1]
    cross -= along[1:] * across[:-1]
    on = across[1:] * across[:-1]
    on += along[1:] * along[:-1]
    bends[1:-1] = (cross != 0) | (on <= 0)
    return bends


def _cut(u: Floats, v: Floats, stays: Bools, within: float) -> None:
    """Mark further points that stay, until all others lie near enough."""
    inner = np.flatnonzero(~stays)
    while len(inner):
        marks = np.flatnonzero(stays)
        which = np.searchsorted(marks, inner)
        first, last = marks[which - 1], marks[which]
        way_u, way_v = u[last] - u[first], v[last] - v[first]
        to_u, to_v = u[inner] - u[first], v[inner] - v[first]
        square = way_u * way_u + way_v * way_v
        share = np.clip((to_u * way_u + to_v * way_v) / np.where(square > 0, square, 1.0), 0, 1)
        off = np.hypot(to_u - share * way_u, to_v - share * way_v)
        begins = np.flatnonzero(np.diff(which, prepend=-1))
        worst = np.maximum.reduceat(off, begins)
        sizes = np.diff(np.append(begins, len(inner)))
        every = np.repeat(worst, sizes)
        far = every > within
        # the first of those that are furthest away, in each part
        crest = np.flatnonzero(far & (off == every))
        crest = crest[np.diff(which[crest], prepend=-1) != 0]
        stays[inner[crest]] = True
        far[crest] = False
        inner = inner[far]
