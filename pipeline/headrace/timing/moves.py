"""The moves of a job in columns, as a controller meets them: how far, which way at both ends."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from headrace.language import Block, Trace
from headrace.language.modal import PLANES
from headrace.language.trace import CW
from headrace.timing.places import Places

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Rows = npt.NDArray[np.int64]

_AT_ONCE = 1 << 14
_MOST = 10_000
"""Of so many moves it is found out where they are expected to go."""


@dataclass(frozen=True, slots=True, eq=False)
class Arcs:
    """The arcs among the moves (k): `rows` are their numbers, `axes` (3, k) the first, the second
    and the axis across their planes, `radius` is in mm. `level` and `rise` are the shares of the
    way in the plane and across it, the latter with its sign."""

    rows: Rows
    axes: Rows
    radius: Floats
    level: Floats
    rise: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """All moves of a program (m). `length` (m) is how far each goes along its path (mm); NaN where
    a place is not known, or where rotary axes turn. What the numbers do not tell, as behind a
    touch, goes by where the description expects things. `begins` and `ends` (3, m) are unit
    vectors, the directions at both ends along X, Y and Z: one and the same where there are no
    arcs."""

    length: Floats
    begins: Floats
    ends: Floats
    arcs: Arcs

    def __len__(self) -> int:
        return len(self.length)

    @classmethod
    def of(cls, trace: Trace, places: Places) -> Moves:
        """The moves of a program, and the places where they go."""
        ways = np.zeros((3, len(trace)))
        lost = np.zeros(len(trace), np.bool_)
        for block, at in _begun(trace):
            here = slice(at, at + len(block))
            for axis in range(3):
                lost[here] |= _way(block, axis, ways[axis, here])
            for axis in range(3, 6):
                if block.ends[axis].strides != (0,):
                    turn = np.zeros(len(block))
                    lost[here] |= _way(block, axis, turn) | (turn != 0.0)
        _fill_in(ways, places)
        arcs, turn = _arcs(trace, ways)
        rise = ways[arcs.axes[2], arcs.rows]
        length, units = _straight(ways)
        length[lost] = np.nan
        ends = units
        if len(arcs.rows):
            ends = units.copy()
            length[arcs.rows] = np.hypot(arcs.radius * turn[1], rise)
            _bend(arcs, turn[0], turn[1], units)
            _bend(arcs, turn[0] + turn[1], turn[1], ends)
        return cls(length, units, ends, arcs)


def _begun(trace: Trace) -> Iterator[tuple[Block, int]]:
    """The blocks, and how many moves come before each."""
    at = 0
    for block in trace.blocks:
        if len(block):
            yield block, at
        at += len(block)


def _way(block: Block, axis: int, found: Floats) -> Flags | bool:
    """How far the moves of a block go along an axis (n), written into `found`. An axis whose place
    is not known before and behind a move stands still, as the move does not name it; unless it was
    an increment (n): then nobody knows."""
    ends = block.ends[axis]
    found[0] = ends[0] - block.start[axis]
    if ends.strides != (0,):
        np.subtract(ends[1:], ends[:-1], out=found[1:])
    if not np.isnan(found.sum()):
        return False
    nowhere = np.isnan(block.starts(axis)) & np.isnan(ends)
    found[nowhere] = 0.0
    return nowhere if block.setting.incremental else False


def _fill_in(ways: Floats, places: Places) -> None:
    """What is expected of ways (3, m, mm) of which the numbers alone do not tell."""
    for move in np.flatnonzero(np.isnan(ways.sum(axis=0)))[:_MOST]:
        for axis in np.flatnonzero(np.isnan(ways[:, move])):
            begun, ended = (places.behind(int(each), int(axis)) for each in (move - 1, move))
            if begun is not None and ended is not None:
                ways[axis, move] = ended - begun


def _straight(ways: Floats) -> tuple[Floats, Floats]:
    """Lengths (m) and directions (3, m) of straight moves; the ways become the directions."""
    length = np.empty(ways.shape[1])
    for start in range(0, len(length), _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        here = ways[:, part]
        np.sqrt(np.einsum("ij,ij->j", here, here), out=length[part])
        here /= length[part]
    return length, ways


def _arcs(trace: Trace, ways: Floats) -> tuple[Arcs, Floats]:
    """The arcs of a program, and where they begin and how far they turn (2, k, rad; positive
    against the clock)."""
    rows, axes, radius, begun, turn = [], [], [], [], []
    for block, at in _begun(trace):
        arcs = block.arcs
        if arcs is None:
            continue
        plane = PLANES[block.setting.plane]
        u = block.starts(plane[0])[arcs.rows] - arcs.centre_u
        v = block.starts(plane[1])[arcs.rows] - arcs.centre_v
        rows.append(arcs.rows + np.int64(at))
        axes.append(np.repeat(np.array(plane, np.int64)[:, None], len(u), axis=1))
        radius.append(np.hypot(u, v))
        begun.append(np.arctan2(v, u))
        turn.append(np.where(block.kind[arcs.rows] == CW, -arcs.turn, arcs.turn))
    if not rows:
        none, nowhere = np.zeros(0), np.zeros(0, np.int64)
        return Arcs(nowhere, np.zeros((3, 0), np.int64), none, none, none), np.zeros((2, 0))
    which, planes, size = np.concatenate(rows), np.concatenate(axes, axis=1), np.concatenate(radius)
    turns = np.stack([np.concatenate(begun), np.concatenate(turn)])
    flat, rise = size * np.abs(turns[1]), ways[planes[2], which]
    whole = np.hypot(flat, rise)
    return Arcs(which, planes, size, flat / whole, rise / whole), turns


def _bend(arcs: Arcs, angle: Floats, turn: Floats, directions: Floats) -> None:
    """The directions of arcs where their spokes have an angle (k, rad), written into those of all
    moves."""
    side = np.copysign(arcs.level, turn)
    directions[arcs.axes[0], arcs.rows] = -side * np.sin(angle)
    directions[arcs.axes[1], arcs.rows] = side * np.cos(angle)
    directions[arcs.axes[2], arcs.rows] = arcs.rise
