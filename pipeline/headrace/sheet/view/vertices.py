"""The points that a track tells: those that stayed of the way, and what happens between moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

import numpy as np

from headrace.job import Job
from headrace.language.trace import Setting
from headrace.sheet.view.happenings import (
    CUT,
    PAUSE,
    PROBE,
    STILL,
    Happening,
    Turning,
    by_hand,
    spindle_of,
)
from headrace.sheet.view.marks import KINDS, LITTLE, staying
from headrace.sheet.view.thinning import Bools, Floats
from headrace.sheet.view.way import STEP, Known, Way, Whole

_FINE = 1000
_FASTEST = 1e9
_LATEST = 1e9


@dataclass(frozen=True, eq=False)
class Vertices:
    """`line` (v, from 1; 0: before the first), `points` (4, v) in steps as in a way, `states`
    (v, 8) as a track has them, and the pauses with their vertices."""

    line: Whole
    points: Whole
    states: Whole
    pauses: tuple[tuple[int, Happening], ...]


@dataclass(frozen=True, slots=True)
class _Between:
    """Something before the move `moves`, on a line from 0. `time` is in s, -inf: as before."""

    moves: int
    line: int
    kind: int
    time: float
    happening: Happening | None = None


def vertices(
    job: Job, way: Way, happened: Sequence[Happening], stays: Bools, kept: int
) -> Vertices:
    """All points of a track: those that stay of the way (p), and between them what happens."""
    points = np.flatnonzero(stays)
    rows = way.row[points]
    states = _States(job, way, happened)
    between = _between(job, way, staying(happened, kept), rows if kept > LITTLE else rows[:0])
    at = np.searchsorted(rows, [found.moves for found in between], "left")
    places, known = _begun(way, np.array([found.moves for found in between]))
    places[3] = [min(found.time / STEP, _LATEST) for found in between]
    all_points = np.insert(way.points[:, points].astype(np.float64), at, np.rint(places), axis=1)
    all_points[3] = np.maximum.accumulate(all_points[3])
    lines = np.insert(job.trace.line[rows].astype(np.int64), at, [f.line for f in between]) + 1
    rows_of = np.insert(states.of_moves(rows, way.known[points]), at,
                        states.of_between(between, known), axis=0)  # fmt: skip
    where = at + np.arange(len(at))
    return Vertices(
        lines,
        all_points.astype(np.int64),
        rows_of,
        tuple(
            (int(place), found.happening)
            for place, found in zip(where, between, strict=True)
            if found.happening is not None and found.kind == PAUSE
        ),
    )


def _between(job: Job, way: Way, happened: Sequence[Happening], rows: Whole) -> list[_Between]:
    """What stands between moves, in order: the beginning, what happens, where numbers begin to say
    another place, and the last line before a move (`rows`) that does not follow on the last one."""
    lines = job.trace.line
    found = [_Between(0, -1, STILL, 0.0)]
    found += [_Between(h.moves, h.line, h.kind, h.time, h) for h in happened]
    taken = {one.moves for one in found}
    found += [_Between(move, int(lines[move]), STILL, -inf)
              for move in way.jumps.tolist() if move not in taken]  # fmt: skip
    rows = np.unique(rows)
    alone = rows[lines[rows] - np.where(rows > 0, lines[rows - 1], -1) > 1]
    filled = {(one.moves, one.line) for one in found}
    found += [
        _Between(move, line, STILL, -inf)
        for move, line in zip(alone.tolist(), (lines[alone] - 1).tolist(), strict=True)
        if (move, line) not in filled
    ]
    return sorted(found, key=lambda one: (one.moves, one.line))


def _begun(way: Way, moves: Whole) -> tuple[Floats, Known]:
    """Where moves begin (4, k), and what of it is known (k); the move behind the last one begins
    where that ends."""
    last = way.ends[np.maximum(moves - 1, 0)]
    points, known = way.points[:, last].astype(np.float64), way.known[last].copy()
    which = np.minimum(np.searchsorted(way.began, moves), len(way.began) - 1)
    anew = way.began[which] == moves
    points[:, anew] = way.begun[:, which[anew]]
    known[anew] = way.begun_known[which[anew]]
    return points, known


class _States:
    """The states of points as a track has them: kind, known, spindle, speed, bit, feed, whether
    that is moves a minute, spread."""

    def __init__(self, job: Job, way: Way, happened: Sequence[Happening]) -> None:
        blocks = [block for block in job.trace.blocks if len(block)]
        self._job, self._way = job, way
        self._settings = [block.setting for block in blocks]
        self._first = np.cumsum([0, *(len(block) for block in blocks[:-1])])
        self._behind = [found.behind for found in happened] if by_hand(job) else None
        self._since = np.array([found.moves for found in happened], np.int64)

    def of_moves(self, rows: Whole, known: Known) -> Whole:
        """The states at points on these moves (v, 8)."""
        trace = self._job.trace
        kinds = KINDS[trace.kind[rows]].astype(np.int64)
        feeds = _fine(trace.feed[rows])
        feeds[(kinds != CUT) & (kinds != PROBE)] = 0
        which = np.searchsorted(self._first, rows, "right") - 1
        chosen, back = np.unique(which, return_inverse=True)
        told = np.array([self._told(self._settings[one]) for one in chosen.tolist()])[back]
        if self._behind is not None:
            told[:, :2] = self._by_hand(np.searchsorted(self._since, rows, "right"))
        spread = self._way.spread[np.searchsorted(self._way.firsts, rows, "right") - 1]
        return np.column_stack([kinds, known, told[:, :3], feeds, told[:, 3], spread])

    def of_between(self, between: Sequence[_Between], known: Known) -> Whole:
        """The states of what stands between moves (k, 8)."""
        found: list[tuple[int, ...]] = []
        now = Turning(spindle_of(None if self._behind else self._job.start.spindle))
        tool = self._job.trace.tool
        firsts, spreads = self._way.began.tolist(), self._way.spread.tolist()
        at = 0
        for one, knows in zip(between, known.tolist(), strict=True):
            during = now
            if one.happening is not None:
                during, now, tool = (one.happening.during, one.happening.behind,
                                     one.happening.tool)  # fmt: skip
            while at + 1 < len(firsts) and firsts[at + 1] <= one.moves:
                at += 1
            speed = during.speed if self._behind is not None else self._speed(one.moves, during)
            found.append((one.kind, knows, during.spindle, _whole(speed),
                          0 if tool is None else tool + 1, 0, 0, spreads[at]))  # fmt: skip
        return np.array(found, np.int64)

    def _by_hand(self, happened: Whole) -> Whole:
        """The spindle and its speed behind so many happenings (v, 2)."""
        assert self._behind is not None
        turnings = [Turning(spindle_of(None)), *self._behind]
        return np.array([(turning.spindle, _whole(turning.speed)) for turning in turnings])[
            happened
        ]

    def _told(self, setting: Setting) -> tuple[int, int, int, int]:
        tool = 0 if setting.tool is None else setting.tool + 1
        spindle = spindle_of(setting.spindle)
        return spindle, _whole(setting.speed), tool, int(setting.inverse_time)

    def _speed(self, moves: int, turning: Turning) -> float | None:
        """The speed before a move: what is so at it, or else at the one before."""
        which = int(np.searchsorted(self._first, moves, "right")) - 1
        here = self._settings[min(which, len(self._settings) - 1)]
        if spindle_of(here.spindle) != turning.spindle and moves > 0:
            which = int(np.searchsorted(self._first, moves - 1, "right")) - 1
            here = self._settings[which]
        return here.speed


def _whole(value: float | None) -> int:
    """In thousandths, from 1; 0 stands for none."""
    return 0 if value is None else round(min(value, _FASTEST) * _FINE) + 1


def _fine(values: Floats) -> Whole:
    """The same for many; NaN stands for none."""
    told = np.rint(np.minimum(values, _FASTEST) * _FINE) + 1
    whole: Whole = np.nan_to_num(told, nan=0.0).astype(np.int64)
    return whole
