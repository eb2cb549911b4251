"""Collecting moves and events while a program is interpreted."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from headrace.language.state import NAN, State
from headrace.language.trace import (
    ArcColumns,
    Block,
    Event,
    EventKind,
    Setting,
)

Report = Callable[[str, str, tuple[int, int]], None]
"""Told of what is doubtful: kind of finding, text, column and length."""


def setting_of(state: State) -> Setting:
    """What the moves from here on have in common."""
    return Setting(
        plane=state.plane,
        inverse_time=state.inverse_time,
        spindle=state.spindle,
        speed=state.speed,
        tool=state.tool,
        mist=state.mist,
        flood=state.flood,
        outputs=tuple(sorted(state.outputs.items())),
        system=state.system,
        # one and the same NaN, so that settings with unknown offsets can be equal
        offset=tuple(value if value == value else NAN for value in state.offset),
        placed=tuple(sorted(state.placed.items())),
        incremental=state.incremental,
        length=state.length,
    )


class Recorder:
    """Moves in blocks, events between them. Rows of single lines are gathered until the setting
    changes or a bulk run comes."""

    def __init__(self) -> None:
        self.blocks: list[Block] = []
        self.events: list[Event] = []
        self._moves = 0
        self._setting: Setting | None = None
        self._start: tuple[float, ...] = ()
        self._rows: list[tuple[int, int, list[float], float]] = []
        self._arcs: list[tuple[int, float, float, float]] = []

    @property
    def moves(self) -> int:
        return self._moves + len(self._rows)

    def event(self, line: int, kind: EventKind, value: object = None) -> None:
        self.events.append(Event(line, kind, value, self.moves))

    def move(
        self,
        line: int,
        kind: int,
        start: Sequence[float],
        state: State,
        feed: float,
        arc: tuple[float, float, float] | None = None,
    ) -> None:
        """One move from `start` to where the state stands now; `arc` is centre and turn."""
        setting = setting_of(state)
        joined = self._rows and (
            # where a move begins is stored once a block: the last one must have ended there
            setting == self._setting and _same(self._rows[-1][2], start)
        )
        if not joined:
            self.flush()
            self._setting = setting
            self._start = tuple(start)
        if arc is not None:
            self._arcs.append((len(self._rows), *arc))
        self._rows.append((line, kind, list(state.position), feed))

    def block(self, block: Block) -> None:
        """A whole block from a bulk run."""
        self.flush()
        if len(block):
            self.blocks.append(block)
            self._moves += len(block)

    def flush(self) -> None:
        """Make a block of the rows gathered so far."""
        if not self._rows:
            return
        assert self._setting is not None
        lines, kinds, ends, feeds = zip(*self._rows, strict=True)
        table = np.array(ends, np.float64)
        arcs = None
        if self._arcs:
            rows, u, v, turn = zip(*self._arcs, strict=True)
            arcs = ArcColumns(np.array(rows, np.int32), np.array(u), np.array(v), np.array(turn))
        self.blocks.append(
            Block(
                base=0,
                rel=np.array(lines, np.int32),
                kind=np.array(kinds, np.uint8),
                start=self._start,
                ends=tuple(table.T),
                feed=np.array(feeds, np.float64),
                arcs=arcs,
                setting=self._setting,
            )
        )
        self._moves += len(self._rows)
        self._rows = []
        self._arcs = []


def _same(first: Sequence[float], second: Sequence[float]) -> bool:
    return all(a == b or (a != a and b != b) for a, b in zip(first, second, strict=True))
