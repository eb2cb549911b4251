"""Which moves are to say the same: those of one line, before and after, by its identity.

That is only where to look. Whether they do say the same is measured for each bundle.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from headrace.program.program import ranges
from headrace.proof.chains import Chains
from headrace.proof.path import Bools, Path

Ids = npt.NDArray[np.int32]
Longs = npt.NDArray[np.int64]

_AT_ONCE = 1 << 16
"""So many moves are taken at once."""


@dataclass(frozen=True, slots=True, eq=False)
class Bundles:
    """Some bundles, one behind the other: moves `was[i]` to `was[i + 1]` of `old` and `now[i]` to
    `now[i + 1]` of `new` belong together."""

    old: Path
    new: Path
    was: Longs
    now: Longs

    def __len__(self) -> int:
        return len(self.was) - 1

    @classmethod
    def of(cls, old: Path, new: Path) -> Iterator[Bundles]:
        """All moves of two paths, in bundles by the ids of their lines; none where these are not
        known or come in another order."""
        if old.ids is None or new.ids is None or not len(old) or not len(new):
            return
        bounds = _bounds(old.ids, new.ids)
        if bounds is None:
            return
        was, now = bounds
        windows = np.arange(0, was[-1] + now[-1], _AT_ONCE)
        cuts = np.unique(np.append(np.searchsorted(was + now, windows), len(was) - 1)).tolist()
        for begun, stop in pairwise(cuts):
            yield cls(old, new, was[begun : stop + 1], now[begun : stop + 1])

    @property
    def sizes(self) -> tuple[Longs, Longs]:
        """How many moves each bundle has on both sides."""
        return np.diff(self.was), np.diff(self.now)

    def pairs(self) -> Bools:
        """Which bundles have the same kinds of moves on both sides, one for one."""
        was, now = self.sizes
        pairs: Bools = (was == now) & (was > 0)
        equal = np.flatnonzero(pairs)
        if len(equal):
            first, second = self._rows(self.was, equal), self._rows(self.now, equal)
            same = self.old.kind[first] == self.new.kind[second]
            begun = np.cumsum(was[equal]) - was[equal]
            pairs[equal] = np.logical_and.reduceat(same, begun)
        return pairs

    def rows_of(self, chosen: Longs) -> tuple[Path, Path, Longs]:
        """The moves of bundles with as many on both sides, and the bundle of each (m)."""
        if len(chosen) == len(self):
            old = self.old.where(slice(int(self.was[0]), int(self.was[-1])))
            new = self.new.where(slice(int(self.now[0]), int(self.now[-1])))
        else:
            old = self.old.where(self._rows(self.was, chosen))
            new = self.new.where(self._rows(self.now, chosen))
        return old, new, np.repeat(chosen, self.sizes[0][chosen])

    def chains(self, chosen: Longs, *, back: bool) -> Chains:
        """Bundles with one move on the one side: the old one, or with `back` the new one."""
        was, now = self.was[chosen], self.now[chosen]
        sizes = [size[chosen] for size in self.sizes]
        if back:
            return Chains(self.new, now, self.old, was, sizes[0])
        return Chains(self.old, was, self.new, now, sizes[1])

    @staticmethod
    def _rows(bounds: Longs, chosen: Longs) -> Longs:
        return ranges(bounds[chosen], bounds[chosen + 1] - bounds[chosen])


def _bounds(old: Ids, new: Ids) -> tuple[Longs, Longs] | None:
    """Where bundles begin on both sides, and how many moves there are; None where the lines come in
    another order."""
    was, now = (np.flatnonzero(np.diff(ids, prepend=-1)) for ids in (old, new))
    if not np.array_equal(old[was], new[now]):
        # a line that is on one side alone belongs to the one before it that is on both
        ids, first = np.unique(old[was], return_index=True)
        if len(ids) < len(was):
            return None
        at = np.minimum(np.searchsorted(ids, new[now]), len(ids) - 1)
        both = ids[at] == new[now]
        rank = first[at[both]]
        if (np.diff(rank) <= 0).any():
            return None
        was, now = was[rank], now[both]
        if not len(was) or was[0] or now[0]:
            was, now = (np.concatenate([[0], begun]) for begun in (was, now))
    return np.append(was, len(old)), np.append(now, len(new))
