"""How deep a job cuts at each place along X: its lowest line, seen from the front."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headrace.picture.way import Leg, Way
from headrace.rehearsal.space.extents import Floats

_MOST = 5_000_000
"""So many columns are looked at, over all cuts."""
_AT_ONCE = 1 << 19


@dataclass(frozen=True, eq=False, slots=True)
class Profile:
    """Columns of one width along X (n), the first of which begins at `left` (mm): the lowest height
    of a cut in each, NaN where none is. The bit is taken to be flat, as wide as it is described."""

    left: float
    column: float
    low: Floats

    @classmethod
    def of(cls, way: Way, left: float, right: float, column: float) -> Profile:
        """That of a way, from `left` to `right`, in columns as wide as told or wider."""
        cuts = np.flatnonzero(way.engaged)
        length = float(np.abs(way.x[cuts] - way.x[cuts - 1]).sum())
        column = max(column, length / _MOST)  # coarser where so much is cut
        count = max(1, int(np.ceil((right - left) / column)))
        every = np.full(count, np.inf)
        for leg in way.legs:
            low = np.full(count, np.inf)
            _lower(low, way, leg, left, column)
            reach = round((leg.width or 0.0) / 2 / column)
            np.minimum(every, _widened(low, reach), out=every)
        return cls(left, column, np.where(np.isfinite(every), every, np.nan))

    @property
    def deepest(self) -> float | None:
        """The lowest height of all; None without cuts."""
        return None if np.isnan(self.low).all() else float(np.nanmin(self.low))

    def runs(self) -> list[tuple[int, int]]:
        """Columns without a gap between them, from the first to behind the last."""
        cut = np.concatenate([[False], ~np.isnan(self.low), [False]])
        edges = np.flatnonzero(cut[1:] != cut[:-1])
        return [(int(first), int(stop)) for first, stop in edges.reshape(-1, 2)]


def _lower(low: Floats, way: Way, leg: Leg, left: float, column: float) -> None:
    """Bring columns down to where the cuts with a bit go."""
    first = max(leg.first - 1, 0)
    part = slice(first, leg.stop)
    x, z = (way.x[part] - left) / column, way.z[part]
    cuts = way.engaged[part].copy()
    cuts[: leg.first - first] = False
    cuts &= ~np.isnan(z)
    cuts[1:] &= ~np.isnan(z[:-1])
    ends = cuts.copy()
    ends[:-1] |= cuts[1:]
    _put(low, x[ends], z[ends])
    # pieces that pass whole columns between the ends: the height at each border
    at = np.floor(np.where(ends, x, 0.0))
    wide = np.flatnonzero(cuts[1:] & (np.abs(np.diff(at)) > 1)) + 1
    begun: Floats = np.minimum(at[wide - 1], at[wide])
    passed = np.abs(at[wide] - at[wide - 1]).astype(np.int64)
    lots = np.searchsorted(np.cumsum(passed), np.arange(_AT_ONCE, passed.sum(), _AT_ONCE))
    for lot in np.split(np.arange(len(wide)), np.unique(lots)):
        count = passed[lot]
        piece = np.repeat(wide[lot], count)
        number = np.arange(len(piece)) - np.repeat(np.cumsum(count) - count, count)
        border: Floats = np.repeat(begun[lot], count) + 1.0 + number
        share = (border - x[piece - 1]) / (x[piece] - x[piece - 1])
        height = z[piece - 1] + share * (z[piece] - z[piece - 1])
        _put(low, border - 0.5, height)
        _put(low, border + 0.5, height)


def _put(low: Floats, place: Floats, height: Floats) -> None:
    column = place.astype(np.int64)
    inside = (place >= 0) & (column < len(low))
    if not inside.all():
        column, height = column[inside], height[inside]
    np.minimum.at(low, column, height)


def _widened(low: Floats, reach: int) -> Floats:
    """The lowest of each column and `reach` more on both sides."""
    if not reach:
        return low
    wide = 2 * reach + 1
    padded = np.concatenate([np.full(reach, np.inf), low, np.full(reach, np.inf)])
    span = 1
    while span * 2 <= wide:
        padded = np.minimum(padded[:-span], padded[span:])
        span *= 2
    rest = wide - span
    return np.minimum(padded[: len(low)], padded[rest : rest + len(low)]) if rest else padded
