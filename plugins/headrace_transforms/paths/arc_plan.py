"""What becomes of each arc on a machine: it stays, is said otherwise, or is cut into chords."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headrace import Job, JobRefused
from headrace_transforms.numbers.digits import PLACES
from headrace_transforms.paths.arc_parts import BY_CENTRE, BY_RADIUS, CHORD
from headrace_transforms.paths.arcs import Arcs, Bools, Floats, Longs
from headrace_transforms.paths.chords import fewest
from headrace_transforms.telling.refusing import refusal

_UNSOUND = (np.radians(165), np.radians(195)), np.radians(345)
"""By radius, arcs between the first two turns, and above the third, are bad practice (RS274/NGC
3.5.3.1)."""
_THIRD = 2 * np.pi / 3
_SPARE = 0.01
"""The part of a tolerance that rounding may take, where the machine leaves the choice."""
_FIRST_PLACES, _LAST_PLACES = 4, 7
_KEPT = 0.9
"""The part of what the standard allows between both radii that is made use of."""


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """How some arcs (k) of `every` one are written: in `count` (k) parts of a `form` (k), with so
    many places."""

    every: Arcs
    arcs: Arcs
    count: Longs
    form: Longs
    places: int


def plan_of(job: Job, tolerance: float, which: str) -> Plan:
    """The arcs that are written anew: `all` in chords, or those that the machine is `lacking`.

    Raises JobRefused where that cannot be right.
    """
    every = Arcs.of(job)
    if which == "all":
        chosen, form = np.ones(len(every), np.bool_), np.full(len(every), CHORD)
    else:
        chosen, form = _lacking(job, every)
    arcs, form = every.where(chosen), form[chosen]
    if not len(arcs):
        return Plan(every, arcs, np.zeros(0, np.int64), form, _FIRST_PLACES)
    _require_sound(job, arcs)
    places = _places(job, arcs, tolerance)
    form = np.where(_loses(arcs, form, places, tolerance), CHORD, form)
    spare = _rounding(arcs, places)
    _require_fine(job, arcs, spare, tolerance)
    radius = np.maximum(*arcs.radii)
    chords = fewest(radius, arcs.turn, np.nan_to_num(arcs.rise), tolerance - spare)
    count = np.select(
        [form == CHORD, form == BY_RADIUS], [chords, _sound(arcs)], _halved(job, arcs)
    )
    return Plan(every, arcs, count, form, places)


def lacks_arcs(job: Job) -> bool:
    """Whether there are arcs that the machine does not read as they are said."""
    return bool(_lacking(job, Arcs.of(job))[0].any())


def _lacking(job: Job, arcs: Arcs) -> tuple[Bools, Longs]:
    """Which arcs the machine does not read as they are, and the form in which it reads them."""
    reads = job.machine.arcs
    planes = [int(plane[1:]) for plane in reads.planes]
    helix = arcs.rise != 0
    steady = ~helix | (reads.helix and reads.feed == "path")
    readable = np.isin(arcs.plane, planes) & steady & (reads.centre or reads.radius)
    as_is = np.where(arcs.by_radius, reads.radius, reads.centre)
    as_is &= ~arcs.full | reads.full_circles
    form = np.where(readable, BY_CENTRE if reads.centre else BY_RADIUS, CHORD)
    return ~(readable & as_is), form


def _halved(job: Job, arcs: Arcs) -> Longs:
    """The number of arcs by their centres that one is said in: two where it may not end where it
    begins."""
    split = arcs.full & (not job.machine.arcs.full_circles)
    return np.where(split, 2, 1)


def _sound(arcs: Arcs) -> Longs:
    """The number of arcs by radius that one is said in, so that each is well determined."""
    (low, high), most = _UNSOUND
    bad = ((arcs.turn > low) & (arcs.turn < high)) | (arcs.turn > most)
    return np.where(bad, np.ceil(arcs.turn / _THIRD - 1e-9), 1).astype(np.int64)


def _loses(arcs: Arcs, form: Longs, places: int, tolerance: float) -> Bools:
    """Which arcs cannot be said in their form with so many places: the radii would differ by more
    than the standard allows, or the centre would wander."""
    last = 10.0**-places * arcs.factor / 2
    first, second = arcs.radii
    mismatch = np.abs(first - second)
    half = arcs.turn / _sound(arcs) / 2
    sine, cosine = np.maximum(np.abs((np.sin(half), np.cos(half))), 1e-9)
    # the centre comes to lie on the chord's bisector, as far from it as the radius says
    wanders = mismatch / 2 / sine + (mismatch / 2 + 3 * last) / cosine
    by_radius = wanders > _KEPT * tolerance
    by_centre = (mismatch + 4 * last > arcs.allowed * _KEPT) | (mismatch + 4 * last > tolerance)
    loses: Bools = np.where(form == BY_RADIUS, by_radius, by_centre)
    return loses


def _places(job: Job, arcs: Arcs, tolerance: float) -> int:
    """The places that numbers are written with: those that the machine reads, else so many that
    rounding takes next to nothing of the tolerance."""
    if job.machine.decimals is not None:
        return min(job.machine.decimals, PLACES)
    unit = float(arcs.factor.max())
    places = _FIRST_PLACES
    while places < _LAST_PLACES and unit * 10.0**-places > tolerance * _SPARE:
        places += 1
    while places < _LAST_PLACES and (_rounding(arcs, places) > tolerance / 4).any():
        places += 1
    return places


def _rounding(arcs: Arcs, places: int) -> Floats:
    """How far the rounding of its numbers takes a chord's end from its place at most (k, mm): on a
    helix, what is off along it is off in height as well."""
    last = 10.0**-places * arcs.factor / 2
    flat = np.sqrt(2) * last
    rise = np.abs(np.nan_to_num(arcs.rise))
    slope = rise / np.maximum(np.minimum(*arcs.radii) * arcs.turn, 1e-9)
    rounding: Floats = np.where(rise > 0, np.hypot(flat, last + slope * flat), flat)
    return rounding


def _require_sound(job: Job, arcs: Arcs) -> None:
    """JobRefused for the first arc that cannot be written anew."""
    first, last = arcs.radii
    known = np.isfinite(arcs.in_plane(arcs.start)[:, :2]).all(axis=1)
    known &= np.isfinite(arcs.in_plane(arcs.end)[:, :2]).all(axis=1) & np.isfinite(arcs.rise)
    known &= np.isfinite(arcs.centre).all(axis=1) & np.isfinite(arcs.turn)
    closes = (np.abs(first - last) <= arcs.allowed + 1e-9) & (first > 0)
    # the moves of a subprogram are those of the line that calls it
    named = np.concatenate([job.program.lines_with(letter) for letter in "XYZ"])
    called = ~np.isin(arcs.line, named)
    for wrong, name, what in (
        (called, "arc-called", "an arc that stands in a subprogram"),
        (~known, "arc-start-unknown", "an arc from a place that no line has stated yet"),
        (~closes, "arc-radius-mismatch", "an arc whose radii differ"),
        (arcs.timed, "arc-timed", "an arc whose F says how long it takes (G93)"),
        (arcs.swings, "arc-swings", "an arc while A, B or C turns"),
        (switched(job, arcs), "arc-start-optional", "an arc from where an optional line leads"),
    ):
        if wrong.any():
            raise _refused(job, arcs, int(np.argmax(wrong)), name, what)


def _require_fine(job: Job, arcs: Arcs, spare: Floats, tolerance: float) -> None:
    """JobRefused where rounding alone would take half the tolerance, or the arc is so small that
    no place lies between its ends."""
    coarse = spare > tolerance / 2
    if coarse.any():
        at = int(np.argmax(coarse))
        what = f"rounding takes up to {spare[at]:.3g} mm of the tolerance of {tolerance:g} mm here"
        raise _refused(job, arcs, at, "arc-places-few", what)
    small = arcs.full & (np.maximum(*arcs.radii) < 2 * spare)
    if small.any():
        at = int(np.argmax(small))
        what = "a circle that is smaller than the last place of its numbers"
        raise _refused(job, arcs, at, "arc-places-few", what)


def _refused(job: Job, arcs: Arcs, at: int, name: str, what: str) -> JobRefused:
    return refusal(name, what, place=job.program.place(int(arcs.line[at])))


def switched(job: Job, arcs: Arcs) -> Bools:
    """Which arcs begin where a line leads that a switch may leave out; an optional arc is left out
    with such lines, and increments lead from anywhere (k)."""
    optional = job.program.lines_optional()
    found = np.zeros(len(arcs), np.bool_)
    if not len(optional):
        return found
    fixed = ~arcs.increments & ~np.isin(arcs.line, optional)
    for axis, name in enumerate("XYZ"):
        lines = job.program.lines_with(name)
        led, stated = lines[np.isin(lines, optional)], lines[~np.isin(lines, optional)]
        concerned = fixed & ((arcs.axes(2) != axis) | arcs.lifts)
        last = [np.concatenate([[-1], each])[np.searchsorted(each, arcs.line)]
                for each in (led, stated)]  # fmt: skip
        found |= concerned & (last[0] > last[1])
    return found
