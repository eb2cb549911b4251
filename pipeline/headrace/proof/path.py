"""The path of a program, as it is compared: moves in columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

import numpy as np
import numpy.typing as npt

from headrace.language import Block
from headrace.language.modal import AXES, PLANES
from headrace.language.trace import CCW, CW, HOME, RAPID
from headrace.plugins.contract import Affine, Renumbering
from headrace.program import Program

Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
Longs = npt.NDArray[np.int64]

SAME = 1e-6
"""Positions, feeds and times that differ by less (mm, mm/min, s) are the same: far below any
controller's least increment, far above the rounding of the arithmetic."""


class Held(Protocol):
    """What holds over some moves."""

    @property
    def spindle(self) -> str | None: ...
    @property
    def speed(self) -> float | None: ...
    @property
    def mist(self) -> bool: ...
    @property
    def flood(self) -> bool: ...
    @property
    def outputs(self) -> tuple[tuple[int, bool], ...]: ...
    @property
    def tool(self) -> int | None: ...
    @property
    def system(self) -> int: ...
    @property
    def inverse_time(self) -> bool: ...
    @property
    def incremental(self) -> bool: ...
    @property
    def length(self) -> int | None: ...
    def in_system(self, system: int) -> Held:
        """The same in another work offset system."""

    def by_the_minute(self) -> Held:
        """The same where F is a feed."""


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """Some moves (m), with the settings that they were made under.

    `line` (m) are lines of the program; `starts` and `ends` six columns each (mm, degrees); `feed`
    (m); `placed` for each axis the place in machine coordinates where it ends (m), as long as the
    program has named no other place, or None, and `held` the same where it begins; `arc` (4, m)
    centre, turn and plane, NaN where a move is no arc; `which` (m) indexes `settings`; `by` are
    increments as they were written, six columns, NaN where there are none; `ids` (m) are the
    identities of the lines, which stay with them through all steps.
    """

    line: npt.NDArray[np.int32]
    kind: npt.NDArray[np.uint8]
    starts: list[Floats]
    ends: list[Floats]
    feed: Floats
    placed: list[Floats | None]
    held: list[Floats | None]
    arc: Floats
    which: npt.NDArray[np.intp]
    settings: Sequence[Held]
    by: list[Floats] | None = None
    ids: npt.NDArray[np.int32] | None = None

    def __len__(self) -> int:
        return len(self.line)

    @property
    def cuts(self) -> Bools:
        """Which moves cut, or go at feed (m)."""
        cuts: Bools = (self.kind != RAPID) & (self.kind != HOME)
        return cuts

    @property
    def named(self) -> Bools:
        """Which moves name places, not increments (m)."""
        table: Bools = np.array([not s.incremental for s in self.settings], np.bool_)
        named: Bools = table[self.which]
        return named

    @property
    def arcs(self) -> Bools:
        """Which moves are arcs (m)."""
        arcs: Bools = (self.kind == CW) | (self.kind == CCW)
        return arcs

    @classmethod
    def of(cls, blocks: Sequence[Block]) -> Path:
        """The moves of some blocks of a trace."""
        sizes = [len(block) for block in blocks]
        placed = [_placed(blocks, axis) for axis in range(len(AXES))]
        columns = [_places(blocks, axis) for axis in range(len(AXES))]
        return cls(
            line=_joined([block.line for block in blocks], np.int32),
            kind=_joined([block.kind for block in blocks], np.uint8),
            starts=[starts for starts, _ in columns],
            ends=[ends for _, ends in columns],
            feed=_joined([block.feed for block in blocks], np.float64),
            placed=placed,
            held=[_held(blocks, axis, column) for axis, column in enumerate(placed)],
            arc=_arc_columns(blocks, sum(sizes)),
            which=np.repeat(np.arange(len(blocks)), sizes),
            settings=[block.setting for block in blocks],
        )

    def where(self, keep: Bools | Longs | slice) -> Path:
        """Some of the moves."""
        return replace(
            self,
            line=self.line[keep],
            kind=self.kind[keep],
            starts=[column[keep] for column in self.starts],
            ends=[column[keep] for column in self.ends],
            feed=self.feed[keep],
            placed=[None if column is None else column[keep] for column in self.placed],
            held=[None if column is None else column[keep] for column in self.held],
            arc=self.arc[:, keep],
            which=self.which[keep],
            by=None if self.by is None else [column[keep] for column in self.by],
            ids=None if self.ids is None else self.ids[keep],
        )

    def renumbered(self, renumbers: Sequence[Renumbering]) -> Path:
        """The same moves, said from another zero where they were made in one of these systems."""
        starts, ends = (
            [column.copy() for column in columns] for columns in (self.starts, self.ends)
        )
        arc = self.arc.copy()
        settings = list(self.settings)
        # what holds for one tool comes before what holds for all others
        for each in sorted(renumbers, key=lambda each: each.tool is None):
            here = [
                at
                for at, held in enumerate(self.settings)
                if settings[at] is held
                and held.system == each.system
                and each.tool in (None, held.tool)
            ]
            rows = np.flatnonzero(np.isin(self.which, here))
            for at in here:
                settings[at] = self.settings[at].in_system(each.into)
            for axis, shift in enumerate(each.shift):
                starts[axis][rows] += shift
                ends[axis][rows] += shift
            for plane, (u, v, _) in PLANES.items():
                round_ = rows[arc[3, rows] == plane]
                arc[0, round_] += each.shift[u]
                arc[1, round_] += each.shift[v]
        return replace(self, starts=starts, ends=ends, arc=arc, settings=settings)

    def mapped(self, affine: Affine) -> Path:
        """The same moves on a mapped path. An arc that would not be one any more has its centre
        nowhere (infinite), which nothing equals."""
        starts, ends = (_mapped(affine, columns) for columns in (self.starts, self.ends))
        kind, arc = self.kind.copy(), self.arc.copy()
        for plane in np.unique(arc[3][self.arcs]).astype(int):
            rows = np.flatnonzero(self.arcs & (arc[3] == plane))
            u, v, w = PLANES[plane]
            centre = [np.zeros(len(rows))] * 3
            centre[u], centre[v], centre[w] = arc[0, rows], arc[1, rows], self.starts[w][rows]
            moved = _mapped(affine, [*centre, *([np.zeros(len(rows))] * 3)])
            linear = affine.matrix[:, :3]
            along, across = linear[:, u], linear[:, v]
            round_still = abs(along @ along - across @ across) < SAME and abs(along @ across) < SAME
            flat_still = max(abs(along[w]), abs(across[w])) < SAME
            keeps = round_still and flat_still
            arc[0, rows] = moved[u] if keeps else np.inf
            arc[1, rows] = moved[v] if keeps else np.inf
            if along[u] * across[v] - along[v] * across[u] < 0:
                kind[rows] = (CW + CCW) - kind[rows]
        return replace(self, kind=kind, starts=starts, ends=ends, arc=arc, by=None)


