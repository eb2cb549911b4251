"""Contracts: after each step, everything that it may not change must have come out equal.

Two programs are compared by their effect. Moves are matched by the identity of their lines: lines
that the step added may move the machine only if the transform declares it, and the moves of all
other lines must be the same, one for one. Programs share what a step did not touch, and what is
shared is equal without looking.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from headrace.findings import Finding, Place
from headrace.language import Block, EventKind, Trace
from headrace.language.modal import AXES
from headrace.language.trace import CCW, HOME, KIND_NAMES, RAPID, Event, Setting
from headrace.plugins.transform import Facet, Transform
from headrace.program import Cause, Line, Piece, Program

SAME = 1e-6
"""Positions and feeds that differ by less (mm, mm/min) are the same: far below any controller's
least increment, far above the rounding of the arithmetic."""

_LARGE = 256
_EVENT_FACETS: Mapping[EventKind, Facet] = {
    EventKind.DWELL: Facet.DWELL,
    EventKind.STOP: Facet.STOPS,
    EventKind.OPTIONAL_STOP: Facet.STOPS,
    EventKind.END: Facet.STOPS,
    EventKind.TOOL: Facet.TOOL,
    EventKind.SPINDLE: Facet.SPINDLE,
    EventKind.COOLANT: Facet.OUTPUTS,
    EventKind.OUTPUT: Facet.OUTPUTS,
    EventKind.ZERO: Facet.WORK_ZERO,
    EventKind.OVERRIDES: Facet.FEED,
}

Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Version:
    """A program and what it does."""

    program: Program
    trace: Trace


def check(before: Version, after: Version, transform: Transform, cause: Cause) -> list[Finding]:
    """What the step changed without having declared it; nothing where it kept its contract."""
    if before.program is after.program:
        return []
    return [
        Finding.of(
            "contract-broken",
            f"step `{transform.name}` changed {what}, which it does not declare",
            place,
            remedy=f"see step {cause.number} at {cause.place}" if cause.place else None,
        )
        for what, place in _breaches(before, after, transform)
    ]


_Breach = tuple[str, Place | None]


def _breaches(before: Version, after: Version, transform: Transform) -> Iterator[_Breach]:
    """The first breach of each kind."""
    may = transform.may_change
    new = before.program.next_id if transform.adds_motion else None
    moves = transform.adds_motion or Facet.WORK_ZERO in may
    move = _moves(before, after, may, new, _Begun.of(before, after) if moves else None)
    if move is not None:
        yield move
    for facet in dict.fromkeys(_EVENT_FACETS.values()):
        if facet not in may and (breach := _events(before, after, facet)) is not None:
            yield breach
    yield from _texts(before.program, after.program, may)


# --- moves -----------------------------------------------------------------------------------


def _moves(
    before: Version,
    after: Version,
    may: frozenset[Facet],
    new: int | None,
    begun: _Begun | None,
) -> _Breach | None:
    """The first move that is not as it was."""
    old_blocks, new_blocks = list(before.trace.blocks), list(after.trace.blocks)
    at_old = at_new = 0
    for pair in [*_shared(old_blocks, new_blocks), None]:
        old_to, new_to = pair if pair else (len(old_blocks), len(new_blocks))
        first = _Moves.of(before.program, old_blocks[at_old:old_to], None)
        second = _Moves.of(after.program, new_blocks[at_new:new_to], new)
        breach = _compare(before, after, first, second, may, begun)
        if breach is None and pair:
            breach = _compare_shared(
                before, after, old_blocks[old_to], new_blocks[new_to], may, begun
            )
        if breach is not None:
            return breach
        at_old, at_new = old_to + 1, new_to + 1
    return None


def _shared(old: list[Block], new: list[Block]) -> list[tuple[int, int]]:
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
    ends: list[npt.NDArray[np.float64]]
    feed: npt.NDArray[np.float64]
    arc: npt.NDArray[np.float64]
    which: npt.NDArray[np.intp]
    settings: list[Setting]

    @classmethod
    def of(cls, program: Program, blocks: list[Block], new: int | None) -> _Moves:
        """The moves of the blocks, but for those of lines whose id is `new` or above."""
        line = _joined([block.line for block in blocks], np.int32)
        keep = np.ones(len(line), bool)
        if new is not None and len(line):
            keep = program.ids()[line] < new
        sizes = [len(block) for block in blocks]
        arc = np.full((3, sum(sizes)), np.nan)
        begun = 0
        for block in blocks:
            if block.arcs is not None:
                arc[:, begun + block.arcs.rows] = (
                    block.arcs.centre_u,
                    block.arcs.centre_v,
                    block.arcs.turn,
                )
            begun += len(block)
        return cls(
            line=line[keep],
            kind=_joined([block.kind for block in blocks], np.uint8)[keep],
            ends=[
                _joined([block.ends[axis] for block in blocks], np.float64)[keep]
                for axis in range(len(AXES))
            ],
            feed=_joined([block.feed for block in blocks], np.float64)[keep],
            arc=arc[:, keep],
            which=np.repeat(np.arange(len(blocks)), sizes)[keep],
            settings=[block.setting for block in blocks],
        )


@dataclass(slots=True, eq=False)
class _Begun:
    """Where the job's own part begins, for steps that may bring the machine elsewhere before it.

    As long as the job's own moves leave an axis where it was, it is where the steps brought it.
    `old` and `new` are these places, `waiting` tells of each axis whether that still holds.
    """

    old: tuple[float, ...]
    new: tuple[float, ...]
    own: Bools
    waiting: list[bool]

    @classmethod
    def of(cls, before: Version, after: Version) -> _Begun:
        """From the first own moves of both versions."""
        own = before.program.ids() < before.program.job_lines
        places = [_first_own(before), _first_own(after)]
        return cls(places[0], places[1], own, [True] * len(AXES))

    def excused(self, axis: int, old: _Moves, new: _Moves, count: int) -> Bools:
        """For each of the first `count` moves, whether the axis still waits for the job."""
        own = self.own[old.line[:count]]
        if not self.waiting[axis]:
            return np.zeros(count, bool)
        stays = _same(old.ends[axis][:count], self.old[axis])
        stays &= _same(new.ends[axis][:count], self.new[axis])
        still: Bools = np.logical_and.accumulate(stays | ~own)
        if count:
            self.waiting[axis] = bool(still[-1])
        return still & own

    def passed(self) -> None:
        """A block came out equal: an axis that differed at the beginning no longer waits."""
        for axis, (old, new) in enumerate(zip(self.old, self.new, strict=True)):
            self.waiting[axis] = self.waiting[axis] and (old == new)


def _first_own(version: Version) -> tuple[float, ...]:
    """Where the first move of the job's own begins."""
    own = version.program.ids() < version.program.job_lines
    for block in version.trace.blocks:
        rows = np.flatnonzero(own[block.line])
        if len(rows):
            return tuple(float(block.starts(axis)[rows[0]]) for axis in range(len(AXES)))
    return (float("nan"),) * len(AXES)


