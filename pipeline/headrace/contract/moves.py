"""Comparing moves: the same places, in the same way, by the same lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from headrace.contract.version import SAME, Breach, Version
from headrace.language import Block
from headrace.language.modal import AXES
from headrace.language.trace import CCW, CW, HOME, RAPID, Setting
from headrace.plugins.transform import Facet
from headrace.program import Program

Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]

_LARGE = 256
"""Blocks from this size on are looked up in the other version before they are compared."""

_SETTINGS = (
    (Facet.SPINDLE, ("spindle", "speed"), "the spindle at a cutting move"),
    (Facet.OUTPUTS, ("mist", "flood", "outputs"), "the outputs at a cutting move"),
    (Facet.TOOL, ("tool",), "the tool of a cutting move"),
    (Facet.WORK_ZERO, ("system",), "the work offset system of a cutting move"),
    (Facet.FEED, ("inverse_time",), "what the feed of a move means"),
)


def move_breach(
    before: Version, after: Version, may: frozenset[Facet], *, adds_motion: bool
) -> Breach | None:
    """The first move that is not as it was.

    With `adds_motion` the moves of lines that only the later version has are left out.
    """
    brought = adds_motion or Facet.WORK_ZERO in may
    comparison = _Comparison(
        before,
        after,
        may,
        new=before.program.next_id if adds_motion else None,
        brought=_Brought.of(before, after) if brought else None,
    )
    old, new = before.trace.blocks, after.trace.blocks
    at_old = at_new = 0
    for old_to, new_to in [*_shared(old, new), (len(old), len(new))]:
        breach = comparison.of_blocks(old[at_old:old_to], new[at_new:new_to])
        if breach is None and old_to < len(old) and new_to < len(new):
            breach = comparison.of_shared(old[old_to], new[new_to])
        if breach is not None:
            return breach
        at_old, at_new = old_to + 1, new_to + 1
    return None


def _shared(old: Sequence[Block], new: Sequence[Block]) -> list[tuple[int, int]]:
    """Large blocks that both sides have from the same lines of the same text, in one order."""
    known = {id(block.rel): at for at, block in enumerate(old) if len(block) >= _LARGE}
    pairs = [(known[id(block.rel)], at) for at, block in enumerate(new) if id(block.rel) in known]
    ordered = all(a[0] < b[0] for a, b in pairwise(pairs))
    return pairs if ordered else []


@dataclass(frozen=True, slots=True, eq=False)
class _Moves:
    """Columns of some moves (m), with the settings that they were made under."""

    line: npt.NDArray[np.int32]
    kind: npt.NDArray[np.uint8]
    ends: list[Floats]
    feed: Floats
    placed: list[Floats | None]
    arc: Floats
    which: npt.NDArray[np.intp]
    settings: list[Setting]

    @classmethod
    def of(cls, program: Program, blocks: Sequence[Block], new: int | None) -> _Moves:
        """The moves of the blocks, but for those of lines whose id is `new` or above."""
        line = _joined([block.line for block in blocks], np.int32)
        sizes = [len(block) for block in blocks]
        keep = slice(None) if new is None else program.ids(line) < new
        return cls(
            line=line[keep],
            kind=_joined([block.kind for block in blocks], np.uint8)[keep],
            ends=[
                _joined([block.ends[axis] for block in blocks], np.float64)[keep]
                for axis in range(len(AXES))
            ],
            feed=_joined([block.feed for block in blocks], np.float64)[keep],
            placed=[
                None if column is None else column[keep]
                for column in (_placed(blocks, axis) for axis in range(len(AXES)))
            ],
            arc=_arc_columns(blocks, sum(sizes))[:, keep],
            which=np.repeat(np.arange(len(blocks)), sizes)[keep],
            settings=[block.setting for block in blocks],
        )


def _placed(blocks: Sequence[Block], axis: int) -> Floats | None:
    """For each move the place in machine coordinates where an axis stands, as long as the program
    has named no other place since it sent it there; NaN else. None where there is no such move."""
    if not any(axis in dict(block.setting.placed) for block in blocks):
        return None
    columns = []
    for block in blocks:
        place = dict(block.setting.placed).get(axis, np.nan)
        still = _at(block.ends[axis], place - block.setting.offset[axis])
        columns.append(np.where(still, place, np.nan))
    return np.concatenate(columns)


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


@dataclass(slots=True, eq=False)
class _Brought:
    """Where the steps bring the machine before the job's own part begins.

    A step that moves the machine or the zero may leave it elsewhere than before. As long as the
    job's own moves name no place along an axis, they stay where the steps brought it: `old` and
    `new` are these places, `waiting` tells of each axis whether that still holds.
    """

    old: tuple[float, ...]
    new: tuple[float, ...]
    waiting: list[bool]

    @classmethod
    def of(cls, before: Version, after: Version) -> _Brought:
        """From where the first own moves of both versions begin."""
        return cls(_begins(before), _begins(after), [True] * len(AXES))

    def excused(self, axis: int, own: Bools, old: Floats, new: Floats) -> Bools | None:
        """Which moves still wait for the job along an axis; None where it has named a place."""
        if not self.waiting[axis] or not len(own):
            return None
        stays = _at(old, self.old[axis]) & _at(new, self.new[axis])
        still: Bools = np.logical_and.accumulate(stays | ~own)
        self.waiting[axis] = bool(still[-1])
        return still & own

    def passed(self) -> None:
        """A block came out equal: an axis that differed at the beginning no longer waits."""
        self.waiting = [
            waits and old == new
            for waits, old, new in zip(self.waiting, self.old, self.new, strict=True)
        ]


def _begins(version: Version) -> tuple[float, ...]:
    """Where the first move of the job's own begins."""
    program = version.program
    for block in version.trace.blocks:
        rows = np.flatnonzero(program.own(block.line))
        if len(rows):
            return tuple(float(block.starts(axis)[rows[0]]) for axis in range(len(AXES)))
    return (float("nan"),) * len(AXES)


