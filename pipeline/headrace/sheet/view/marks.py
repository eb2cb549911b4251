"""Which points of a way have to stay, because something changes there."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from headrace.job import Job
from headrace.language import Block
from headrace.sheet.view.happenings import CUT, END, HOME, PAUSE, PROBE, Happening
from headrace.sheet.view.happenings import RAPID as RAPID_MOVE
from headrace.sheet.view.thinning import Bools
from headrace.sheet.view.way import Way, Whole

EVERYTHING, NO_FEEDS, LITTLE = 2, 1, 0
"""How much stays: each change; each but those of feed; pauses, bits, and what is known."""

KINDS = np.array([RAPID_MOVE, CUT, CUT, CUT, PROBE, HOME], np.uint8)
"""What is done, by the kind of a move."""


def marked(job: Job, way: Way, happened: Sequence[Happening], kept: int) -> Bools:
    """Which points have to stay (p)."""
    points = np.zeros(len(way.row), np.bool_)
    unlike = np.flatnonzero(np.diff(way.known))
    points[unlike] = points[unlike + 1] = True
    moves = np.zeros(len(way.ends), np.bool_)
    _before(moves, way.jumps)
    _before(moves, way.firsts[1:][np.diff(way.spread) != 0])
    _before(moves, [found.moves for found in staying(happened, kept)])
    blocks = [block for block in job.trace.blocks if len(block)]
    _before(moves, _changes(blocks, kept))
    if kept >= NO_FEEDS:
        kinds = KINDS[job.trace.kind]
        moves[:-1] |= kinds[1:] != kinds[:-1]
        alone = np.diff(job.trace.line) != 1
        moves[:-1] |= alone
        moves[1:] |= alone
        _before(moves, way.bent)
        moves[way.bent] = True
        if kept == EVERYTHING:
            _feeds(moves, job.trace.feed, kinds)
    if len(points) == len(moves):
        return points | moves
    points[way.ends[moves]] = True
    return points


def staying(happened: Sequence[Happening], kept: int) -> list[Happening]:
    """What of all that happens is told."""
    return [found for found in happened if kept or found.kind in (PAUSE, END)]


def _before(moves: Bools, which: npt.ArrayLike) -> None:
    """Mark the ends of the moves before these."""
    rows = np.asarray(which, np.int64)
    moves[rows[rows > 0] - 1] = True


def _changes(blocks: Sequence[Block], kept: int) -> Whole:
    """The moves from which on another setting holds."""
    begun, found = 0, []
    for block, following in pairwise(blocks):
        begun += len(block)
        one, other = block.setting, following.setting
        same = one.tool == other.tool and (
            kept < NO_FEEDS
            or (one.spindle, one.speed, one.inverse_time)
            == (other.spindle, other.speed, other.inverse_time)
        )
        if not same:
            found.append(begun)
    return np.array(found, np.int64)


def _feeds(moves: Bools, feed: npt.NDArray[np.float64], kinds: npt.NDArray[np.uint8]) -> None:
    """Mark the ends of moves behind which one goes at another feed."""
    other = feed[1:] != feed[:-1]
    if other.any():
        other &= ~(np.isnan(feed[1:]) & np.isnan(feed[:-1]))
        other &= (kinds[1:] == CUT) | (kinds[1:] == PROBE)
        moves[:-1] |= other
