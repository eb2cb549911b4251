"""Arcs whose ends are rounded: centres and radii that still fit them.

Centres are rounded as the places that they are, so that they stay where they were; only where the
radii at both ends would differ by more than the standard allows (RS274/NGC 3.5.3.2) a centre moves
along the chord. A radius gets as many places as its centre needs.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from weakref import WeakKeyDictionary

import numpy as np
import numpy.typing as npt

from headrace import Job, Trace, number_text
from headrace_transforms.numbers.modes import Bools, Mode
from headrace_transforms.numbers.style import (
    ARC_TOLERANCE,
    MM_IN_INCH,
    Floats,
    Style,
    inch_mode,
    on_grid,
)
from headrace_transforms.paths.arcs import PLANES

Longs = npt.NDArray[np.int64]
Scales = npt.NDArray[np.int8]

FARTHEST = ARC_TOLERANCE["inch"]
"""By more than this (mm) no centre is moved: what the standard lets radii differ in inches."""

_NEAR = 1.5
"""By so many last places the centre of an arc may be off that is given by its radius, or moved."""
_MARGIN = 1e-5
"""So much (mm) of the tolerance is left to the controller's own arithmetic."""
_AROUND = np.array([(a, b) for a in (0, -1, 1) for b in (0, -1, 1)], np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Words:
    """The numbers that one letter gets on some lines (k, ascending): `mantissa / 10**scale`."""

    line: Longs
    mantissa: Longs
    scale: Scales


@dataclass(frozen=True, slots=True, eq=False)
class KeptArcs:
    """The words of all arcs of a job, by letter, in some style. `centred` are lines whose R gives
    way to words of the centre. `moved` tells by how much (mm) a centre is off at most, `lost` are
    lines with arcs that cannot be kept. `any` tells whether there are arcs at all."""

    any: bool
    words: dict[str, Words] = field(default_factory=dict)
    centred: dict[int, str] = field(default_factory=dict)
    moved: float = 0.0
    lost: tuple[int, ...] = ()

    @classmethod
    def of(cls, job: Job, stop: int, style: Style) -> KeptArcs:
        """The arcs of a job; worked out once for a trace."""
        known = _KNOWN.setdefault(job.trace, {})
        if style not in known:
            known[style] = _kept(job, stop, style)
        return known[style]


_KNOWN: WeakKeyDictionary[Trace, dict[Style, KeptArcs]] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True, eq=False)
class _Arcs:
    """Arcs of a job in the style's units, times ten for each of its places (k): start, end and
    centre (k, 2) in the plane, `base` (k, 2) what the words of the centre count from, and `has`
    (k, 2) which of them there are. `step` is the last place in mm, `limit` the tolerance."""

    line: Longs
    start: Floats
    end: Floats
    base: Floats
    centre: Floats
    has: Bools
    by_radius: Bools
    clockwise: Bools
    turn: Floats
    plane: Longs
    step: Floats
    limit: Floats

    def where(self, keep: Bools) -> _Arcs:
        """Some of the arcs."""
        return _Arcs(*(getattr(self, name)[keep] for name in self.__slots__))

    @property
    def whole(self) -> Bools:
        """Which are full circles."""
        full: Bools = self.turn > 2 * np.pi - 1e-12
        return full

    @property
    def farthest(self) -> Floats:
        """By how much a centre may move at most, in last places."""
        most: Floats = np.maximum(FARTHEST / self.step, _NEAR)
        return most

    def off(self, centre: Floats) -> Floats:
        """By how much the radii at start and end differ (mm)."""
        first = np.hypot(*(centre - self.start).T)
        last = np.hypot(*(centre - self.end).T)
        differ: Floats = np.abs(first - last) * self.step
        return differ

    def fine(self, centre: Floats) -> Bools:
        """Which arcs a centre (k, 2) fits."""
        same = (self.start == self.end).all(axis=1)
        radius = np.hypot(*(centre - self.start).T)
        fits: Bools = (self.off(centre) <= self.limit) & (radius > 0) & (same == self.whole)
        return fits


