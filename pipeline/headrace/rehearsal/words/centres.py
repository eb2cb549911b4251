"""Centres of arcs: read the wrong way, or too uncertain to be read at all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
import numpy.typing as npt

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import Block, EventKind, interpret
from headrace.language.arcs import TAU, TOLERANCE
from headrace.language.modal import PLANES
from headrace.rehearsal.space.extents import before

Floats = npt.NDArray[np.float64]

_MISREAD = frozenset(("arc-radius-mismatch", "arc-zero-radius", "arc-wrong-offset"))
"""What is found of arcs whose centres are read the wrong way."""

_HALF, _WHOLE = (np.radians(165), np.radians(195)), np.radians(345)
"""Turns that the standard calls bad practice by radius (RS274/NGC 3.5.3.1)."""

_WANDERS = 0.05
"""Centres that a rounding moves by more than this (mm) are told of."""

_ROUNDED = 0.0005
"""Half of the last digit (mm) that files usually have."""

_NEARLY_WHOLE = np.radians(359.9)
_SAME, _CLOSE = 1e-6, 0.01
"""Ends of an arc that are one place, and such (mm) that a rounding of CAM may have parted."""

_EXACT = 1e-9
_LOOKED_AT = 20
_FAR_LARGER = 4.0
"""Of two readings of a circle the one this many times larger is doubtful."""


def misread_centres(job: Job) -> Finding | None:
    """That no arc is at fault when I J K are read as places, where they count from the start of
    the arc (3.5.3.2). The job's findings on arcs are then beside the point."""
    faulty = [finding for finding in job.trace.findings if finding.name in _MISREAD]
    if not faulty or job.start.absolute_centres:
        return None
    start = job.start.copy()
    start.absolute_centres = True
    other = interpret(job.program, job.dialect, start)
    if any(on_arcs(finding) for finding in other.findings):
        return None
    arcs = sum(len(block.arcs.rows) for block in other.blocks if block.arcs is not None)
    what = f"as places I and J fit every arc ({arcs} in all), and as distances they do not"
    return Finding.of("centres-absolute", what, faulty[0].place)


def on_arcs(finding: Finding) -> bool:
    """Whether a finding on a line is about an arc, or sums up such findings."""
    summed = finding.name == "more-findings" and "`arc-" in finding.what
    return summed or finding.name.startswith("arc-")


def centre_findings(job: Job) -> Iterator[Finding]:
    """Circles that are likely misread, and arcs by radius whose centre is not certain."""
    by_radius = job.program.lines_with("R")
    arcs = [_Arcs.of(block, by_radius) for block in job.trace.blocks if block.arcs is not None]
    yield from _doubtful(job, arcs)
    yield from _nearly_whole(job, arcs)
    if len(by_radius):
        yield from _wandering(job, arcs)


@dataclass(frozen=True, slots=True, eq=False)
class _Arcs:
    """The arcs of a block (k): where they start and end and their centres, in the plane (mm)."""

    line: npt.NDArray[np.int32]
    start: tuple[Floats, Floats]
    end: tuple[Floats, Floats]
    centre: tuple[Floats, Floats]
    turn: Floats
    by_radius: npt.NDArray[np.bool_]

    @classmethod
    def of(cls, block: Block, by_radius: npt.NDArray[np.int64]) -> _Arcs:
        assert block.arcs is not None
        rows, axes = block.arcs.rows, PLANES[block.setting.plane][:2]
        line = block.line[rows]
        first, second = axes
        return cls(
            line=line,
            start=(before(block, first, rows), before(block, second, rows)),
            end=(block.ends[first][rows], block.ends[second][rows]),
            centre=(block.arcs.centre_u, block.arcs.centre_v),
            turn=block.arcs.turn,
            by_radius=_among(line, by_radius),
        )

    @property
    def radius(self) -> Floats:
        return np.hypot(self.start[0] - self.centre[0], self.start[1] - self.centre[1])


