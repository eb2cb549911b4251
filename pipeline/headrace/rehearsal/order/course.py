"""The way of a job, looked up by the numbers of its moves (from 0) without walking it.

Looked at in stretches, so that what is near is found at once. What cuts is judged from where the
sheet's top lies: in the numbers in force, or in machine coordinates where these are known.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from math import inf, isnan

import numpy as np
import numpy.typing as npt

from headrace.findings import Place
from headrace.job import Job
from headrace.language import Block
from headrace.language.trace import CCW, HOME, LINE, PROBE, RAPID
from headrace.machine import Span, sheet_top_at
from headrace.rehearsal.lengths import NEAR
from headrace.rehearsal.numbered import Numbered
from headrace.rehearsal.shifts import shifts

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

_AT_ONCE = 4096
_PLANE_XY = 17


@dataclass(frozen=True, slots=True)
class Cut:
    """A move at feed that is not known to stay above the sheet; `certain` where it goes in."""

    move: int
    certain: bool


@dataclass(frozen=True, slots=True)
class Sideways:
    """How far (mm) the head goes from where a stretch begins, along X and Y, at which move; and the
    first move whose way along them is not known."""

    distance: float
    move: int
    unknown: int | None


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Rows `low` to `high` of a block whose first move has the number `begun`."""

    begun: int
    block: Block
    low: int
    high: int

    @property
    def first(self) -> int:
        return self.begun + self.low

    @property
    def kind(self) -> npt.NDArray[np.uint8]:
        return self.block.kind[self.low : self.high]

    def ends(self, axis: int) -> Floats:
        return self.block.ends[axis][self.low : self.high]

    def starts(self, axis: int) -> Floats:
        found = np.empty(self.high - self.low)
        found[1:] = self.ends(axis)[:-1]
        found[:1] = self.block.ends[axis][self.low - 1] if self.low else self.block.start[axis]
        return found

    def goes(self, axis: int) -> Bools:
        """Which moves go along an axis, as far as is known: a place that was not known and now is
        counts as another one."""
        starts, ends = self.starts(axis), self.ends(axis)
        with np.errstate(invalid="ignore"):
            goes: Bools = ~np.isnan(ends) & ~(np.abs(ends - starts) <= NEAR)
        return goes