def _same(ends: npt.NDArray[np.float64], place: float) -> Bools:
    """Where a column is at one place, known or not."""
    same: Bools = np.isnan(ends) if place != place else np.abs(ends - place) <= SAME
    return same


def _compare(
    before: Version,
    after: Version,
    old: _Moves,
    new: _Moves,
    may: frozenset[Facet],
    begun: _Begun | None,
) -> _Breach | None:
    count = min(len(old.line), len(new.line))
    wrong: list[tuple[int, str]] = []

    def first(bad: Bools, what: str) -> None:
        if bad.any():
            wrong.append((int(np.argmax(bad)), what))

    first(old.kind[:count] != new.kind[:count], "the kind of a move")
    for axis, name in enumerate(AXES):
        differ = _differ(old.ends[axis][:count], new.ends[axis][:count])
        if begun is not None:
            differ &= ~begun.excused(axis, old, new, count)
        first(differ, f"where a move goes in {name}")
    for at in range(3):
        first(_differ(old.arc[at, :count], new.arc[at, :count]), "an arc")
    cuts = (old.kind[:count] != RAPID) & (old.kind[:count] != HOME)
    arcs = cuts & (old.kind[:count] <= CCW) & (old.kind[:count] >= 2)
    planes = _column(old, count, "plane") != _column(new, count, "plane")
    first(arcs & planes, "the plane of an arc")
    if Facet.FEED not in may:
        first(cuts & _differ(old.feed[:count], new.feed[:count]), "the feed of a move")
        inverse = _column(old, count, "inverse_time") != _column(new, count, "inverse_time")
        first(cuts & inverse, "what the feed of a move means")
    for facet, names, what in _SETTINGS:
        if facet in may:
            continue
        for name in names:
            changed = _column(old, count, name) != _column(new, count, name)
            first(cuts & changed, what)
    if len(old.line) != len(new.line):
        more = len(new.line) > len(old.line)
        wrong.append(
            (
                count,
                "the number of moves: it added one" if more else "the number of moves: one is lost",
            )
        )
    if not wrong:
        return None
    at, what = min(wrong)
    return what, _place(before, after, old, new, at)


