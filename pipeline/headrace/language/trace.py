"""What a program does: moves in columns, and the events between them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from headrace.findings import Finding
from headrace.language.calls import NONE, Calls
from headrace.language.move import Move
from headrace.language.state import State
from headrace.program.sealing import seal

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int32]
Kinds = npt.NDArray[np.uint8]

RAPID, LINE, CW, CCW, PROBE, HOME = range(6)
KINDS = ("rapid", "line", "cw", "ccw", "probe", "home")
"""What these are called."""


@dataclass(frozen=True, slots=True, eq=False)
class ArcColumns:
    """The arcs among some moves: `rows` (k) are ascending indices of moves; the other arrays
    (k) are the centre in the plane's first and second axis (mm), and the turn (rad, positive)."""

    rows: Ints
    centre_u: Floats
    centre_v: Floats
    turn: Floats

    def __post_init__(self) -> None:
        seal(self.rows, self.centre_u, self.centre_v, self.turn)

    def by_row(self) -> dict[int, tuple[tuple[float, float], float]]:
        """The centre and the turn of each arc, by its row."""
        columns = (self.rows, self.centre_u, self.centre_v, self.turn)
        each = zip(*(column.tolist() for column in columns), strict=True)
        return {row: ((u, v), turn) for row, u, v, turn in each}