def _at(ends: Floats, place: float) -> Bools:
    """Where a column is at one place, known or not."""
    same: Bools = np.isnan(ends) if place != place else np.abs(ends - place) <= SAME
    return same


@dataclass(frozen=True, slots=True, eq=False)
class _Comparison:
    """Two versions and what may differ between them."""

    before: Version
    after: Version
    may: frozenset[Facet]
    new: int | None
    brought: _Brought | None

    def of_shared(self, old: Block, new: Block) -> Breach | None:
        """Two blocks from the same lines: only what the state brought in can differ."""
        alike = _alike(old.kind, new.kind) and _alike(old.feed, new.feed)
        alike = alike and all(_alike(a, b) for a, b in zip(old.ends, new.ends, strict=True))
        same_arcs = old.arcs is new.arcs
        if alike and same_arcs and self._same_setting(old.setting, new.setting):
            if self.brought is not None:
                self.brought.passed()
            return None
        return self.of_blocks([old], [new])

    def _same_setting(self, old: Setting, new: Setting) -> bool:
        return all(
            getattr(old, name) == getattr(new, name)
            for facet, names, _ in _SETTINGS
            if facet not in self.may
            for name in names
        )

    def of_blocks(self, old_blocks: Sequence[Block], new_blocks: Sequence[Block]) -> Breach | None:
        """The first difference between some moves and those in their place."""
        if not old_blocks and not new_blocks:
            return None
        old = _Moves.of(self.before.program, old_blocks, None)
        new = _Moves.of(self.after.program, new_blocks, self.new)
        count = min(len(old.line), len(new.line))
        wrong = [(int(np.argmax(bad)), what) for bad, what in self._differences(old, new, count)
                 if bad.any()]  # fmt: skip
        if len(old.line) < len(new.line):
            wrong.append((count, "the number of moves: one is added"))
        elif len(old.line) > len(new.line):
            wrong.append((count, "the number of moves: one is lost"))
        if not wrong:
            return None
        at, what = min(wrong)
        if at < len(old.line):
            return what, self.before.place(int(old.line[at]))
        return what, self.after.place(int(new.line[at]))

    def _differences(self, old: _Moves, new: _Moves, count: int) -> list[tuple[Bools, str]]:
        """For each view, where the first `count` moves differ."""
        kind = old.kind[:count]
        cuts = (kind != RAPID) & (kind != HOME)
        found = [(kind != new.kind[:count], "the kind of a move")]
        found += self._places(old, new, count)
        arcs = (kind == CW) | (kind == CCW)
        if arcs.any():
            changed = [_differ(old.arc[row, :count], new.arc[row, :count]) for row in range(4)]
            found.append((arcs & np.logical_or.reduce(changed), "an arc"))
        if Facet.FEED not in self.may:
            changed_feed = cuts & _differ(old.feed[:count], new.feed[:count])
            found.append((changed_feed, "the feed of a move"))
        for facet, names, what in _SETTINGS:
            for name in names if facet not in self.may else ():
                other = _setting_changes(old, new, count, name)
                if other is not None:
                    found.append((cuts & other, what))
        return found

    def _places(self, old: _Moves, new: _Moves, count: int) -> list[tuple[Bools, str]]:
        own = None
        if self.brought is not None:
            own = self.before.program.own(old.line[:count])
        found = []
        for axis, name in enumerate(AXES):
            was, now = old.ends[axis][:count], new.ends[axis][:count]
            differ = _differ(was, now)
            was_placed, now_placed = old.placed[axis], new.placed[axis]
            if was_placed is not None and now_placed is not None:
                # what a line says in machine coordinates holds whatever the numbers in force are
                differ &= ~(np.abs(was_placed[:count] - now_placed[:count]) <= SAME)
            if self.brought is not None and own is not None:
                excused = self.brought.excused(axis, own, was, now)
                if excused is not None:
                    differ &= ~excused
            found.append((differ, f"where a move goes in {name}"))
        return found


def _setting_changes(old: _Moves, new: _Moves, count: int, name: str) -> Bools | None:
    """Where a setting differs; None where it is one and the same throughout."""
    values: dict[object, int] = {}
    tables = [
        np.array([values.setdefault(getattr(s, name), len(values)) for s in moves.settings], int)
        for moves in (old, new)
    ]
    if len(values) < 2 or not count:
        return None
    changes: Bools = tables[0][old.which[:count]] != tables[1][new.which[:count]]
    return changes


def _alike(old: npt.NDArray[np.generic], new: npt.NDArray[np.generic]) -> bool:
    """Whether two columns are one and the same, or one constant."""
    if old is new:
        return True
    if old.strides == (0,) and new.strides == (0,):
        return bool(old[0] == new[0] or old[0] != old[0])
    return False


def _differ(old: Floats, new: Floats) -> Bools:
    """Where a known number changed; what was unknown before may be known now."""
    with np.errstate(invalid="ignore"):
        bad: Bools = ~(np.abs(old - new) <= SAME) & ~np.isnan(old)
    return bad


_Kind = TypeVar("_Kind", bound=np.generic)


def _joined(parts: list[npt.NDArray[_Kind]], dtype: type[_Kind]) -> npt.NDArray[_Kind]:
    return np.concatenate(parts) if parts else np.zeros(0, dtype)
