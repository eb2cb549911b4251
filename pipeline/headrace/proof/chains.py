"""One move against several: an arc and its chords, a long line and the short ones it stands for.

Everything is measured by true distance between the curves, in order along them: a chain that goes
back and forth, or the other way round, is no re-expression of the move. Many chains are measured
at once, in columns.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from headrace.language.modal import PLANES
from headrace.language.trace import CCW, CW, LINE
from headrace.program.program import ranges
from headrace.proof.path import SAME, Bools, Path

Floats = npt.NDArray[np.float64]
Longs = npt.NDArray[np.int64]

_MOST = 1 << 16
"""So many chords of one move are looked at, at the most."""
_BETWEEN = np.linspace(0.0, 1.0, 9)[1:-1]
"""Where along a chord its height across the plane is compared with the helix."""
_NONE = np.inf


@dataclass(frozen=True, slots=True)
class Chain:
    """How many moves the one stands for, and how far apart the curves are at most (mm)."""

    count: int
    deviation: float


@dataclass(frozen=True, eq=False)
class Chains:
    """Moves `at` (g) of `single`, each with the `count` (g) moves of `many`, from `begun` (g) on,
    that are to say the same."""

    single: Path
    at: Longs
    many: Path
    begun: Longs
    count: Longs

    def __len__(self) -> int:
        return len(self.at)

    @cached_property
    def firsts(self) -> Longs:
        """Where each chain begins among the moves of all (g)."""
        return np.cumsum(self.count) - self.count

    @cached_property
    def owner(self) -> Longs:
        """The chain of each move (m)."""
        return np.repeat(np.arange(len(self)), self.count)

    @cached_property
    def rows(self) -> Longs:
        """The rows in `many` of all moves (m)."""
        return ranges(self.begun, self.count)

    def where(self, chosen: Longs) -> Chains:
        """Some of the chains."""
        if len(chosen) == len(self):
            return self
        return Chains(
            self.single, self.at[chosen], self.many, self.begun[chosen], self.count[chosen]
        )

    def all(self, holds: Bools) -> Bools:
        """For each chain (g) whether something holds for all its moves (m)."""
        found: Bools = np.logical_and.reduceat(holds, self.firsts)
        return found


def deviations(chains: Chains, within: float) -> Floats:
    """How far each move is at most from the moves that are to say the same (g, mm); infinite where
    they do not, or by more than `within`.

    They are all straight, or all arcs about one centre like the one; X Y Z only.
    """
    found = np.full(len(chains), _NONE)
    if not len(chains):
        return found
    slack = max(within, SAME)
    chains = _left_alone(chains)
    kind, plane = chains.single.kind[chains.at], chains.single.arc[3, chains.at]
    other = chains.many.kind[chains.rows]
    straight, turns = chains.all(other == LINE), (kind == CW) | (kind == CCW)
    alike = chains.all(other == kind[chains.owner])
    whole = _unbroken(chains)
    _measure(found, chains, (kind == LINE) & straight & whole, _lines, slack)
    for number, axes in PLANES.items():
        here = turns & (plane == number) & whole
        _measure(found, chains, here & straight, lambda c, s, a=axes: _chords(c, a, s), slack)  # type: ignore[misc]
        _measure(found, chains, here & alike, lambda c, s, a=axes: _arcs(c, a, s), slack)  # type: ignore[misc]
    found[~(found <= slack)] = _NONE
    return found


def _left_alone(chains: Chains) -> Chains:
    """The same, with 0 for the place along an axis where it is not known and no move names it: it
    stays where it is."""
    single, many = chains.single, chains.many
    if not any(np.isnan(single.ends[axis][chains.at]).any() for axis in range(3)):
        return chains
    rows = chains.rows
    by_place = single.named[chains.at] & chains.all(many.named[rows])
    paths = []
    for path in (single, many):
        starts, ends = ([column.copy() for column in side] for side in (path.starts, path.ends))
        paths.append(replace(path, starts=starts, ends=ends))
    for axis in range(3):
        unknown = by_place.copy()
        for columns in (single.starts, single.ends):
            unknown &= np.isnan(columns[axis][chains.at])
        for columns in (many.starts, many.ends):
            unknown &= chains.all(np.isnan(columns[axis][rows]))
        known_to_stay = chains.at[unknown], rows[unknown[chains.owner]]
        for path, here in zip(paths, known_to_stay, strict=True):
            path.starts[axis][here] = path.ends[axis][here] = 0.0
    return Chains(paths[0], chains.at, paths[1], chains.begun, chains.count)


def _measure(
    found: Floats,
    chains: Chains,
    which: Bools,
    measure: Callable[[Chains, float], Floats],
    slack: float,
) -> None:
    chosen = np.flatnonzero(which)
    if len(chosen):
        with np.errstate(invalid="ignore", divide="ignore"):
            found[chosen] = measure(chains.where(chosen), slack)


def _unbroken(chains: Chains) -> Bools:
    """Whether each move of a chain begins where the one before it ends, and the last one goes
    somewhere (g)."""
    rows = chains.rows
    inner = np.ones(len(rows), np.bool_)
    inner[chains.firsts] = False
    holds = np.ones(len(rows), np.bool_)
    before = rows[inner] - 1
    for axis in range(3):
        apart = chains.many.starts[axis][rows[inner]] - chains.many.ends[axis][before]
        holds[inner] &= np.abs(apart) <= SAME
    last = chains.begun + chains.count - 1
    goes = [chains.many.starts[axis][last] != chains.many.ends[axis][last] for axis in range(3)]
    unbroken: Bools = chains.all(holds) & np.logical_or.reduce(goes)
    return unbroken


def _places(columns: list[Floats], rows: Longs) -> Floats:
    """X, Y and Z of some moves (3, k)."""
    return np.array([columns[axis][rows] for axis in range(3)])


def _most(chains: Chains, values: Floats) -> Floats:
    """The largest value of each chain (g); NaN counts as infinite."""
    most: Floats = np.maximum.reduceat(np.where(np.isnan(values), _NONE, values), chains.firsts)
    return most


def _totals(chains: Chains, values: Floats) -> Floats:
    """Sums along each chain, up to and with each move (m)."""
    total = np.cumsum(values)
    before = total[chains.firsts] - values[chains.firsts]
    summed: Floats = total - before[chains.owner]
    return summed


def _begins(chains: Chains, first: Floats, progress: Floats) -> Floats:
    """How far along the one each move begins (m), where the first of each chain begins at `first`
    (g)."""
    before = np.empty(len(progress))
    before[1:] = progress[:-1]
    before[chains.firsts] = first
    return before


def _settled(
    chains: Chains, first: tuple[Floats, Floats], progress: Floats, away: Floats, share: Floats
) -> Floats:
    """How far the ends of a chain's moves are from the one at most (g); infinite where they do not
    lead along it to its end.

    `progress` (m) is how far along the one (0 to 1) each move ends and `away` (m) how far from it
    (mm); `first` tells the same of where the first one begins (g, g). `share` (g) is the part of
    the way that a tolerance is.
    """
    onward = chains.all(progress - _begins(chains, first[0], progress) >= -share[chains.owner])
    last = chains.firsts + chains.count - 1
    arrives = progress[last] >= 1 - SAME - share
    most = np.maximum(_most(chains, away), np.where(np.isnan(first[1]), _NONE, first[1]))
    return np.where(onward & arrives, most, _NONE)


def _left(chains: Chains) -> Floats:
    """How far the last move of each chain ends from where the one ends (g)."""
    last = chains.begun + chains.count - 1
    apart = _places(chains.many.ends, last) - _places(chains.single.ends, chains.at)
    left: Floats = np.sqrt((apart**2).sum(axis=0))
    return left


def _lines(chains: Chains, slack: float) -> Floats:
    """Straight moves as one straight move."""
    start = _places(chains.single.starts, chains.at)
    way = _places(chains.single.ends, chains.at) - start
    square = (way**2).sum(axis=0)

    def along(points: Floats, owner: Longs) -> tuple[Floats, Floats]:
        offset, size = points - start[:, owner], square[owner]
        progress = np.where(size > 0, (offset * way[:, owner]).sum(axis=0) / size, 1.0)
        foot = np.clip(progress, 0, 1) * way[:, owner]
        return progress, np.sqrt(((offset - foot) ** 2).sum(axis=0))

    first = along(_places(chains.many.starts, chains.begun), np.arange(len(chains)))
    progress, away = along(_places(chains.many.ends, chains.rows), chains.owner)
    share = np.minimum(1.0, slack / np.maximum(np.sqrt(square), 1e-12))
    return np.maximum(_settled(chains, first, progress, away, share), _left(chains))


@dataclass(frozen=True, slots=True, eq=False)
class _Arcs:
    """Arcs or helices (g) in a plane: centre and start in the plane's two axes, the height across
    it at the start and what it rises, radius at the start and what it grows, the turn (rad, with
    its sign)."""

    centre: Floats
    start: Floats
    height: Floats
    rise: Floats
    radius: Floats
    grows: Floats
    turn: Floats

    @classmethod
    def of(cls, path: Path, at: Longs, axes: tuple[int, int, int]) -> _Arcs:
        u, v, w = axes
        start, end = _places(path.starts, at), _places(path.ends, at)
        centre = path.arc[:2, at]
        first, last = (np.hypot(*(place[[u, v]] - centre)) for place in (start, end))
        turn = path.arc[2, at] * np.where(path.kind[at] == CW, -1.0, 1.0)
        rise = end[w] - start[w]
        return cls(centre, start[[u, v]], start[w], rise, first, last - first, turn)

    @property
    def length(self) -> Floats:
        """How long they are (g)."""
        length: Floats = np.hypot(self.radius * self.turn, self.rise)
        return length

    def share(self, length: float) -> Floats:
        """The part of each that a length is, at most 1 (g)."""
        return np.minimum(1.0, length / np.maximum(self.length, 1e-12))

    def flat(self, points: Floats, owner: Longs, axes: tuple[int, int, int]) -> Floats:
        """Points in the plane, from the centre (2, k)."""
        found: Floats = points[[axes[0], axes[1]]] - self.centre[:, owner]
        return found

    def away(self, flat: Floats, across: Floats, owner: Longs, progress: Floats) -> Floats:
        """How far points are from the place of their progress (k)."""
        inside = np.clip(progress, 0, 1)
        radius = self.radius[owner] + self.grows[owner] * inside
        out = np.hypot(*flat) - radius
        up = across - (self.height[owner] + self.rise[owner] * inside)
        beyond = (progress - inside) * self.turn[owner] * radius
        away: Floats = np.sqrt(out**2 + up**2 + beyond**2)
        return away

    def place(self, owner: Longs, progress: Floats) -> tuple[Floats, Floats]:
        """The places behind a part (k): in the plane, from the centre (2, k), and across it."""
        begun = self.start - self.centre
        angle = np.arctan2(begun[1], begun[0])[owner] + self.turn[owner] * progress
        radius = self.radius[owner] + self.grows[owner] * progress
        across = self.height[owner] + self.rise[owner] * progress
        return radius * np.array([np.cos(angle), np.sin(angle)]), across


def _between(first: Floats, second: Floats) -> Floats:
    """The angles from some places to others, seen from the centre: half a turn at the most."""
    cross = first[0] * second[1] - first[1] * second[0]
    angle: Floats = np.arctan2(cross, first[0] * second[0] + first[1] * second[1])
    return angle


def _chords(chains: Chains, axes: tuple[int, int, int], slack: float) -> Floats:
    """Straight moves as one arc or helix."""
    arcs = _Arcs.of(chains.single, chains.at, axes)
    owner, each = chains.owner, np.arange(len(chains))
    starts, ends = (
        _places(columns, chains.rows) for columns in (chains.many.starts, chains.many.ends)
    )
    begins, flat = arcs.flat(starts, owner, axes), arcs.flat(ends, owner, axes)
    opening = begins[:, chains.firsts]
    begun = _between(arcs.start - arcs.centre, opening) / arcs.turn
    progress = begun[owner] + _totals(chains, _between(begins, flat)) / arcs.turn[owner]
    away = arcs.away(flat, ends[axes[2]], owner, progress)
    first = (begun, arcs.away(opening, starts[axes[2], chains.firsts], each, begun))
    settled = _settled(chains, first, progress, away, arcs.share(slack))
    before = _begins(chains, begun, progress)
    bows = _bows(arcs, owner, begins, flat, (before, progress))
    climbs = _climbs(arcs, owner, (begins, flat), (starts[axes[2]], ends[axes[2]]), before)
    bow = np.hypot(_most(chains, bows), _most(chains, climbs))
    return np.maximum(np.maximum(settled, bow), _left(chains))


def _bows(
    arcs: _Arcs, owner: Longs, begins: Floats, ends: Floats, progress: tuple[Floats, Floats]
) -> Floats:
    """How far each chord lies inside its arc at most (m)."""
    way = ends - begins
    square = (way**2).sum(axis=0)
    foot = np.clip(-(begins * way).sum(axis=0) / square, 0, 1)
    nearest = np.hypot(*(begins + np.nan_to_num(foot) * way))
    middle = np.clip((progress[0] + progress[1]) / 2, 0, 1)
    bows: Floats = np.maximum(arcs.radius[owner] + arcs.grows[owner] * middle - nearest, 0.0)
    return bows


def _climbs(
    arcs: _Arcs,
    owner: Longs,
    flat: tuple[Floats, Floats],
    across: tuple[Floats, Floats],
    before: Floats,
) -> Floats:
    """How far each chord lies above or below its helix at most, turned to the same angle (m)."""
    found = np.zeros(len(owner))
    rising = np.flatnonzero((across[0] != across[1]) | (arcs.rise[owner] != 0))
    if not len(rising):
        return found
    owner = owner[rising]
    begins, way = flat[0][:, rising], (flat[1] - flat[0])[:, rising]
    low, climb = across[0][rising], (across[1] - across[0])[rising]
    for part in _BETWEEN:
        turned = np.abs(_between(begins, begins + part * way)) / np.abs(arcs.turn[owner])
        meant = np.clip(before[rising] + turned, 0, 1)
        height = arcs.height[owner] + arcs.rise[owner] * meant
        found[rising] = np.maximum(found[rising], np.abs(low + part * climb - height))
    return found


def _arcs(chains: Chains, axes: tuple[int, int, int], slack: float) -> Floats:
    """Arcs about one centre, one behind the other, as one arc."""
    many, rows, owner = chains.many, chains.rows, chains.owner
    arcs = _Arcs.of(chains.single, chains.at, axes)
    same_plane = chains.all(many.arc[3, rows] == chains.single.arc[3, chains.at][owner])
    apart = np.hypot(*(many.arc[:2, rows] - chains.single.arc[:2, chains.at][:, owner]))
    progress = _totals(chains, many.arc[2, rows]) / np.abs(arcs.turn[owner])
    before = progress - many.arc[2, rows] / np.abs(arcs.turn[owner])
    deviation = apart
    for columns, parts in ((many.starts, before), (many.ends, progress)):
        points = _places(columns, rows)
        flat, across = arcs.place(owner, parts)
        off = arcs.flat(points, owner, axes) - flat
        high = points[axes[2]] - across
        deviation = np.maximum(deviation, np.sqrt(off[0] ** 2 + off[1] ** 2 + high**2))
    last = chains.firsts + chains.count - 1
    arrives = np.abs(progress[last] - 1) <= arcs.share(2 * slack) + SAME
    onward = chains.all(progress - 1 <= arcs.share(2 * slack)[owner] + SAME)
    found = np.maximum(_most(chains, deviation), _left(chains))
    settled: Floats = np.where(same_plane & arrives & onward, found, _NONE)
    return settled


def chain(single: Path, at: int, other: Path, begun: int, within: float) -> Chain | None:
    """The moves of `other` from `begun` on that together are move `at` of `single`, or None."""
    slack = max(within, SAME)
    for count in _counts(single, at, other, begun, slack):
        one = Chains(single, np.array([at]), other, np.array([begun]), np.array([count], np.int64))
        deviation = float(deviations(one, within)[0])
        if deviation <= slack:
            return Chain(count, deviation)
    return None


def _counts(single: Path, at: int, other: Path, begun: int, slack: float) -> list[int]:
    """How many moves from `begun` on may be one: those of a kind, up to where the one ends."""
    end = _places(single.ends, np.array([at]))[:, 0]
    size = 64
    while True:
        stop = min(begun + size, len(other))
        row = other.kind[begun:stop] == other.kind[begun]
        row = np.logical_and.accumulate(row)
        ends = _places(other.ends, np.arange(begun, stop))
        left = np.sqrt(((ends - end[:, None]) ** 2).sum(axis=0))
        done = np.flatnonzero(row & (left <= slack))
        if len(done):
            return _nearest(done, left)
        if stop == len(other) or size >= _MOST or not row[-1]:
            return []
        size *= 8


def _nearest(done: Longs, left: Floats) -> list[int]:
    """The first counts that bring a chain to the end: of several in a row, which are there where
    moves are shorter than the tolerance, the one that comes nearest."""
    runs = np.split(done, np.flatnonzero(np.diff(done) != 1) + 1)
    return [int(run[np.argmin(left[run])]) + 1 for run in runs[:_TRIED]]


_TRIED = 8
"""A chain may come by the end of a move before it ends there: a circle begins where it ends."""
