"""Paths on which rotary axes do what linear ones did, laid flat again to be compared in mm.

An arc is as long as radius times angle, so what stands round a blank can be rolled out without
loss. How long a move takes follows from its F by RS274/NGC 2.1.2.5 and 3.5.19; rolled out, that is
a feed along the flat way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from headrace.language.modal import AXES, PLANES
from headrace.plugins.contract import Wrap
from headrace.proof.path import SAME, Bools, Floats, Path

_QUICK = 60.0
"""Moves that go nowhere and say so many times a minute, or more, are no standing still."""

Stood = dict[int, float]
"""Where the cuts so far stood along axes that are wrapped, in the numbers of the result (mm)."""


def unrolled(path: Path, wraps: Sequence[Wrap], stood: Stood) -> Path:
    """The moves of the result as if they had never been wrapped. A linear axis that goes somewhere
    itself, or stands elsewhere than at the cuts before, goes nowhere that equals anything
    (infinite), and so does what stands still at length; a feed is NaN where the time of a move does
    not follow from it, as where several axes are wrapped."""
    if len(wraps) > 1:
        path = replace(path, feed=np.full(len(path), np.nan))
    for wrap in reversed(wraps):
        path = _unrolled(path, wrap, stood)
    return path


def flat(path: Path, wraps: Sequence[Wrap], within: float) -> Path:
    """The moves as they were, without what a wrapped result cannot say: where a rotary axis stands
    that never turns, and the feed of moves that go nowhere (no further than `within` mm)."""
    for wrap in wraps:
        path = _without_rest(path, AXES.index(wrap.onto))
    nowhere = ~path.arcs & (_length(path) <= SAME + within)
    return replace(path, feed=np.where(nowhere, np.nan, path.feed))


def unrolled_place(place: tuple[float, ...], wraps: Sequence[Wrap]) -> tuple[float, ...]:
    """A place of the result (X to C), rolled out."""
    found = list(place)
    for wrap in reversed(wraps):
        axis, onto = AXES.index(wrap.axis), AXES.index(wrap.onto)
        found[axis], found[onto] = found[onto] / wrap.degrees, float("nan")
    return tuple(found)


def _unrolled(path: Path, wrap: Wrap, stood: Stood) -> Path:
    axis, onto = AXES.index(wrap.axis), AXES.index(wrap.onto)
    strays = _strays(path, axis, stood)
    turned = np.abs(_way(path, onto))
    counted = _length(path)
    if wrap.counts == "all":
        counted = np.hypot(counted, turned)
    else:
        counted = np.where(counted == 0, turned, counted)
    starts, ends = list(path.starts), list(path.ends)
    nowhere = np.full(len(path), np.nan)
    for side in (starts, ends):
        side[axis], side[onto] = side[onto] / wrap.degrees, nowhere
    by = None if path.by is None else list(path.by)
    if by is not None:
        by[axis], by[onto] = by[onto] / wrap.degrees, nowhere
    placed, held = list(path.placed), list(path.held)
    placed[axis] = placed[onto] = held[axis] = held[onto] = None
    settings = [each.by_the_minute() for each in path.settings]
    rolled = replace(
        path, starts=starts, ends=ends, placed=placed, held=held, settings=settings, by=by
    )
    # under G93 a move takes its time wherever it goes (3.5.19)
    still = path.cuts & (_length(rolled) == 0) & _timed(path) & ~(path.feed >= _QUICK)
    ends[axis] = np.where(strays | still, np.inf, ends[axis])
    return replace(rolled, ends=ends, feed=_feed(path, rolled, counted, turned))


def _feed(path: Path, rolled: Path, counted: Floats, turned: Floats) -> Floats:
    """The feed along the flat way (m, mm/min) that takes as long as each move does."""
    timed, length = _timed(path), _length(rolled)
    with np.errstate(invalid="ignore", divide="ignore"):
        feed: Floats = path.feed * length / np.where(timed, 1.0, counted)
    feed[length == 0] = np.nan
    bows = path.arcs
    feed[bows] = np.where(timed[bows] | (turned[bows] != 0), np.nan, path.feed[bows])
    return feed


def _timed(path: Path) -> Bools:
    """Which moves say by F how long they take (m)."""
    timed: Bools = np.array([held.inverse_time for held in path.settings], np.bool_)[path.which]
    return timed


def _strays(path: Path, axis: int, stood: Stood) -> Bools:
    """Which moves go along an axis that is wrapped, bow along it, or cut elsewhere along it than
    those before."""
    bows = [plane for plane, (u, v, _) in PLANES.items() if axis in (u, v)]
    strays: Bools = ~(_way(path, axis) == 0) | (path.arcs & np.isin(path.arc[3], bows))
    cuts = np.flatnonzero(path.cuts & ~np.isnan(path.ends[axis]))
    if len(cuts):
        first = stood.setdefault(axis, float(path.ends[axis][cuts[0]]))
        strays[cuts] |= ~(np.abs(path.ends[axis][cuts] - first) <= SAME)
    return strays


def _without_rest(path: Path, axis: int) -> Path:
    """The path without the place of an axis, where that never moves."""
    if not (_way(path, axis) == 0).all():
        return path
    starts, ends = list(path.starts), list(path.ends)
    placed, held = list(path.placed), list(path.held)
    starts[axis] = ends[axis] = np.broadcast_to(np.float64(np.nan), len(path))
    placed[axis] = held[axis] = None
    return replace(path, starts=starts, ends=ends, placed=placed, held=held)


def _way(path: Path, axis: int) -> Floats:
    """How far each move goes along an axis (m); one that names a place elsewhere, with this axis
    nowhere before and behind it, leaves it where it is. NaN for an increment from nowhere, and for
    an axis that is nowhere on one side."""
    start, end = path.starts[axis], path.ends[axis]
    way: Floats = end - start
    way[np.isnan(start) & np.isnan(end) & path.named] = 0.0
    return way


def _length(path: Path) -> Floats:
    """How far each move goes straight along X, Y and Z (m, mm)."""
    length: Floats = np.sqrt(sum(_way(path, axis) ** 2 for axis in range(3)))
    return length
