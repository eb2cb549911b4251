"""Depths in a few steps, as a drawing shades them: the levels of a job, or round numbers."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from headrace.picture.way import CUT, GAP, Leg, Way
from headrace.rehearsal.lengths import NEAR, mm
from headrace.rehearsal.space.extents import Floats

Bytes = npt.NDArray[np.uint8]

NOTHING, RAPID, AIR, UNLEVELLED, FIRST = 0, 1, 2, 3, 4
"""What a piece is drawn as: not at all, a rapid, at feed above the sheet, a cut at a height that is
not known; `FIRST` and those that follow are cuts by depth, from shallow to deep."""

_LEVELS = 4
"""So many steps besides cuts that go through."""
_ROUND = (0.01, 0.02, 0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 2.5, 5.0, 10.0, 20.0, 50.0)
_FLAT = 1e-3


@dataclass(frozen=True, slots=True)
class Depths:
    """The steps: `bounds` are the depths (mm below the sheet's top) down to which each goes, from
    shallow to deep; the last is infinite where cuts go through the sheet, which begin at `through`.
    They go through `every` sheet that the set-up allows, or else through the thinnest."""

    bounds: tuple[float, ...]
    through: float | None
    every: bool

    @classmethod
    def of(cls, way: Way) -> Depths:
        """The steps of a way."""
        depth = -way.low[way.engaged]
        depth = depth[~np.isnan(depth)]
        through, every = None, False
        if len(depth) and way.floor is not None and way.sure is not None:
            deepest = float(depth.max())
            every = deepest >= -way.sure - NEAR
            if deepest >= -way.floor - NEAR:
                through = -way.sure if every else -way.floor
        stays = depth if through is None else depth[depth < through - NEAR]
        bounds: list[float] = []
        if len(stays):
            levels, deepest = _levels(way, through), float(stays.max())
            bounds = levels if levels and levels[-1] >= deepest - _FLAT else _rounded(deepest)
        if through is not None:
            bounds.append(float("inf"))
        return cls(tuple(bounds), through, every)

    def codes(self, way: Way) -> Bytes:
        """What each piece of a way is drawn as (n)."""
        low = way.low
        placed = way.placed
        codes = np.zeros(len(low), np.uint8)
        codes[way.kind == 0] = RAPID
        cuts = way.kind == CUT
        codes[cuts] = AIR
        engaged = way.engaged
        codes[engaged] = FIRST
        edges = self.edges
        for step, edge in enumerate(edges[:-1]):
            codes[engaged & (low < -edge - _FLAT)] = FIRST + step + 1
        if self.through is not None:
            codes[engaged & (low <= -self.through + NEAR)] = FIRST + len(edges) - 1
        codes[engaged & np.isnan(low)] = UNLEVELLED
        codes[~placed | (way.kind == GAP)] = NOTHING
        return codes

    @property
    def edges(self) -> tuple[float, ...]:
        """The depths at which one step ends and the next begins, and the last one's end."""
        if self.through is None:
            return self.bounds
        return tuple(min(bound, self.through) for bound in self.bounds[:-1]) + self.bounds[-1:]

    @property
    def heights(self) -> tuple[float, ...]:
        """The heights at which the look of a cut changes: the sheet's top, and every edge."""
        return (0.0, *(-edge for edge in self.edges if edge < float("inf")))

    def shade(self, step: int) -> int:
        """Which of the palette's five shades a step has: the darkest only where it goes through."""
        if self.through is not None and step == len(self.bounds) - 1:
            return 5
        count = len(self.bounds) - (self.through is not None)
        return 2 if count == 1 else 1 + round(step * 3 / (count - 1))

    def name(self, step: int) -> str:
        """What a legend says of a step."""
        if self.through is not None and step == len(self.bounds) - 1:
            return "through" if self.every else "through a thin sheet"
        return f"to {mm2(self.edges[step])} deep"


def mm2(length: float) -> str:
    """A length as drawings tell it, to a hundredth."""
    return mm(round(length, 2) + 0.0)


def _levels(way: Way, through: float | None) -> list[float]:
    """The depths of level cuts and of holes' floors that do not go through (mm), ascending; none
    where there are too many."""
    z = way.z
    stays = way.engaged.copy()
    stays[1:] &= np.abs(z[1:] - z[:-1]) < _FLAT
    deep = np.round(-way.low[stays], 4)
    if through is not None:
        deep = deep[deep < through - NEAR]
    found = np.unique(deep[:: max(1, len(deep) // 50_000)])
    return [float(level) for level in found if level > 0] if len(found) <= _LEVELS else []


def _rounded(deepest: float) -> list[float]:
    step = next((step for step in _ROUND if step * _LEVELS >= deepest - NEAR), deepest / _LEVELS)
    return [step * (1 + at) for at in range(max(1, int(np.ceil(deepest / step - 1e-9))))]


def parted(way: Way, heights: tuple[float, ...], longer: float) -> Way:
    """The way with points where cuts that go further than `longer` (mm) sideways pass a height."""
    x, y, z = way.x, way.y, way.z
    sideways = np.hypot(np.diff(x), np.diff(y)) > longer
    sideways &= (way.kind[1:] == CUT) & (z[1:] != z[:-1])
    rows = np.flatnonzero(sideways)
    places: list[Floats] = []
    for height in heights:
        first, last = z[rows], z[rows + 1]
        passed = (first - height) * (last - height) < 0
        at = rows[passed]
        places.append(at + (height - z[at]) / (z[at + 1] - z[at]))
    every = np.unique(np.concatenate([*places, np.zeros(0)]))
    if not len(every):
        return way
    before = np.floor(every).astype(np.int64)
    share = every - before
    columns = [
        np.insert(
            column, before + 1, column[before] + share * (column[before + 1] - column[before])
        )
        for column in (x, y, z)
    ]
    legs = tuple(
        Leg(
            leg.first + int(np.searchsorted(before + 1, leg.first, "left")),
            leg.stop + int(np.searchsorted(before + 1, leg.stop, "left")),
            leg.number,
            leg.width,
        )
        for leg in way.legs
    )
    kind = np.insert(way.kind, before + 1, way.kind[before + 1])
    return replace(way, x=columns[0], y=columns[1], z=columns[2], kind=kind, legs=legs)