@dataclass(frozen=True, slots=True)
class Setting:
    """What stays the same over a block of moves.

    `placed` are axes that stand at a place in machine coordinates until the job names another,
    `length` is the index of the tool length in force.
    """

    plane: int
    inverse_time: bool
    spindle: str | None
    speed: float | None
    tool: int | None
    mist: bool
    flood: bool
    outputs: tuple[tuple[int, bool], ...]
    system: int
    offset: tuple[float, ...]
    placed: tuple[tuple[int, float], ...] = ()
    incremental: bool = False
    length: int | None = None

    def in_system(self, system: int) -> Setting:
        """The same in another work offset system."""
        return replace(self, system=system)

    def by_the_minute(self) -> Setting:
        """The same where F is a feed."""
        return replace(self, inverse_time=False)


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Moves one behind the other, each beginning where the last one ends (n rows).

    `base + rel` are the lines (from 0) in the program. `ends` are six arrays (n), X Y Z in mm and
    A B C in degrees, in the numbers in force; `start` is where the first move begins. `feed` (n)
    is in mm/min (with inverse time: moves a minute), NaN where none is in force.
    """

    base: int
    rel: Ints
    kind: Kinds
    start: tuple[float, ...]
    ends: tuple[Floats, ...]
    feed: Floats
    arcs: ArcColumns | None
    setting: Setting

    def __post_init__(self) -> None:
        seal(self.rel, self.kind, self.feed, *self.ends)

    def __len__(self) -> int:
        return len(self.kind)

    @property
    def line(self) -> Ints:
        """The line of each move (n)."""
        return self.rel + np.int32(self.base)

    @property
    def cuts(self) -> npt.NDArray[np.bool_]:
        """Which moves are cutting ones: straight at feed, or arcs (n)."""
        cuts: npt.NDArray[np.bool_] = (self.kind >= LINE) & (self.kind <= CCW)
        return cuts

    def part(self, first: int, stop: int) -> Block:
        """Some of the moves, one behind the other."""
        arcs = self.arcs
        if arcs is not None:
            low, high = np.searchsorted(arcs.rows, (first, stop))
            arcs = ArcColumns(
                arcs.rows[low:high] - np.int32(first),
                arcs.centre_u[low:high],
                arcs.centre_v[low:high],
                arcs.turn[low:high],
            )
        return replace(
            self,
            rel=self.rel[first:stop],
            kind=self.kind[first:stop],
            start=tuple(float(ends[first - 1]) for ends in self.ends) if first else self.start,
            ends=tuple(column[first:stop] for column in self.ends),
            feed=self.feed[first:stop],
            arcs=arcs if arcs is not None and len(arcs.rows) else None,
        )

    def starts(self, axis: int) -> Floats:
        """Where each move begins along one axis (n)."""
        begun = np.empty(len(self))
        begun[:1] = self.start[axis]
        begun[1:] = self.ends[axis][:-1]
        return begun


class EventKind(StrEnum):
    """What happens besides motion."""

    DWELL = "dwell"
    STOP = "stop"
    OPTIONAL_STOP = "optional-stop"
    END = "end"
    TOOL = "tool-change"
    SPINDLE = "spindle"
    COOLANT = "coolant"
    OUTPUT = "output"
    OUTPUT_OFF = "output-off"
    ZERO = "work-zero"
    HOME = "home"
    PROBE = "probe"
    MESSAGE = "message"
    ASKS = "asks"
    OVERRIDES = "overrides"
    CORNERS = "path-control"
    UNITS = "units"
    CYCLE = "cycle"


@dataclass(frozen=True, slots=True)
class Event:
    """Something at a line (from 0), after `moves` moves of the program.

    `value` says more: seconds of a dwell, `cw`, `ccw` or `off` of a spindle, a tool's number, the
    word of a cycle, whose moves follow.
    """

    line: int
    kind: EventKind
    value: object
    moves: int


@dataclass(frozen=True, eq=False)
class Trace:
    """The whole of what a program does.

    `ended_at` is the line of the program's end, or None; `end` is the state behind the last line,
    `tool` the number of the bit that was in before the first one (None: not known).
    What subprograms do happens at the line of the program that calls them: `calls` tells of these.
    """

    blocks: tuple[Block, ...]
    events: tuple[Event, ...]
    findings: tuple[Finding, ...]
    end: State
    ended_at: int | None
    calls: Calls = NONE
    tool: int | None = None

    def __len__(self) -> int:
        return sum(len(block) for block in self.blocks)

    def events_of(self, *kinds: EventKind) -> Iterator[Event]:
        """The events of some kinds, in order."""
        return (event for event in self.events if event.kind in kinds)

    def moves(self) -> Iterator[Move]:
        """The moves one by one, in order: for jobs that are short, or where no other way is."""
        for block in self.blocks:
            turns = {} if block.arcs is None else block.arcs.by_row()
            x, y, z = block.start[:3]
            ends = (column.tolist() for column in block.ends[:3])
            rows = zip(
                block.line.tolist(), block.kind.tolist(), *ends, block.feed.tolist(), strict=True
            )
            for row, (line, kind, x_end, y_end, z_end, feed) in enumerate(rows):
                start, end = (x, y, z), (x_end, y_end, z_end)
                plane, arc = block.setting.plane, turns.get(row, (None, 0.0))
                yield Move(line, KINDS[kind], start, end, feed, plane, *arc)
                x, y, z = end

    def zeros(self, axis: str) -> Iterator[Event]:
        """The events that change what an axis (`X` to `C`) counts from, in order."""
        for event in self.events_of(EventKind.ZERO):
            if isinstance(event.value, tuple) and axis in event.value[2]:
                yield event

    @cached_property
    def line(self) -> Ints:
        """The line of every move (m)."""
        return _joined([block.line for block in self.blocks], np.int32)

    @cached_property
    def kind(self) -> Kinds:
        """The kind of every move (m)."""
        return _joined([block.kind for block in self.blocks], np.uint8)

    def ends(self, axis: int) -> Floats:
        """Where every move ends along one axis (m)."""
        return _joined([block.ends[axis] for block in self.blocks], np.float64)

    def starts(self, axis: int) -> Floats:
        """Where every move begins along one axis (m)."""
        return _joined([block.starts(axis) for block in self.blocks], np.float64)

    @cached_property
    def feed(self) -> Floats:
        """The feed of every move (m)."""
        return _joined([block.feed for block in self.blocks], np.float64)


_Kind = TypeVar("_Kind", bound=np.generic)


def _joined(parts: list[npt.NDArray[_Kind]], dtype: type[_Kind]) -> npt.NDArray[_Kind]:
    joined = np.concatenate(parts) if parts else np.zeros(0, dtype)
    seal(joined)
    return joined
