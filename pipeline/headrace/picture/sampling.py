"""Places along straight pieces, in lots that memory has room for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from headrace.picture.way import Rows
from headrace.rehearsal.space.extents import Floats

_AT_ONCE = 1 << 19


@dataclass(frozen=True, eq=False, slots=True)
class Pieces:
    """Straight pieces (k) from `u0`, `v0`, `du` and `dv` long."""

    u0: Floats
    v0: Floats
    du: Floats
    dv: Floats

    @classmethod
    def of(cls, u: Floats, v: Floats, first: Rows, last: Rows) -> Pieces:
        """Those from points `first` to points `last` (k) of some (n)."""
        return cls(u[first], v[first], u[last] - u[first], v[last] - v[first])

    @property
    def longest(self) -> Floats:
        """How long each is along the axis along which it is longer (k)."""
        return np.maximum(np.abs(self.du), np.abs(self.dv))


def samples(pieces: Pieces, counts: Rows, inset: bool = False) -> Iterator[tuple[Rows, Rows, Rows]]:
    """As many places on each piece as `counts` says (k), from end to end, or with `inset` in the
    middles of as many parts: the piece, and the place in whole units."""
    stops = np.cumsum(counts)
    begun, before = 0, 0
    while begun < len(counts):
        stop = max(begun + 1, int(np.searchsorted(stops, before + _AT_ONCE, "right")))
        part = slice(begun, stop)
        count = counts[part]
        ahead = np.repeat(stops[part] - count - before, count)
        number = np.arange(len(ahead)) - ahead + (0.5 if inset else 0.0)
        parts = count if inset else np.maximum(count - 1, 1)
        along, up = (np.repeat(way[part] / parts, count) for way in (pieces.du, pieces.dv))
        u = np.floor(np.repeat(pieces.u0[part], count) + number * along)
        v = np.floor(np.repeat(pieces.v0[part], count) + number * up)
        yield np.repeat(np.arange(begun, stop), count), u.astype(np.int64), v.astype(np.int64)
        begun, before = stop, int(stops[stop - 1])