class Course(Numbered):
    """The moves of a job; a stretch is from a move to before another."""

    def __init__(self, job: Job) -> None:
        super().__init__(job.trace.blocks)
        self.job = job
        self._tops: dict[int | None, Span | None] = {}
        self._shifts = {
            id(block): shift[2]
            for block, shift in zip(self._blocks, shifts(self._blocks, job.trace), strict=True)
            if shift[2]
        }

    def line(self, move: int) -> int:
        """The line of a move."""
        block, row = self.at(move)
        return int(block.rel[row]) + block.base

    def place(self, move: int) -> Place:
        """The place of a move in the program."""
        return self.job.program.place(self.line(move))

    def goes_sideways(self, move: int) -> bool:
        """Whether a move goes along X or Y."""
        stretch = next(self._stretches(move, move + 1))
        return bool(stretch.goes(0)[0] or stretch.goes(1)[0])

    def first_cut(self, first: int, last: int) -> Cut | None:
        """The first move of a stretch that may cut."""
        for stretch in self._stretches(first, last):
            certain, possible = self._cuts(stretch)
            rows = np.flatnonzero(possible)
            if len(rows):
                return Cut(stretch.first + int(rows[0]), bool(certain[rows[0]]))
        return None

    def last_cut(self) -> int | None:
        """The last move that certainly cuts."""
        for stretch in self._stretches(0, len(self), backward=True):
            rows = np.flatnonzero(self._cuts(stretch)[0])
            if len(rows):
                return stretch.first + int(rows[-1])
        return None

    def first_feed(self, first: int, last: int) -> int | None:
        """The first move of a stretch at feed."""
        for stretch in self._stretches(first, last):
            rows = np.flatnonzero((stretch.kind >= LINE) & (stretch.kind <= CCW))
            if len(rows):
                return stretch.first + int(rows[0])
        return None

    def depth(self, moves: int) -> float | None:
        """How deep (mm) the tip certainly is in the sheet after so many moves; None where it is
        above, or not known."""
        if not 0 < moves <= len(self):
            return None
        block, row = self.at(moves - 1)
        top = self.top(block)
        below = -1.0 if top is None else top.least - float(block.ends[2][row])
        return below if below > NEAR else None

    def first_at_unknown_height(self) -> int | None:
        """The first move sideways before anything, or a probe, tells how high the tip is."""
        for stretch in self._stretches(0, len(self)):
            if any(axis == 2 for axis, _ in stretch.block.setting.placed):
                return None
            heights = ~np.isnan(stretch.starts(2)) | (stretch.kind == PROBE)
            known = int(np.argmax(heights)) if heights.any() else len(heights)
            early = (stretch.goes(0) | stretch.goes(1)) & (stretch.kind <= CCW)
            rows = np.flatnonzero(early[:known])
            if len(rows):
                return stretch.first + int(rows[0])
            if known < len(heights):
                return None
        return None

    def first_low_rapid(self, first: int, last: int) -> int | None:
        """The first rapid of a stretch that goes sideways and begins in the sheet."""
        for stretch in self._stretches(first, last):
            top = self.top(stretch.block)
            if top is None:
                continue
            with np.errstate(invalid="ignore"):
                low = stretch.starts(2) < top.least - NEAR
            rows = np.flatnonzero(
                low & (stretch.kind == RAPID) & (stretch.goes(0) | stretch.goes(1))
            )
            if len(rows):
                return stretch.first + int(rows[0])
        return None

    def least_time(self, first: int, last: int, enough: float = inf) -> float:
        """The seconds that the moves of a stretch take at least, each axis at its rapid; not more
        is counted than `enough`."""
        axes = self.job.machine.axes
        total = 0.0
        for stretch in self._stretches(first, last):
            longest = np.zeros(stretch.high - stretch.low)
            for axis, name in enumerate("xyz"):
                if name in axes:
                    way = np.abs(stretch.ends(axis) - stretch.starts(axis))
                    longest = np.fmax(longest, way * 60.0 / axes[name].rapid)
            total += float(longest[stretch.kind <= CCW].sum())
            if total >= enough:
                break
        return total

    def sideways(self, first: int, last: int) -> Sideways:
        """How far the head goes to the side in a stretch."""
        reached = Sideways(0.0, first, None)
        here = np.zeros(2)
        for stretch in self._stretches(first, last):
            ways = []
            unknown = np.zeros(stretch.high - stretch.low, np.bool_)
            for axis in (0, 1):
                way = stretch.ends(axis) - stretch.starts(axis)
                unknown |= stretch.goes(axis) & (np.isnan(way) | (stretch.kind == HOME))
                way[np.isnan(way) | (stretch.kind == HOME)] = 0.0
                ways.append(here[axis] + np.cumsum(way))
            distance = np.hypot(*ways)
            row = int(np.argmax(distance))
            here = np.array([way[-1] for way in ways])
            lost = reached.unknown
            if lost is None and unknown.any():
                lost = stretch.first + int(np.argmax(unknown))
            further = float(distance[row]) > reached.distance
            reached = Sideways(
                float(distance[row]) if further else reached.distance,
                stretch.first + row if further else reached.move,
                lost,
            )
        return reached

    def top(self, block: Block) -> Span | None:
        """Where the sheet's top lies in a block, in the numbers in force; None where not known."""
        offset = block.setting.offset[2]
        if not isnan(offset):
            top = self._top_with(block.setting.tool)
            return None if top is None else top - offset
        sheet, shift = self.job.setup.sheet, self._shifts.get(id(block), 0.0)
        if sheet.zero == "top":
            return Span.of(-shift)
        return None if sheet.thickness is None else sheet.thickness - shift

    def _top_with(self, tool: int | None) -> Span | None:
        """Where a bit meets the sheet's top, in machine coordinates."""
        if tool not in self._tops:
            self._tops[tool] = sheet_top_at(self.job.machine, self.job.setup.with_tool(tool))
        return self._tops[tool]

    def _cuts(self, stretch: _Stretch) -> tuple[Bools, Bools]:
        """Which moves of a stretch certainly cut, and which may. Straight up is no cut."""
        feeds = (stretch.kind >= LINE) & (stretch.kind <= CCW)
        if not feeds.any():
            return feeds, feeds
        starts, ends = stretch.starts(2), stretch.ends(2)
        low = np.fmin(starts, ends)
        top = self.top(stretch.block)
        with np.errstate(invalid="ignore"):
            up = (stretch.kind == LINE) & (ends > starts) & ~(stretch.goes(0) | stretch.goes(1))
            feeds = feeds & ~up
            if top is None:
                return np.zeros_like(feeds), feeds
            above = low > top.most
            if stretch.block.setting.plane != _PLANE_XY:
                above &= stretch.kind == LINE
            return feeds & (low < top.least - NEAR), feeds & ~above

    def _stretches(self, first: int, last: int, backward: bool = False) -> Iterator[_Stretch]:
        if first >= last:
            return
        from_block = bisect_right(self._begun, first) - 1
        to_block = bisect_right(self._begun, last - 1)
        order = range(from_block, to_block)
        for which in reversed(order) if backward else order:
            begun, block = self._begun[which], self._blocks[which]
            low, high = max(first - begun, 0), min(last - begun, len(block))
            bounds = range(low, high, _AT_ONCE)
            for at in reversed(bounds) if backward else bounds:
                yield _Stretch(begun, block, at, min(at + _AT_ONCE, high))