_SETTINGS = (
    (Facet.SPINDLE, ("spindle", "speed"), "the spindle at a cutting move"),
    (Facet.OUTPUTS, ("mist", "flood", "outputs"), "the outputs at a cutting move"),
    (Facet.TOOL, ("tool",), "the tool of a cutting move"),
    (Facet.WORK_ZERO, ("system",), "the work offset system of a cutting move"),
)


def _compare_shared(
    before: Version,
    after: Version,
    old: Block,
    new: Block,
    may: frozenset[Facet],
    begun: _Begun | None,
) -> _Breach | None:
    """Two blocks from the same lines: only what the state brought in can differ."""
    same_arrays = all(_alike(a, b) for a, b in zip(old.ends, new.ends, strict=True))
    same = same_arrays and _alike(old.kind, new.kind) and _alike(old.feed, new.feed)
    plain = old.arcs is None and new.arcs is None
    if same and plain and _same_setting(old.setting, new.setting, may):
        if begun is not None:
            begun.passed()
        return None
    first = _Moves.of(before.program, [old], None)
    second = _Moves.of(after.program, [new], None)
    return _compare(before, after, first, second, may, begun)


def _same_setting(old: Setting, new: Setting, may: frozenset[Facet]) -> bool:
    return all(
        getattr(old, name) == getattr(new, name)
        for facet, names, _ in _SETTINGS
        if facet not in may
        for name in names
    ) and (old.inverse_time == new.inverse_time)


def _alike(old: npt.NDArray[np.generic], new: npt.NDArray[np.generic]) -> bool:
    """Whether two columns are one and the same, or one constant."""
    if old is new:
        return True
    if old.strides == (0,) and new.strides == (0,):
        return bool(old[0] == new[0] or (old[0] != old[0]))
    return False


def _differ(old: npt.NDArray[np.float64], new: npt.NDArray[np.float64]) -> Bools:
    """Where a known number changed; what was unknown before may be known now."""
    with np.errstate(invalid="ignore"):
        bad: Bools = ~(np.abs(old - new) <= SAME) & ~np.isnan(old)
    return bad


def _column(moves: _Moves, count: int, name: str) -> npt.NDArray[np.object_]:
    """A setting for each of the first `count` moves."""
    table = np.empty(len(moves.settings), object)
    table[:] = [getattr(setting, name) for setting in moves.settings]
    found: npt.NDArray[np.object_] = table[moves.which[:count]]
    return found


_Kind = TypeVar("_Kind", bound=np.generic)


def _joined(parts: list[npt.NDArray[_Kind]], dtype: type[_Kind]) -> npt.NDArray[_Kind]:
    return np.concatenate(parts) if parts else np.zeros(0, dtype)


def _place(before: Version, after: Version, old: _Moves, new: _Moves, at: int) -> Place:
    """Both lines, as they were and as they are: the place is that of the job's line."""
    if at < len(old.line):
        line = before.program[int(old.line[at])]
        return _place_of(before.program, line)
    return _place_of(after.program, after.program[int(new.line[at])])


def _place_of(program: Program, line: Line) -> Place:
    return Place(program.name, line.index + 1, 1, max(1, len(line.text)), line.text)


# --- events ----------------------------------------------------------------------------------


