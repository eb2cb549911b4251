"""What the moves of a file cut.

A move at feed cuts as far as its way lies below the top of the thickest sheet; straight up it cuts
nothing. Where heights are not known all of it counts. Moves at feed that steps added count too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import isnan

import numpy as np

from headrace.job import Job
from headrace.language import EventKind
from headrace.language.state import NAN
from headrace.language.trace import LINE
from headrace.machine import Span
from headrace.machine.asking import speed_asked
from headrace.rehearsal.cutting.chips import feeds_of, speeds_of
from headrace.rehearsal.lengths import NEAR
from headrace.rehearsal.order.questions import asked_at, text_at
from headrace.rehearsal.space.extents import Floats, Spokes, bulge, outermost
from headrace.rehearsal.space.lanes import Bools, ends_of
from headrace.rehearsal.space.rolled import rolled_out
from headrace.rehearsal.space.stretches import Stretch
from headrace.sheet.spans import clean

_FLAT = 1e-3
"""A move that rises or falls by less (mm) is level."""
_PLANE_XY = 17


@dataclass(frozen=True, eq=False)
class Cuts:
    """The moves of a stretch (n); `begun` is the number of the first one in the file. `speed` (n)
    is that of the spindle (rev/min), NaN where not known."""

    stretch: Stretch
    begun: int
    speed: Floats

    @cached_property
    def length(self) -> Floats:
        """How far each move cuts (n, mm); 0 for those that do not."""
        stretch, tip = self.stretch, self.stretch.frame.tip
        cuts = stretch.block.cuts
        if not cuts.any():
            return np.zeros(len(stretch))
        length = np.where(cuts, stretch.lengths, 0.0)
        if isnan(length.sum()):
            length[np.isnan(length)] = 0.0
        length[~self.sideways & (self.rise > 0)] = 0.0
        if tip is not None:
            self._shorten(length, tip.least)
        return length

    def _shorten(self, length: Floats, tip: float) -> None:
        """Leave of each length (n) what lies below the top of the sheet; `tip` is what to add to a
        Z number for the least height above it. Arcs in an upright plane stay whole."""
        ends = self.stretch.numbers(2)
        starts = ends - self.rise
        low, high = np.minimum(starts, ends), np.maximum(starts, ends)
        air = low >= -tip - NEAR
        partly = ~air & (high > -tip)
        arcs = self.stretch.block.arcs
        if arcs is not None and self.stretch.block.setting.plane != _PLANE_XY:
            air[arcs.rows] = partly[arcs.rows] = False
        length[air] = 0.0
        rows = np.flatnonzero(partly)
        length[rows] *= (-tip - low[rows]) / (high[rows] - low[rows])

    @cached_property
    def cuts(self) -> Bools:
        """Which moves cut (n)."""
        return self.length > 0

    @cached_property
    def sideways(self) -> Bools:
        """Which moves go sideways (n)."""
        block = self.stretch.block
        sideways: Bools = block.kind > LINE
        for axis in (0, 1):
            sideways |= np.diff(block.ends[axis], prepend=block.start[axis]) != 0
        return sideways

    @cached_property
    def rise(self) -> Floats:
        """How far each move goes up (n, mm); NaN where that is not known."""
        return np.diff(self.stretch.numbers(2), prepend=self.stretch.begun[2])

    @cached_property
    def feed(self) -> Floats:
        """The feed of each move (n, mm/min)."""
        return feeds_of(self.stretch)

    @cached_property
    def plunges(self) -> Bools:
        """Which moves cut straight down (n)."""
        return self.cuts & ~self.sideways

    @cached_property
    def across(self) -> Bools:
        """Which moves cut sideways, level or not (n)."""
        return self.cuts & self.sideways

    @cached_property
    def ramps(self) -> Bools:
        """Which moves cut down and sideways at once (n)."""
        return self.across & (self.rise < -_FLAT)

    @cached_property
    def along(self) -> Bools:
        """Which moves cut sideways, level or rising (n)."""
        return self.across & ~self.ramps

    @cached_property
    def level(self) -> Bools:
        """Which moves cut sideways and stay at their height (n)."""
        return self.along & (self.rise <= _FLAT)

    @cached_property
    def starts(self) -> Floats:
        """Where cuts begin behind a move that is none (k, 3): X and Y from the sheet's corner, Z as
        a number; NaN where that is not known."""
        first = np.flatnonzero(self.cuts & ~np.concatenate([[False], self.cuts[:-1]]))
        return ends_of(self.stretch, first)[0]

    def part(self, first: int, last: int) -> slice:
        """The rows of those of its moves that lie from the move `first` to before `last`."""
        low, high = (min(max(at - self.begun, 0), len(self.stretch)) for at in (first, last))
        return slice(low, high)

    @property
    def whole(self) -> slice:
        """All rows."""
        return slice(0, len(self.stretch))

    def lowest(self, rows: slice) -> float:
        """The lowest Z number to which some rows cut, arcs in upright planes at their lowest; NaN
        where none is known."""
        block, numbers = self.stretch.block, self.stretch.numbers(2)
        reached = outermost(numbers[rows], False)
        if reached is None or not self.cuts[rows.start + reached[1]]:
            reached = outermost(np.where(self.cuts[rows], numbers[rows], NAN), False)
        if block.arcs is not None and block.setting.plane != _PLANE_XY:
            part = block.part(rows.start, rows.stop)
            reached = bulge(part, 2, False, reached, Spokes.of(part)) or reached
        return NAN if reached is None else reached[0]

    def depth(self, rows: slice) -> Span | None:
        """How deep some rows cut below the top of the sheet; None where that is not known."""
        lowest, tip = self.lowest(rows), self.stretch.frame.tip
        if tip is None or isnan(lowest):
            return None
        return Span(max(clean(-lowest - tip.most), 0.0), max(clean(-lowest - tip.least), 0.0))


def cuts_of(job: Job, space: Sequence[Stretch]) -> tuple[Cuts, ...]:
    """The cuts of a job's stretches, in order. Where a hand sets the speed, it is that which the
    last pause asked for."""
    begun = np.cumsum([0, *(len(stretch) for stretch in space)])
    if job.machine.spindle.control == "by-hand":
        every = _asked_speeds(job, int(begun[-1]))
        speeds = [every[begun[at] : begun[at + 1]] for at in range(len(space))]
    else:
        known = speeds_of(job, space) if space else {}
        speeds = [known[id(stretch)] for stretch in space]
    return tuple(
        Cuts(stretch, int(at), speed)
        for stretch, at, speed in zip(space, begun[:-1], speeds, strict=True)
    )


def _asked_speeds(job: Job, moves: int) -> Floats:
    """The speed that pauses have asked a hand for, for each move (m); NaN where none has."""
    begun, speeds = [0], [NAN]
    for stop in job.trace.events_of(EventKind.STOP, EventKind.OPTIONAL_STOP):
        if asked_at(job, stop.line) in ("spindle-on", "spindle-set"):
            text = text_at(job, stop.line)
            speed = None if text is None else speed_asked(job.machine, text)
            begun.append(stop.moves)
            speeds.append(NAN if speed is None else speed)
    return np.repeat(speeds, np.diff([*begun, moves]))


def on_surface(job: Job, cuts: Sequence[Cuts]) -> Sequence[Cuts]:
    """The same cuts as they go over the surface of a blank that turns under the bit."""
    if job.setup.blank is None:
        return cuts
    return cuts_of(job, list(rolled_out(job, [part.stretch for part in cuts])))