def _kept(job: Job, stop: int, style: Style) -> KeptArcs:
    arcs = _arcs(job, stop, style)
    if arcs is None:
        return KeptArcs(False)
    words: dict[str, list[Words]] = {}
    centred: dict[int, str] = {}
    centre = arcs.base + np.where(arcs.has, on_grid(arcs.centre - arcs.base), 0.0)
    fine = arcs.fine(centre)
    more = np.zeros(len(fine), np.int8)
    bad = ~fine & ~arcs.by_radius
    if bad.any():
        centre[bad], more[bad], fine[bad] = _moved(arcs.where(bad), style)
    if arcs.by_radius.any():
        some = np.flatnonzero(arcs.by_radius)
        radii = arcs.where(arcs.by_radius)
        size, places, found = _radii(radii, style)
        known = places >= 0
        words["R"] = [Words(radii.line[known], size[known], places[known])]
        centre[some], fine[some] = found, known
        if not known.all() and job.machine.arcs.centre:
            rest = radii.where(~known)
            spots, extra, fits = _moved(rest, style)
            centre[some[~known]], fine[some[~known]] = spots, fits
            numbers = (spots - rest.base) / 10.0**style.places
            rows = zip(rest.line, numbers, extra, rest.plane, fits, strict=True)
            centred = {
                int(line): _spelt(number, style.places + int(places), int(plane), style.point)
                for line, number, places, plane, fit in rows
                if fit
            }
    for column in range(2):
        named = arcs.has[:, column] & fine & ~arcs.by_radius
        for plane, axes in PLANES.items():
            mine = named & (arcs.plane == plane)
            if mine.any():
                value = (centre - arcs.base)[mine, column] * 10.0 ** more[mine]
                words.setdefault("IJK"[axes[column]], []).append(
                    Words(
                        arcs.line[mine],
                        on_grid(value).astype(np.int64),
                        more[mine] + np.int8(style.places),
                    )
                )
    shift = np.abs(centre - arcs.centre).max(axis=1) * arcs.step
    near = fine & (shift <= arcs.farthest * arcs.step)
    return KeptArcs(
        True,
        {letter: _joined(parts) for letter, parts in words.items()},
        centred,
        float(shift[near].max(initial=0.0)),
        tuple(arcs.line[~near].tolist()),
    )


def _arcs(job: Job, stop: int, style: Style) -> _Arcs | None:
    """The arcs of a job, or None where it has none."""
    inch = inch_mode(job, stop)
    places = Mode.of(job, stop, (90.1, 91.1), job.start.absolute_centres)
    blocks = [block for block in job.trace.blocks if block.arcs is not None]
    if not blocks:
        return None
    with_word = {letter: job.program.lines_with(letter) for letter in "IJKR"}
    parts = []
    for block in blocks:
        assert block.arcs is not None
        rows = block.arcs.rows
        axes = PLANES[block.setting.plane]
        line = block.line[rows].astype(np.int64)
        to_inch = style.inch(line, inch)
        grid = np.where(to_inch, 10.0**style.places / MM_IN_INCH, 10.0**style.places)[:, None]
        start = on_grid(np.column_stack([block.starts(axis)[rows] for axis in axes[:2]]) * grid)
        end = on_grid(np.column_stack([block.ends[axis][rows] for axis in axes[:2]]) * grid)
        exact = np.column_stack([block.arcs.centre_u, block.arcs.centre_v]) * grid
        step = np.where(to_inch, MM_IN_INCH, 1.0) * 10.0**-style.places
        limit = np.where(to_inch, ARC_TOLERANCE["inch"], ARC_TOLERANCE["mm"]) - _MARGIN
        parts.append(
            _Arcs(
                line=line,
                start=start,
                end=end,
                base=np.where(places.at(line)[:, None], 0.0, start),
                centre=exact,
                has=np.column_stack([np.isin(line, with_word["IJK"[axis]]) for axis in axes[:2]]),
                by_radius=np.isin(line, with_word["R"]),
                clockwise=block.kind[rows] == 2,
                turn=block.arcs.turn,
                plane=np.full(len(rows), block.setting.plane),
                step=step,
                limit=limit,
            )
        )
    return _Arcs(*(np.concatenate([getattr(part, n) for part in parts]) for n in _Arcs.__slots__))


def _moved(arcs: _Arcs, style: Style) -> tuple[Floats, Scales, Bools]:
    """Centres (k, 2), as near and with as few places as can be, by how many more these are, and
    whether they fit: moved along the chord until the radii differ by no more than they may, and to
    the best of the whole places around there."""
    best = arcs.centre.copy()
    more = np.zeros(len(best), np.int8)
    left = np.ones(len(best), bool)
    for extra in range(style.most - style.places + 1):
        spot = _nearest(arcs, 10.0**extra)
        here = left & arcs.fine(spot) & (np.abs(spot - arcs.centre).max(axis=1) <= arcs.farthest)
        best[here], more[here] = spot[here], extra
        left &= ~here
        if not left.any():
            break
    return best, more, ~left