def joined(paths: Sequence[Path]) -> Path:
    """Paths one behind the other."""
    firsts = np.cumsum([0, *(len(path.settings) for path in paths)])

    def whole(columns: list[list[Floats | None]]) -> list[Floats | None]:
        found: list[Floats | None] = []
        for axis in range(len(AXES)):
            parts = [column[axis] for column in columns]
            if all(part is None for part in parts):
                found.append(None)
                continue
            sizes = [len(path) for path in paths]
            filled = [
                np.full(size, np.nan) if part is None else part
                for part, size in zip(parts, sizes, strict=True)
            ]
            found.append(np.concatenate(filled))
        return found

    return Path(
        line=np.concatenate([path.line for path in paths]),
        kind=np.concatenate([path.kind for path in paths]),
        starts=[np.concatenate([p.starts[axis] for p in paths]) for axis in range(len(AXES))],
        ends=[np.concatenate([p.ends[axis] for p in paths]) for axis in range(len(AXES))],
        feed=np.concatenate([path.feed for path in paths]),
        placed=whole([path.placed for path in paths]),
        held=whole([path.held for path in paths]),
        arc=np.concatenate([path.arc for path in paths], axis=1),
        which=np.concatenate([p.which + at for p, at in zip(paths, firsts, strict=False)]),
        settings=[setting for path in paths for setting in path.settings],
        ids=None
        if any(path.ids is None for path in paths)
        else np.concatenate([path.ids for path in paths if path.ids is not None]),
        by=None
        if all(path.by is None for path in paths)
        else [
            np.concatenate([np.full(len(p), np.nan) if p.by is None else p.by[axis] for p in paths])
            for axis in range(len(AXES))
        ],
    )


