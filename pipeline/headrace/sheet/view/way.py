"""The way of a job's tip, point by point, in the small steps in which a track tells it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from headrace.job import Job
from headrace.language.trace import PROBE
from headrace.rehearsal.space.lanes import SAG, lanes
from headrace.rehearsal.space.stretches import Stretch, stretches
from headrace.timing.clock import Clock

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
Steps = npt.NDArray[np.int32]
Known = npt.NDArray[np.uint8]

STEP = 0.01
"""What places (mm) and times (s) are counted in."""
_FAR = 1e9
"""Steps, 10 km or four months: no place is so far off, and no time is told that is later."""
_MANY, _COARSE = 50_000, 0.02
"""So many arcs, more than a track can tell one by one, are in chords that stray so far (mm)."""


@dataclass(frozen=True, eq=False)
class Way:
    """Points (p), one behind the other: every move's end, and some along arcs.

    `points` (4, p) are X and Y from the sheet's corner, the height of the tip above the sheet's
    top, at the lowest that it may be, and the planned time from the beginning, all in steps; 0
    where not known, as `known` (p) tells: 1 for X, 2 for Y, 4 for the height, added up.
    `row` (p) is the move that each point is on, `ends` (m) the point where each move ends.

    Numbers mean the same from a move in `began` (s) up to the next one there. `begun` (4, s) is
    where that move begins (time 0), `begun_known` (s) what is known of it. `spread` (s) is how far
    the height is uncertain upwards, and holds from the moves in `firsts` (s) on: the same, but that
    a touch belongs to the numbers that follow from it, for it ends where these say.
    `bent` are the moves that are arcs in more than one piece; these stray `sag` (mm) from them.
    """

    points: Steps
    known: Known
    row: Whole
    ends: Whole
    began: Whole
    begun: Steps
    begun_known: Known
    firsts: Whole
    spread: Whole
    bent: Whole
    sag: float = SAG

    @cached_property
    def jumps(self) -> Whole:
        """The moves that begin elsewhere than where the last one ended, for all that is known."""
        later = self.began[1:]
        before = self.ends[later - 1]
        apart = (self.points[:3, before] != self.begun[:3, 1:]).any(axis=0)
        apart |= self.known[before] != self.begun_known[1:]
        jumps: Whole = later[apart]
        return jumps


def way_of(job: Job, clock: Clock) -> Way:
    """The way of a job that moves. O(moves), but for arcs, which are taken in short chords."""
    space = list(stretches(job))
    arcs = [stretch.block.arcs for stretch in space]
    many = sum(len(each.rows) for each in arcs if each is not None) >= _MANY
    sag = _COARSE if many else SAG
    pieces = [_chords(stretch, sag) for stretch in space]
    counts = [
        len(stretch) if piece is None else len(piece.row)
        for stretch, piece in zip(space, pieces, strict=True)
    ]
    total, moves = sum(counts), len(clock.done)
    points, known = np.empty((4, total), np.int32), np.full(total, 7, np.uint8)
    row = np.arange(total)
    ends = row if total == moves else np.empty(moves, np.int64)
    at = move = 0
    for stretch, piece, count in zip(space, pieces, counts, strict=True):
        here, after = slice(at, at + count), move + len(stretch)
        done = clock.done[move:after]
        last: Whole | slice = slice(None)
        if piece is not None:
            last = piece.last
            done = piece.times(done, float(clock.done[move - 1]) if move else 0.0)
        if total > moves:
            row[here] = move + (np.arange(count) if piece is None else piece.row)
            ends[move:after] = at + np.arange(count)[last]
        for axis, add in enumerate(_added(stretch)):
            values = np.empty(count) if piece is None else piece.at[axis]
            values[last] = stretch.numbers(axis)
            _put(values + add, points[axis, here], known[here], 1 << axis)
        points[3, here] = np.rint(np.minimum(done / STEP, _FAR))
        at, move = at + count, after
    began = np.cumsum([0, *(len(stretch) for stretch in space[:-1])])
    begun, begun_known = _begun(space)
    touches = np.concatenate([[False], job.trace.kind[began[1:] - 1] == PROBE])
    touched = ends[began[touches] - 1]
    points[:3, touched], known[touched] = begun[:3, touches], begun_known[touches]
    return Way(
        points,
        known,
        row,
        ends,
        began,
        begun,
        begun_known,
        began - touches,
        np.array([_spread(stretch) for stretch in space]),
        np.flatnonzero(np.diff(ends, prepend=-1) > 1),
        sag,
    )


def _put(values: Floats, steps: Steps, known: Known, bit: int) -> None:
    """Lengths (mm) as steps; 0 where they are not known, or beyond all reach, and `known` without
    that bit."""
    values /= STEP
    np.rint(values, out=values)
    lacking = ~(np.abs(values) < _FAR)
    if lacking.any():
        values[lacking] = 0.0
        known[lacking] &= ~np.uint8(bit)
    steps[:] = values


def _added(stretch: Stretch) -> tuple[float, float, float]:
    """What to add to numbers; NaN where that is not known."""
    frame = stretch.frame
    x, y = (np.nan if add is None else add for add in frame.sheet)
    return x, y, np.nan if frame.tip is None else frame.tip.least


def _begun(space: Sequence[Stretch]) -> tuple[Steps, Known]:
    """Where stretches begin (4, s), and what of it is known (s)."""
    begun, known = np.zeros((4, len(space)), np.int32), np.full(len(space), 7, np.uint8)
    for axis, name in enumerate(("x", "y", "tip")):
        values = np.array([getattr(stretch.start, name) for stretch in space])
        _put(values, begun[axis], known, 1 << axis)
    return begun, known


def _spread(stretch: Stretch) -> int:
    tip = stretch.frame.tip
    return 0 if tip is None else round((tip.most - tip.least) / STEP)


@dataclass(frozen=True, eq=False)
class _Chords:
    """The points of a stretch with arcs: `row` (k) the move of each, `last` (n) the point where
    each move ends, `share` (k) how much of the move is done; `at` (3, k) are numbers."""

    row: Whole
    last: Whole
    share: Floats
    at: Floats

    def times(self, done: Floats, before: float) -> Floats:
        """When the points are reached (k, s), by the moves' ends (n) and the beginning."""
        begun = np.concatenate([[before], done[:-1]])
        times: Floats = begun[self.row] + (done - begun)[self.row] * self.share
        times[self.last] = done
        return times


def _chords(stretch: Stretch, sag: float) -> _Chords | None:
    """None where a stretch has no arcs."""
    arcs = stretch.block.arcs
    if arcs is None:
        return None
    pieces = lanes(stretch, arcs.rows.astype(np.int64), None, sag)
    counts = np.ones(len(stretch), np.int64)
    counts[arcs.rows] = np.bincount(pieces.row, minlength=len(stretch))[arcs.rows]
    last = np.cumsum(counts) - 1
    row = np.repeat(np.arange(len(stretch)), counts)
    number = np.arange(1, len(row) + 1) - np.repeat(last + 1 - counts, counts)
    bent = np.zeros(len(stretch), np.bool_)
    bent[arcs.rows] = True
    at = np.full((3, len(row)), np.nan)
    at[:, bent[row]] = pieces.end.T - np.array([[add or 0.0] for add in (*stretch.frame.sheet, 0)])
    return _Chords(row, last, number / counts[row], at)
