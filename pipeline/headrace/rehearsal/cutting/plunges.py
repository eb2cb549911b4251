"""Feeds left over: a contour that goes on at the plunge's feed, a plunge at the contour's.

The job itself must make it likely. Only straight plunges into the sheet count, at least three of
them, and cuts level in X and Y; ramps and helices do not. Of these cuts four fifths go at one feed,
which is one and a half times the plunges' or more.

A contour is told of when it follows a plunge without a feed of its own, while at least twice as
many plunges (and three) are followed by the higher feed. A plunge is told of when it goes at the
contours' feed, and at least twice as many (and three) are slower. What comes down behind a tab, or
goes on down slower, is not taken for a plunge.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from headrace.findings import Finding
from headrace.job import Job
from headrace.language.state import NAN
from headrace.language.trace import CCW, LINE
from headrace.rehearsal.lengths import NEAR
from headrace.rehearsal.space.extents import Floats, outermost
from headrace.rehearsal.space.lanes import Bools
from headrace.rehearsal.space.stretches import Rows, Stretch

_RATIO = 1.5
_NEARLY_ALL = 0.8
_LEAST = 3
_FLAT = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class _Moves:
    """All moves of a job (m): where they go down straight into the sheet, up straight, and level
    cuts; their feed, the height (Z) at which they end, and where the stretches begin."""

    down: Bools
    up: Bools
    level: Bools
    feed: Floats
    height: Floats
    begun: Rows


def plunge_findings(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """The first contour at a plunge's feed, and the first plunge at the contours'."""
    if not _slow_plunges(space):
        return
    moves = _moves(space)
    contour, share = _commonest(moves.feed[moves.level])
    plunges = moves.down & ~_approaches(moves)
    slow = plunges & (moves.feed * _RATIO <= contour)
    if share < _NEARLY_ALL or slow.sum() < _LEAST:
        return
    yield from _contours(job, space, moves, slow, contour)
    yield from _quick_plunges(space, moves, plunges, slow, contour)


def _contours(
    job: Job, space: Sequence[Stretch], moves: _Moves, slow: Bools, contour: float
) -> Iterator[Finding]:
    plunge, share = _commonest(moves.feed[slow])
    if share < _NEARLY_ALL:
        return
    behind = np.flatnonzero(slow[:-1] & (moves.feed[:-1] == plunge) & moves.level[1:]) + 1
    left = behind[moves.feed[behind] == plunge]
    right = int((moves.feed[behind] == contour).sum())
    if not len(left) or right < max(_LEAST, 2 * len(left)):
        return
    for row in left:
        stretch, at = _located(space, moves, int(row))
        if job.program[stretch.line(at)].has("F"):
            continue
        what = (
            f"the contour goes on at F{plunge:g}, the feed of the plunge before it; behind {right}"
            f" other plunges it goes at F{contour:g}"
        )
        remedy = f"state F{contour:g} on this line, if it was forgotten"
        yield Finding.of("contour-at-plunge-feed", what, stretch.place(at), remedy=remedy)
        return


def _quick_plunges(
    space: Sequence[Stretch], moves: _Moves, plunges: Bools, slow: Bools, contour: float
) -> Iterator[Finding]:
    quick = np.flatnonzero(plunges & (moves.feed == contour))
    quick = quick[~_behind_tabs(moves, quick)]
    others = int(slow.sum())
    if not len(quick) or others < 2 * len(quick):
        return
    plunge, _ = _commonest(moves.feed[slow])
    stretch, at = _located(space, moves, int(quick[0]))
    what = (
        f"straight down into the sheet at F{contour:g}, the feed of the contours; {others} other"
        f" plunges go at F{plunge:g} or so"
    )
    remedy = f"state F{plunge:g} on this line, if it was forgotten"
    yield Finding.of("plunge-at-contour-feed", what, stretch.place(at), remedy=remedy)


def _slow_plunges(space: Sequence[Stretch]) -> bool:
    """Whether there are enough plunges at a lower feed than the highest: a quick look."""
    tops = [top[0] for stretch in space for top in [outermost(stretch.block.feed, True)] if top]
    limit = max(tops, default=NAN) / _RATIO
    found = 0
    for stretch in space:
        feed = stretch.block.feed
        if feed.strides == (0,) and not feed[0] <= limit:
            continue
        found += int(_straight(stretch, np.flatnonzero(feed <= limit))[0].sum())
        if found >= _LEAST:
            return True
    return False


def _moves(space: Sequence[Stretch]) -> _Moves:
    down, up, level = [], [], []
    for stretch in space:
        rows = np.flatnonzero(stretch.own_cuts)
        parts = [np.zeros(len(stretch), np.bool_) for _ in range(3)]
        for part, found in zip(
            parts, (*_straight(stretch, rows), _level(stretch, rows)), strict=True
        ):
            part[rows[found]] = True
        down.append(parts[0])
        up.append(parts[1])
        level.append(parts[2])
    return _Moves(
        np.concatenate(down),
        np.concatenate(up),
        np.concatenate(level),
        np.concatenate([stretch.block.feed for stretch in space]),
        np.concatenate([stretch.numbers(2) for stretch in space]),
        np.cumsum([0, *(len(stretch) for stretch in space)]),
    )


def _ways(stretch: Stretch, rows: Rows, axis: int) -> Floats:
    """How far the moves in `rows` go along an axis (mm); NaN where not known."""
    ends = stretch.block.ends[axis]
    begun: Floats = ends[np.maximum(rows - 1, 0)]
    ways: Floats = ends[rows] - np.where(rows == 0, stretch.block.start[axis], begun)
    return ways


def _straight(stretch: Stretch, rows: Rows) -> tuple[Bools, Bools]:
    """Which of some moves are cuts straight down into the sheet, and which straight up."""
    rise = _ways(stretch, rows, 2)
    still = (stretch.block.kind[rows] == LINE) & (not stretch.block.setting.inverse_time)
    for axis in (0, 1):
        still &= _ways(stretch, rows, axis) == 0
    tip = stretch.frame.tip
    if tip is None:
        return np.zeros(len(rows), np.bool_), still & (rise > 0)
    deep = stretch.numbers(2)[rows] + tip.least < -NEAR
    return still & (rise < 0) & deep, still & (rise > 0)


def _level(stretch: Stretch, rows: Rows) -> Bools:
    """Which of some moves are level cuts sideways."""
    kind = stretch.block.kind[rows]
    level = np.abs(_ways(stretch, rows, 2)) < _FLAT
    sideways = (_ways(stretch, rows, 0) != 0) | (_ways(stretch, rows, 1) != 0)
    cuts: Bools = level & (sideways | (kind > LINE)) & (kind <= CCW)
    return cuts


def _approaches(moves: _Moves) -> Bools:
    """Which moves straight down go on straight down with the next one."""
    found = np.zeros(len(moves.down), np.bool_)
    found[:-1] = moves.down[:-1] & moves.down[1:]
    return found


def _behind_tabs(moves: _Moves, rows: Rows) -> Bools:
    """Which moves straight down only go back to where the last move up has come from."""
    changing = np.flatnonzero(moves.up | moves.down)
    before = changing[np.maximum(np.searchsorted(changing, rows) - 1, 0)]
    came_from = moves.height[np.maximum(before - 1, 0)]
    behind: Bools = moves.up[before] & (before < rows) & (moves.height[rows] >= came_from - NEAR)
    return behind


def _commonest(feeds: Floats) -> tuple[float, float]:
    """The commonest of some feeds, and which share of them it is."""
    feeds = feeds[~np.isnan(feeds)]
    if not len(feeds):
        return NAN, 0.0
    values, counts = np.unique(feeds, return_counts=True)
    at = int(counts.argmax())
    return float(values[at]), float(counts[at] / len(feeds))


def _located(space: Sequence[Stretch], moves: _Moves, row: int) -> tuple[Stretch, int]:
    which = int(np.searchsorted(moves.begun, row, "right")) - 1
    return space[which], row - int(moves.begun[which])