def _events(before: Version, after: Version, facet: Facet) -> _Breach | None:
    kinds = tuple(kind for kind, owner in _EVENT_FACETS.items() if owner is facet)
    old = list(before.trace.events_of(*kinds))
    new = list(after.trace.events_of(*kinds))
    for first, second in zip(old, new, strict=False):
        if not _same_event(first, second):
            line = after.program[second.line]
            return f"{facet.value} (was {first.value!r}, is {second.value!r})", _place_of(
                after.program, line
            )
    if len(old) == len(new):
        return None
    lost = len(old) > len(new)
    extra = old[len(new)] if lost else new[len(old)]
    program = before.program if lost else after.program
    what = f"{facet.value} ({'lost' if lost else 'added'}: {extra.kind})"
    return what, _place_of(program, program[extra.line])


def _same_event(old: Event, new: Event) -> bool:
    if isinstance(old.value, float) and isinstance(new.value, float):
        return abs(old.value - new.value) <= SAME
    return old.kind is new.kind and old.value == new.value


# --- texts -----------------------------------------------------------------------------------

_COMMENT = re.compile(rb"\((?:[^()\r\n]|\([^()\r\n]*\))*\)|\([^\r\n]*|;[^\r\n]*")
_NUMBER = re.compile(rb"(?mi)^([ \t]*/?)[ \t]*N([ \t]*[0-9][0-9 \t]*)")
_EFFECTS = frozenset(Facet) - {Facet.COMMENTS, Facet.LINE_NUMBERS}


def _texts(old: Program, new: Program, may: frozenset[Facet]) -> Iterator[_Breach]:
    """Comments, line numbers and words of the lines that the step touched."""
    if {Facet.COMMENTS, Facet.LINE_NUMBERS} <= may and may & _EFFECTS:
        return
    was, now = (
        text.replace(b"\r\n", b"\n").replace(b"\r", b"\n") for text in _touched(old, new)
    )
    if Facet.COMMENTS not in may and _COMMENT.findall(was) != _COMMENT.findall(now):
        yield "comments", None
    was, now = _COMMENT.sub(b"", was), _COMMENT.sub(b"", now)
    if _squeezed(was) == _squeezed(now):
        return
    if Facet.LINE_NUMBERS not in may and _numbers(was) != _numbers(now):
        yield "line numbers", None
    if not may & _EFFECTS and _words(was) != _words(now):
        yield "words", None


def _squeezed(text: bytes) -> bytes:
    """The text in capitals, without blanks and empty lines."""
    solid = text.translate(bytes(range(256)).upper(), b" \t")
    return re.sub(rb"\n\n+", b"\n", solid).strip(b"\n")


def _numbers(text: bytes) -> list[bytes]:
    """The line numbers, in order."""
    return [number.translate(None, b" \t") for _, number in _NUMBER.findall(text)]


def _words(text: bytes) -> bytes:
    """The words alone: no line numbers, blanks or empty lines, in capitals."""
    bare = _NUMBER.sub(rb"\1", text).translate(bytes(range(256)).upper(), b" \t\r")
    return re.sub(rb"\n+", b"\n", bare).strip(b"\n")


def _touched(old: Program, new: Program) -> tuple[bytes, bytes]:
    """The bytes of the lines that are not shared, before and after; added lines left out."""
    mine = {id(piece.text) for piece in old.pieces}
    kept: dict[int, list[Piece]] = {}
    after: list[bytes] = []
    for piece in new.pieces:
        if id(piece.text) in mine:
            kept.setdefault(id(piece.text), []).append(piece)
        else:
            known = piece.lineage.ids_of(piece.start, piece.stop) < old.next_id
            after.extend(_lines(piece, known))
    before: list[bytes] = []
    for piece in old.pieces:
        lost = np.ones(len(piece), bool)
        for other in kept.get(id(piece.text), ()):
            lost[max(other.start - piece.start, 0) : max(other.stop - piece.start, 0)] = False
        before.extend(_lines(piece, lost))
    return b"".join(before), b"".join(after)


def _lines(piece: Piece, wanted: Bools) -> Iterator[bytes]:
    """The bytes of the wanted lines of a piece, as runs."""
    edges = np.flatnonzero(np.diff(wanted, prepend=False, append=False))
    starts = piece.text.starts
    for begun, end in zip(edges[::2], edges[1::2], strict=True):
        yield piece.text.data[starts[piece.start + begun] : starts[piece.start + end]]


assert KIND_NAMES[RAPID] == "rapid"
