"""What some moves of a file cut together: those of a bit, or those from one event to the next."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from headrace.machine import Span
from headrace.rehearsal.space.extents import Floats, outermost
from headrace.rehearsal.space.lanes import Bools
from headrace.sheet.cuts import Cuts
from headrace.sheet.spans import clean, joined, spanned

_MOST_LEVELS = 40
"""More heights than these are a relief, not levels."""

_Part = tuple[Cuts, slice]


@dataclass(frozen=True, slots=True)
class Sum:
    """How far the moves cut (mm); at which feeds sideways, straight down, and down along a ramp or
    helix (mm/min); at which speeds (rev/min), as far as known; how far the bit goes sideways in a
    turn (mm); how deep below the sheet's top (mm); the numbers of the first and the last move.
    `holes` counts the places at which the bit goes down, if it goes only straight down; `levels`
    the heights of level cuts, if these are the most of it."""

    length: float
    feeds: Span | None
    plunges: Span | None
    ramps: Span | None
    speeds: tuple[float, ...]
    turn: Span | None
    deepest: Span | None
    first: int
    last: int
    holes: int
    levels: int


def summed(parts: Iterable[_Part]) -> Sum | None:
    """The sum over rows of several stretches, in order; None where they cut nothing."""
    cutting = [(cuts, rows) for cuts, rows in parts if cuts.cuts[rows].any()]
    if not cutting:
        return None
    length = sum(float(cuts.length[rows].sum()) for cuts, rows in cutting)
    (opening, early), (closing, late) = cutting[0], cutting[-1]
    return Sum(
        length=clean(length),
        feeds=_feeds(cutting, lambda cuts: cuts.along),
        plunges=_feeds(cutting, lambda cuts: cuts.plunges),
        ramps=_feeds(cutting, lambda cuts: cuts.ramps),
        speeds=tuple(sorted({speed for part in cutting for speed in _speeds(*part)})),
        turn=joined(_turn(*part) for part in cutting),
        deepest=_deepest(cutting),
        first=opening.begun + early.start + int(opening.cuts[early].argmax()),
        last=closing.begun + late.stop - 1 - int(closing.cuts[late][::-1].argmax()),
        holes=_holes(cutting),
        levels=_levels(cutting, length),
    )


def _feeds(cutting: Sequence[_Part], which: Callable[[Cuts], Bools]) -> Span | None:
    return joined(_span(cuts.feed[rows], which(cuts)[rows]) for cuts, rows in cutting)


def _span(values: Floats, which: Bools) -> Span | None:
    """From the least to the greatest of some of the values (n); None where none is known."""
    if not which.any():
        return None
    low, high = outermost(values, False), outermost(values, True)
    if low is None or high is None:
        return None
    if low[0] != high[0]:
        chosen = values[which]
        low, high = outermost(chosen, False), outermost(chosen, True)
    return spanned(reached[0] for reached in (low, high) if reached is not None)


def _speeds(cuts: Cuts, rows: slice) -> set[float]:
    speeds, which = cuts.speed[rows], cuts.cuts[rows]
    found = _span(speeds, which)
    if found is None or found.least == found.most:
        return set() if found is None else {found.least}
    chosen = np.unique(speeds[which])
    return set(chosen[~np.isnan(chosen)].tolist())


def _turn(cuts: Cuts, rows: slice) -> Span | None:
    """How far the bit goes sideways in a turn (mm)."""
    which = cuts.across[rows]
    feeds, speeds = _span(cuts.feed[rows], which), _span(cuts.speed[rows], which)
    if feeds is None or speeds is None:
        return None
    if speeds.least == speeds.most:
        return Span(feeds.least / speeds.most, feeds.most / speeds.most)
    return _span(cuts.feed[rows] / cuts.speed[rows], which)


def _deepest(cutting: Sequence[_Part]) -> Span | None:
    depths = [cuts.depth(rows) for cuts, rows in cutting]
    known = [depth for depth in depths if depth is not None]
    if len(known) < len(depths):
        return None
    return Span(max(depth.least for depth in known), max(depth.most for depth in known))


def _holes(cutting: Sequence[_Part]) -> int:
    """At how many places the bit goes straight down; 0 where anything is cut sideways."""
    if any(cuts.across[rows].any() for cuts, rows in cutting):
        return 0
    places = [
        np.stack([cuts.stretch.numbers(axis)[rows][cuts.plunges[rows]] for axis in (0, 1)], axis=1)
        for cuts, rows in cutting
    ]
    return len(np.unique(np.round(np.concatenate(places), 3), axis=0))


def _levels(cutting: Sequence[_Part], length: float) -> int:
    """At how many heights most of it is cut level; 0 where it is not."""
    level = sum(float((cuts.length[rows] * cuts.level[rows]).sum()) for cuts, rows in cutting)
    if 2 * level < length:
        return 0
    heights: set[float] = set()
    for cuts, rows in cutting:
        tip = cuts.stretch.frame.tip
        add = 0.0 if tip is None else tip.least
        found = np.unique(np.round(cuts.stretch.numbers(2)[rows][cuts.level[rows]] + add, 2))
        heights.update(found.tolist())
    return len(heights) if len(heights) <= _MOST_LEVELS else 0