def own_moves(program: Program, path: Path, new: int | None) -> Path:
    """The moves with the identities of their lines, but for those of lines whose id is `new` or
    above."""
    known = replace(path, ids=program.ids(path.line))
    return known if new is None or known.ids is None else known.where(known.ids < new)


def _mapped(affine: Affine, columns: Sequence[Floats]) -> list[Floats]:
    """Six columns with X Y Z mapped; what is unknown spreads only along what it has a part in."""
    found = []
    for row in affine.rows:
        total = np.full(len(columns[0]), row[3])
        for factor, column in zip(row[:3], columns, strict=False):
            if factor:
                total = total + factor * column
        found.append(total)
    return [*found, *columns[3:]]


def _placed(blocks: Sequence[Block], axis: int) -> Floats | None:
    """For each move the place in machine coordinates where an axis stands, as long as the program
    has named no other place since it sent it there; NaN else. None where there is no such move."""
    if not any(axis in dict(block.setting.placed) for block in blocks):
        return None
    columns = []
    for block in blocks:
        place = dict(block.setting.placed).get(axis, np.nan)
        still = at_place(block.ends[axis], place - block.setting.offset[axis])
        columns.append(np.where(still, place, np.nan))
    return np.concatenate(columns)


def _held(blocks: Sequence[Block], axis: int, placed: Floats | None) -> Floats | None:
    """The same as `_placed`, for where each move begins."""
    if placed is None:
        return None
    first = blocks[0]
    stays = first.start[axis] == first.ends[axis][0] if len(first) else False
    return np.concatenate([[placed[0] if stays else np.nan], placed[:-1]])


def at_place(column: Floats, place: float) -> Bools:
    """Where a column is at one place, known or not."""
    same: Bools = np.isnan(column) if place != place else np.abs(column - place) <= SAME
    return same


def _places(blocks: Sequence[Block], axis: int) -> tuple[Floats, Floats]:
    """Where each move begins and ends along an axis; without a copy where it stands still."""
    place = np.array([blocks[0].start[axis] if blocks else np.nan])
    if all(_stands(block, axis, place) for block in blocks):
        still = np.broadcast_to(place[0], sum(map(len, blocks)))
        return still, still
    return (
        _joined([block.starts(axis) for block in blocks], np.float64),
        _joined([block.ends[axis] for block in blocks], np.float64),
    )


def _stands(block: Block, axis: int, place: Floats) -> bool:
    """Whether an axis stands at a place, or nobody knows where, as far as that is told cheaply."""
    ends = block.ends[axis]
    some = ends[:1] if ends.strides == (0,) else ends[:_FEW]
    told = ends.strides == (0,) or len(ends) <= _FEW
    return told and all(
        np.array_equal(np.broadcast_to(place, len(side)), side, equal_nan=True)
        for side in (some, np.array([block.start[axis]]))
    )


_FEW = 1024
"""So many moves are looked at one by one."""


def _arc_columns(blocks: Sequence[Block], count: int) -> Floats:
    """Centre, turn and plane of each move (4, count); NaN where it is no arc."""
    if all(block.arcs is None for block in blocks):
        return np.broadcast_to(np.float64(np.nan), (4, count))
    columns = np.full((4, count), np.nan)
    begun = 0
    for block in blocks:
        if block.arcs is not None:
            rows = begun + block.arcs.rows
            columns[0, rows] = block.arcs.centre_u
            columns[1, rows] = block.arcs.centre_v
            columns[2, rows] = block.arcs.turn
            columns[3, rows] = block.setting.plane
        begun += len(block)
    return columns


_Kind = TypeVar("_Kind", bound=np.generic)


def _joined(parts: list[npt.NDArray[_Kind]], dtype: type[_Kind]) -> npt.NDArray[_Kind]:
    if len(parts) == 1:
        return parts[0]
    return np.concatenate(parts) if parts else np.zeros(0, dtype)