def _nearest(arcs: _Arcs, fine: float) -> Floats:
    """The nearest centres (k, 2) that fit, on a grid so many times finer; NaN where none does."""
    free = arcs.has | arcs.by_radius[:, None]
    best, distance = np.full_like(arcs.centre, np.nan), np.full(len(arcs.centre), np.inf)
    for margin in (0.0, 1.0, 2.0):
        spot = _along_the_chord(arcs, np.maximum(arcs.limit / arcs.step - margin / fine, 0.0))
        middle = on_grid((spot - arcs.base) * fine)
        for around in _AROUND:
            other = arcs.base + np.where(free, (middle + around) / fine, 0.0)
            away = np.where(arcs.fine(other), np.hypot(*(other - arcs.centre).T), np.inf)
            nearer = away < distance
            best[nearer], distance[nearer] = other[nearer], away[nearer]
    return best


def _along_the_chord(arcs: _Arcs, aim: Floats) -> Floats:
    """Centres (k, 2) from which the radii differ by no more than `aim` (k), exactly; where a word
    of the centre is missing, they move along the axis of the other."""
    way = arcs.end - arcs.start
    both = arcs.has.all(axis=1) | arcs.by_radius
    along = np.where(both[:, None], way, arcs.has.astype(np.float64))
    spot = arcs.centre.copy()
    with np.errstate(invalid="ignore", divide="ignore"):
        along = along / np.hypot(*along.T)[:, None]
        for _ in range(4):
            first, last = spot - arcs.start, spot - arcs.end
            near, far = np.hypot(*first.T), np.hypot(*last.T)
            off = near - far
            slope = ((first / near[:, None] - last / far[:, None]) * along).sum(axis=1)
            beyond = off - np.clip(off, -aim, aim)
            spot -= np.where(beyond == 0, 0.0, beyond / slope)[:, None] * along
    return np.where(np.isfinite(spot), spot, arcs.centre)


def _radii(arcs: _Arcs, style: Style) -> tuple[Longs, Scales, Floats]:
    """Radii with the fewest places that leave the centre where it is (-1 places: none do), and the
    centres (k, 2) that they give."""
    way = arcs.end - arcs.start
    half = np.hypot(*way.T) / 2
    exact = (np.hypot(*(arcs.centre - arcs.start).T) + np.hypot(*(arcs.centre - arcs.end).T)) / 2
    longer = arcs.turn > np.pi + 1e-9
    right = arcs.clockwise != longer
    with np.errstate(invalid="ignore", divide="ignore"):
        normal = np.column_stack([way[:, 1], -way[:, 0]]) / (2 * half)[:, None]
    normal *= np.where(right, 1.0, -1.0)[:, None]
    size = np.zeros(len(half), np.int64)
    places = np.full(len(half), -1, np.int8)
    centres = arcs.centre.copy()
    for more in range(style.most - style.places + 1):
        written = on_grid(exact * 10.0**more)
        radius = written / 10.0**more
        height = np.sqrt(np.maximum(radius**2 - half**2, 0.0))
        spot = (arcs.start + arcs.end) / 2 + height[:, None] * normal
        fits = (np.abs(spot - arcs.centre).max(axis=1) <= _NEAR) & (half > 0)
        fits &= ((half - radius) * arcs.step <= arcs.limit / 2) & (places < 0)
        size[fits] = (written * np.where(longer, -1, 1))[fits].astype(np.int64)
        places[fits] = style.places + more
        centres[fits] = spot[fits]
    return size, places, centres


def _spelt(offset: Floats, places: int, plane: int, point: bool) -> str:
    """The words of a centre, in the place of R; with `point` each has one."""
    texts = [number_text(value, places) for value in offset.tolist()]
    return " ".join(
        f"{'IJK'[axis]}{text}{'.' if point and '.' not in text else ''}"
        for axis, text in zip(PLANES[plane], texts, strict=False)
    )


def _joined(parts: list[Words]) -> Words:
    line = np.concatenate([part.line for part in parts])
    order = np.argsort(line, kind="stable")
    return Words(
        line[order],
        np.concatenate([part.mantissa for part in parts])[order],
        np.concatenate([part.scale for part in parts])[order],
    )
