"""The way of a job's tip over the sheet, in arrays: what a drawing is made of."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from math import isnan

import numpy as np
import numpy.typing as npt

from headrace.language.trace import HOME, LINE, PROBE, RAPID
from headrace.picture.crests import Area, crests
from headrace.rehearsal.lengths import NEAR
from headrace.rehearsal.space.extents import Floats
from headrace.rehearsal.space.lanes import SAG, lanes
from headrace.rehearsal.space.stretches import Stretch

Bools = npt.NDArray[np.bool_]
Kinds = npt.NDArray[np.uint8]
Rows = npt.NDArray[np.int64]
CUT = LINE
"""Lines and arcs alike."""
GAP = 255
"""No piece leads to this point: where the way before it ends is not known, or elsewhere."""

_FLAT = 17
"""The plane of X and Y, in which arcs keep their bulges as `crests`."""
_MANY = 20_000
"""So many arcs are drawn in chords that stray `_COARSE` of their whole width, which is less than
0.02 mm of paper."""
_COARSE = 1e-4


@dataclass(frozen=True, slots=True)
class Leg:
    """A part of a way, points `first` to `stop`, with one bit (its number and its width in mm)."""

    first: int
    stop: int
    number: int | None
    width: float | None


@dataclass(frozen=True, eq=False)
class Way:
    """Points one behind the other (n): `x` and `y` from the sheet's corner, `z` how far the tip is
    above the sheet's top, at the lowest that it may be (mm; NaN: not known). `kind` (n) is that of
    the piece that leads to each point: RAPID, CUT, PROBE, HOME or GAP.

    `floor` is the height of the spoilboard in the same numbers, `sure` that at which a cut goes
    through every sheet that the set-up allows; None where not described. `zeros` are the places
    from which the cuts count (X, Y), with the number of the work offset system. `unplaced` are
    moves whose place on the sheet, `unlevelled` cuts whose height is not known; `homing` and
    `probing` count moves that are none of these. `crests` are boxes around the bulges of arcs.
    Tips may be `slack` higher than told, as thickness and stick-out vary (mm).
    """

    x: Floats
    y: Floats
    z: Floats
    kind: Kinds
    legs: tuple[Leg, ...]
    floor: float | None
    sure: float | None
    zeros: tuple[tuple[float, float, int], ...]
    unplaced: int
    unlevelled: int
    homing: int
    probing: int
    crests: tuple[Area, ...] = ()
    slack: float = 0.0

    @cached_property
    def placed(self) -> Bools:
        """Which pieces begin and end at known places of the sheet (n)."""
        known = ~(np.isnan(self.x) | np.isnan(self.y))
        known[1:] &= known[:-1].copy()
        known[:1] = False
        known &= self.kind != GAP
        return known

    @cached_property
    def low(self) -> Floats:
        """The lower end of each piece (n)."""
        low = self.z.copy()
        np.fmin(low[1:], self.z[:-1], out=low[1:])
        return low

    @cached_property
    def engaged(self) -> Bools:
        """Which pieces cut below the top of the sheet, or at a height that is not known (n)."""
        engaged: Bools = self.placed & (self.kind == CUT) & ~(self.low >= -NEAR)
        return engaged

    @cached_property
    def area(self) -> Area | None:
        """The box around all cuts below the sheet's top, the bits' widths included; None without
        cuts."""
        corners = []
        for leg in self.legs:
            cuts = self.engaged[leg.first : leg.stop]
            # both ends of every cut
            ends = np.zeros(leg.stop - leg.first + 1, np.bool_)
            ends[1:] = cuts
            ends[:-1] |= cuts
            first = max(leg.first - 1, 0)
            ends = ends[1 - (leg.first - first) :]
            if not ends.any():
                continue
            x, y = self.x[first : leg.stop][ends], self.y[first : leg.stop][ends]
            half = (leg.width or 0.0) / 2
            corners.append((x.min() - half, y.min() - half, x.max() + half, y.max() + half))
        if not corners:
            return None
        corners += [(*low, *high) for low, high in self.crests]
        left, front, right, back = (np.array(corners)[:, at] for at in range(4))
        return (float(left.min()), float(front.min())), (float(right.max()), float(back.max()))


def way_of(space: Sequence[Stretch]) -> Way:
    """The whole way of a job, from its stretches."""
    sag = _sag(space)
    parts = [_points(stretch, sag) for stretch in space if len(stretch)]
    joined = list(_joined(parts))
    if not joined:
        none = np.zeros(0)
        return Way(none, none, none, np.zeros(0, np.uint8), (), None, None, (), 0, 0, 0, 0)
    x, y, z = (np.concatenate([part.at[axis] for part in joined]) for axis in range(3))
    kind = np.concatenate([part.kind for part in joined])
    cutting = [part for part in parts if ((part.kind == CUT) & ~(part.at[2] >= -NEAR)).any()]
    floors = [part.floor for part in cutting if part.floor is not None]
    sure = [part.sure for part in cutting if part.sure is not None]
    unknown = np.isnan(x) | np.isnan(y)
    unknown[1:] |= unknown[:-1].copy()
    return Way(
        x,
        y,
        z,
        kind,
        tuple(_legs(joined)),
        max(floors, default=None),
        min(sure, default=None),
        tuple(dict.fromkeys(part.zero for part in cutting if part.zero is not None)),
        int((unknown & ((kind == CUT) | (kind == RAPID))).sum()),
        int((np.isnan(z) & (kind == CUT)).sum()),
        int((kind == HOME).sum()),
        int((kind == PROBE).sum()),
        tuple(crests(space)),
        max((part.slack for part in cutting), default=0.0),
    )


@dataclass(frozen=True, eq=False, slots=True)
class _Part:
    at: tuple[Floats, Floats, Floats]
    kind: Kinds
    number: int | None
    width: float | None
    floor: float | None
    sure: float | None
    zero: tuple[float, float, int] | None
    slack: float


def _sag(space: Sequence[Stretch]) -> float:
    """How far chords of flat arcs may stray (mm)."""
    arcs = [stretch.block.arcs for stretch in space]
    if sum(len(each.rows) for each in arcs if each is not None) < _MANY:
        return SAG
    ends = [
        stretch.numbers(axis)[each.rows] + (stretch.frame.sheet[axis] or 0.0)
        for stretch, each in zip(space, arcs, strict=True)
        for axis in (0, 1)
        if each is not None and len(each.rows)
    ]
    across, up = (
        max(float(np.fmax.reduce(column)) for column in columns)
        - min(float(np.fmin.reduce(column)) for column in columns)
        for columns in (ends[::2], ends[1::2])
    )
    return max(SAG, _COARSE * max(across, up))


def _points(stretch: Stretch, sag: float) -> _Part:
    """The points of a stretch, where it begins first."""
    frame, block = stretch.frame, stretch.block
    kind: Kinds = np.concatenate([np.full(1, GAP, np.uint8), block.kind])
    if block.arcs is None:
        columns = []
        for axis in range(3):
            values = np.empty(len(stretch) + 1)
            values[0] = stretch.begun[axis]
            values[1:] = stretch.numbers(axis)
            add = frame.sheet[axis] if axis < 2 else 0.0
            values[1:] += np.nan if add is None else add
            columns.append(values)
    else:
        flat = block.setting.plane == _FLAT
        pieces = lanes(stretch, np.arange(len(stretch)), None, sag if flat else SAG)
        points = np.concatenate([pieces.start[:1], pieces.end])
        columns = [points[:, axis].copy() for axis in range(3)]
        kind = np.concatenate([kind[:1], block.kind[pieces.row]])
        kind[(kind > LINE) & (kind < PROBE)] = CUT
    for axis in (0, 1):
        if frame.sheet[axis] is None:
            columns[axis][:] = np.nan
    columns[2] += np.nan if frame.tip is None else frame.tip.least
    floor = sure = None
    if frame.tip is not None and frame.floor is not None:
        floor = frame.tip.least - frame.floor.least
        sure = frame.tip.least - frame.floor.most
    zero = None
    counted = not block.setting.placed  # and not in machine coordinates
    if counted and frame.sheet[0] is not None and frame.sheet[1] is not None:
        zero = frame.sheet[0], frame.sheet[1], block.setting.system
    tool = stretch.tool
    slack = 0.0 if frame.tip is None else frame.tip.most - frame.tip.least
    at = columns[0], columns[1], columns[2]
    return _Part(at, kind, tool.number, tool.diameter, floor, sure, zero, slack)


def _joined(parts: Sequence[_Part]) -> Iterator[_Part]:
    """The parts, without the first point of those that begin where the one before ends."""
    if parts:
        yield parts[0]
    for before, part in pairwise(parts):
        ends = (column[-1] for column in before.at)
        if all(_same(end, column[0]) for end, column in zip(ends, part.at, strict=True)):
            x, y, z = (column[1:] for column in part.at)
            yield replace(part, at=(x, y, z), kind=part.kind[1:])
        else:
            yield part


def _same(one: float, other: float) -> bool:
    return abs(one - other) <= NEAR or (isnan(one) and isnan(other))


def _legs(parts: Sequence[_Part]) -> Iterator[Leg]:
    first = stop = 0
    last: tuple[int | None, float | None] | None = None
    for part in parts:
        now = part.number, part.width
        if last is not None and now != last:
            yield Leg(first, stop, *last)
            first = stop
        last = now
        stop += len(part.kind)
    if last is not None:
        yield Leg(first, stop, *last)
