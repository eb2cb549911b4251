"""Runs of plain moves, interpreted in bulk.

A plain line holds nothing but G0 to G3, axis words, arc words, F and N, each letter once. What a
run of such lines says is worked out once for a text and kept; applying it to a state is cheap. So
interpreting the next program, which shares its texts with the last one, costs next to nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from headrace.language.arcs import TOLERANCE, Arcs, ArcWords, solve
from headrace.language.modal import AXES, G_GROUP, PLANES
from headrace.language.state import State
from headrace.language.trace import CW, ArcColumns, Block, Floats, Ints, Kinds, Setting
from headrace.program import Text
from headrace.program.columns import BIT, Chunk

_MOVING = sum(BIT[axis] for axis in AXES)
_ARC_LETTERS = sum(BIT[letter] for letter in "IJKR")
_TENS = 10.0 ** np.arange(16)

Indices = npt.NDArray[np.int64]
Applied = TypeVar("Applied")


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """One modal number over the moves of a run (m): NaN up to move `known`, then as last stated.

    `last` is its value behind the run, behind lines that do not move too.
    """

    values: Floats
    known: int
    last: float


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """What some plain lines say, before any state: m moves.

    `rel` (m) are lines from the run's first; `letters` (m) the letters on them; `motion` the codes
    0 to 3, `axes` the named axes, `feed` the feed, all in units of the program; `arc_words` are I
    J K R (m each), NaN where absent, or None where there are none at all.
    """

    rel: Ints
    letters: Ints
    motion: Column | None
    axes: dict[int, Column]
    feed: Column | None
    arc_words: tuple[Floats, Floats, Floats, Floats] | None
    applied: dict[str, tuple[object, Any]] = field(default_factory=dict)

    def once(self, name: str, key: object, make: Callable[[], Applied]) -> Applied:
        """What applying gave under `name`, made anew only when the `key` has changed. So the same
        run under the same state gives the same arrays, which are then equal without looking."""
        found = self.applied.get(name)
        if found is None or found[0] != key:
            found = self.applied[name] = (key, make())
        value: Applied = found[1]
        return value


def read_run(text: Text, chunk: Chunk, start: int, stop: int, incremental: bool) -> Run:
    """What the plain lines `start` to `stop` of a chunk say; worked out once for a text."""
    key = ("run", chunk.first_line, start, stop, incremental)
    return text.once(key, lambda: _read(chunk, start, stop, incremental))


def _read(chunk: Chunk, start: int, stop: int, incremental: bool) -> Run:
    count = stop - start
    first = chunk.first_word[start : stop + 1]
    low, high = int(first[0]), int(first[-1])
    letter = chunk.letter[low:high]
    value = chunk.mantissa[low:high] / _TENS[chunk.scale[low:high]]
    line = np.repeat(np.arange(count, dtype=np.int32), np.diff(first))
    letters = chunk.letters[start:stop]
    every = int(np.bitwise_or.reduce(letters, initial=0))
    moving = (letters & _MOVING) != 0
    rows = None if moving.all() else np.flatnonzero(moving)

    def words(name: str) -> tuple[Ints, Floats]:
        at = np.flatnonzero(letter == ord(name))
        return line[at], value[at]

    arc_words = None
    if every & _ARC_LETTERS:
        i, j, k, r = (_scattered(*words(name), count, rows) for name in "IJKR")
        arc_words = (i, j, k, r)
    placed = _summed if incremental else _filled
    return Run(
        rel=np.arange(count, dtype=np.int32) if rows is None else rows.astype(np.int32),
        letters=letters if rows is None else letters[rows],
        motion=_filled(*words("G"), count, rows) if every & BIT["G"] else None,
        axes={
            axis: placed(*words(name), count, rows)
            for axis, name in enumerate(AXES)
            if every & BIT[name]
        },
        feed=_filled(*words("F"), count, rows) if every & BIT["F"] else None,
        arc_words=arc_words,
    )


def _filled(line: Ints, value: Floats, count: int, rows: Indices | None) -> Column:
    """A number that stays in force until it is stated anew."""
    last = float(value[-1])
    if len(value) == count:
        return Column(value if rows is None else value[rows], 0, last)
    index = np.zeros(count, np.int32)
    index[line] = np.arange(1, len(value) + 1, dtype=np.int32)
    np.maximum.accumulate(index, out=index)
    known = int(line[0])
    if rows is not None:
        index = index[rows]
        known = int(np.searchsorted(rows, known))
    return Column(np.append(np.nan, value)[index], known, last)


def _summed(line: Ints, value: Floats, count: int, rows: Indices | None) -> Column:
    """Increments, added up."""
    steps = np.zeros(count)
    steps[line] = value
    total = np.cumsum(steps)
    return Column(total if rows is None else total[rows], 0, float(total[-1]))


def _scattered(line: Ints, value: Floats, count: int, rows: Indices | None) -> Floats:
    """A number that stands for its own line only."""
    values = np.full(count, np.nan)
    values[line] = value
    return values if rows is None else values[rows]


def apply_run(run: Run, state: State, base: int, setting: Setting) -> tuple[Block, Arcs | None]:
    """The moves of a run from a state, which is carried on to the run's end.

    `base` is the program's line that `rel` counts from.
    """
    moves = len(run.rel)
    begun = tuple(state.position)
    offset = state.offset
    ends = tuple(_ends(run, state, axis, moves) for axis in range(len(AXES)))
    for axis in run.axes:
        state.placed.pop(axis, None)
        state.position[axis] = float(ends[axis][-1])
        state.machine[axis] = state.position[axis] + offset[axis]
    kind = _kinds(run, state, moves)
    feed = _feeds(run, state, moves)
    first, second, _ = PLANES[state.plane]
    columns, solved = run.once(
        "arcs",
        (state.plane, state.absolute_centres, state.units, begun[first].hex(), begun[second].hex(),
         id(ends[first]), id(ends[second]), id(kind)),
        lambda: _arcs(run, state, kind, begun, ends),
    )  # fmt: skip
    block = Block(base, run.rel, kind, begun, ends, feed, columns, setting)
    return block, solved


def _ends(run: Run, state: State, axis: int, moves: int) -> Floats:
    column = run.axes.get(axis)
    if column is None:
        return np.broadcast_to(np.float64(state.position[axis]), moves)
    scale = state.factor if axis < 3 else 1.0
    if state.incremental:
        return column.values * scale + state.position[axis]
    if scale == 1.0 and not column.known:
        return column.values
    before = state.position[axis]

    def patched() -> Floats:
        values = column.values * scale
        values[: column.known] = before
        return values

    return run.once(AXES[axis], (scale, before.hex()), patched)


def _kinds(run: Run, state: State, moves: int) -> Kinds:
    before = np.uint8((state.motion or 0) // 10)
    if run.motion is None:
        return np.broadcast_to(before, moves)
    motion = run.motion
    state.motion = int(motion.last) * 10
    state.stated.add(G_GROUP[0])

    def patched() -> Kinds:
        kind = np.full(moves, before)
        kind[motion.known :] = motion.values[motion.known :].astype(np.uint8)
        return kind

    return run.once("kind", int(before), patched)


def _feeds(run: Run, state: State, moves: int) -> Floats:
    before = np.nan if state.feed is None else state.feed * state.factor
    if run.feed is None:
        return np.broadcast_to(np.float64(before), moves)
    column, scale = run.feed, state.factor
    state.feed = column.last

    def patched() -> Floats:
        feed = column.values * scale
        feed[: column.known] = before
        return feed

    return run.once("feed", (scale, float(before).hex()), patched)


def _arcs(
    run: Run, state: State, kind: Kinds, begun: tuple[float, ...], ends: tuple[Floats, ...]
) -> tuple[ArcColumns | None, Arcs | None]:
    """The arcs among the moves of a run, solved."""
    rows = np.flatnonzero(kind >= CW)
    if not len(rows):
        return None, None
    first, second, across = PLANES[state.plane]
    words = run.arc_words or (np.full(len(kind), np.nan),) * 4
    named = (run.letters[rows] & (BIT[AXES[first]] | BIT[AXES[second]])) != 0
    solved = solve(
        (_before(ends[first], begun[first], rows), _before(ends[second], begun[second], rows)),
        (ends[first][rows], ends[second][rows]),
        ArcWords(
            first=words[first][rows] * state.factor,
            second=words[second][rows] * state.factor,
            across=words[across][rows],
            radius=words[3][rows] * state.factor,
            named=named,
        ),
        clockwise=kind[rows] == CW,
        absolute=state.absolute_centres,
        tolerance=TOLERANCE[state.units or "mm"],
    )
    columns = ArcColumns(rows.astype(np.int32), solved.centre_u, solved.centre_v, solved.turn)
    return columns, solved


def _before(values: Floats, begun: float, rows: Indices) -> Floats:
    """Where the moves in `rows` begin."""
    found: Floats = values[np.maximum(rows - 1, 0)]
    found[rows == 0] = begun
    return found