def _among(some: npt.NDArray[np.int32], ascending: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
    """Which of some numbers (n) are among others."""
    if not len(ascending):
        return np.zeros(len(some), bool)
    at = np.minimum(np.searchsorted(ascending, some), len(ascending) - 1)
    among: npt.NDArray[np.bool_] = ascending[at] == some
    return among


def _doubtful(job: Job, arcs: list[_Arcs]) -> Iterator[Finding]:
    """Every arc with a centre fits the other reading too, and is far smaller there."""
    if job.start.absolute_centres or np.isin(job.program.codes()[1], (90.1, 91.1)).any():
        return
    largest: tuple[float, int] | None = None
    for some in arcs:
        own = np.flatnonzero(~some.by_radius)
        if not len(own):
            continue
        start, end, centre, radius = (
            np.array(values)[..., own]
            for values in (some.start, some.end, some.centre, some.radius)
        )
        words = centre - start
        here, there = (np.hypot(*(place - words)) for place in (start, end))
        fits = np.abs(here - there) <= TOLERANCE["mm"]
        if not (fits & (here * _FAR_LARGER < radius) & (here > 0)).all():
            return
        at = int(np.argmax(radius))
        if largest is None or radius[at] > largest[0]:
            largest = float(radius[at]), int(some.line[own[at]])
            smaller = float(here[at])
    if largest is not None:
        what = (
            f"a circle of radius {largest[0]:.3f} mm; with I and J as places it were"
            f" {smaller:.3f} mm, and every arc of the file fits that"
        )
        yield Finding.of("centres-doubtful", what, job.program.place(largest[1]))


def _nearly_whole(job: Job, arcs: list[_Arcs]) -> Iterator[Finding]:
    """The first arc that goes nearly all around and ends a rounding away from where it begins: a
    rounding the other way, and it would be next to nothing."""
    for some in arcs:
        if not (some.turn > _NEARLY_WHOLE).any():
            continue
        gap = np.hypot(*(some.end[axis] - some.start[axis] for axis in (0, 1)))
        around = (some.turn > _NEARLY_WHOLE) & (gap > _SAME) & (gap <= _CLOSE) & ~some.by_radius
        for at in np.flatnonzero(around)[:1]:
            what = (
                f"an arc of nearly a whole circle of radius {some.radius[at]:.3f} mm, which ends"
                f" {gap[at]:.4f} mm from where it begins"
            )
            yield Finding.of("circle-doubtful", what, job.program.place(int(some.line[at])))
            return


def _wandering(job: Job, arcs: list[_Arcs]) -> Iterator[Finding]:
    """The arc by radius whose centre a rounding of its numbers moves furthest."""
    suspects: list[tuple[float, int, float, float]] = []
    for some in arcs:
        rows = np.flatnonzero(some.by_radius & _ill(some.turn))
        chord = np.hypot(*(some.end[axis][rows] - some.start[axis][rows] for axis in (0, 1)))
        radius = some.radius[rows]
        # a half circle whose radius is half its chord, digit by digit, leaves no doubt
        sure = np.abs(2 * radius - chord) < _EXACT
        shift = np.where(sure, 0.0, moved_centre(radius, chord, _ROUNDED))
        suspects += [
            (float(shift[at]), int(some.line[rows[at]]), float(radius[at]), float(chord[at]))
            for at in np.argsort(-shift)[:_LOOKED_AT]
            if shift[at] > 0
        ]
    worst = (0.0, 0)
    for _, line, radius_, chord_ in sorted(suspects, reverse=True)[:_LOOKED_AT]:
        moved = moved_centre(np.array([radius_]), np.array([chord_]), _half_digit(job, line))
        worst = max(worst, (float(moved[0]), line))
    if worst[0] > _WANDERS:
        what = (
            f"the rounding of the last digit alone moves the centre of this arc {worst[0]:.2f} mm"
        )
        yield Finding.of("centre-wanders", what, job.program.place(worst[1]))


def _ill(turn: Floats) -> npt.NDArray[np.bool_]:
    half = (turn > _HALF[0]) & (turn < _HALF[1])
    ill: npt.NDArray[np.bool_] = half | ((turn > _WHOLE) & (turn < TAU))
    return ill


def moved_centre(radius: Floats, chord: Floats, error: float) -> Floats:
    """How far (n, mm) the centre of an arc by radius moves when its radius, or its end across the
    chord, is off by `error` (mm).

    The centre lies sqrt(r**2 - (c/2)**2) off the middle of the chord, and turns with the chord.
    """
    half = chord / 2
    height = np.sqrt(np.maximum(radius**2 - half**2, 0.0))
    longer = np.sqrt(np.maximum((radius + error) ** 2 - half**2, 0.0)) - height
    shorter = height - np.sqrt(np.maximum((radius - error) ** 2 - half**2, 0.0))
    with np.errstate(divide="ignore"):
        turned = radius * error / chord
    moved: Floats = np.maximum(np.maximum(longer, shorter), turned)
    return moved


def _half_digit(job: Job, line: int) -> float:
    """Half of the last digit (mm) to which a line is rounded: that of its longest number, or of
    the usual three places in mm and four in inch, where zeros were left out."""
    units = [event.value for event in job.trace.events_of(EventKind.UNITS) if event.line <= line]
    inch = (units[-1] if units else job.start.units) == "inch"
    words = job.program[line].words
    places = [_places(word.value) for word in words if word.value is not None]
    return 10.0 ** -max(4 if inch else 3, *places) / 2 * (25.4 if inch else 1.0)


def _places(value: Decimal) -> int:
    exponent = value.as_tuple().exponent
    return -exponent if isinstance(exponent, int) else 0
