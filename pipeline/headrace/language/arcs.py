"""Arcs: centre and turn from what a line says, in bulk (RS274/NGC 3.5.3).

Every function takes arrays of one length n. Coordinates are those of the selected plane, first
and second axis right-handed, in mm; angles in rad.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

TAU = 2.0 * np.pi
_ONE_PLACE = 1e-6
TOLERANCE = {"mm": 0.002, "inch": 0.0002 * 25.4}
"""The radii at both ends may differ by this much (3.5.3.2), by the units in force."""


FAULTS = (
    "",
    "arc-no-axis",
    "arc-mixed",
    "arc-wrong-offset",
    "arc-no-centre",
    "arc-start-unknown",
    "arc-r-full-circle",
    "arc-r-too-small",
    "arc-zero-radius",
    "arc-radius-mismatch",
)
"""Kinds of findings by fault number; 0 is none."""


@dataclass(frozen=True, slots=True, eq=False)
class Arcs:
    """Solved arcs (n each). `turn` is positive, up to a whole turn; `mismatch` is how far the
    radii at start and end differ, or how far the end is out of the radius' reach; `fault` is an
    index of FAULTS."""

    centre_u: Floats
    centre_v: Floats
    radius: Floats
    turn: Floats
    mismatch: Floats
    fault: npt.NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class ArcWords:
    """What lines say of their arcs (n each), NaN where a word is absent: offsets along the plane's
    first and second axis and across it, and the radius; all in mm. `named` tells where a line
    names an axis of the plane."""

    first: Floats
    second: Floats
    across: Floats
    radius: Floats
    named: Flags


def solve(
    start: tuple[Floats, Floats],
    end: tuple[Floats, Floats],
    words: ArcWords,
    clockwise: Flags,
    absolute: bool,
    tolerance: float,
) -> Arcs:
    """Arcs between `start` and `end`, with the first rule that each breaks."""
    by_radius = ~np.isnan(words.radius)
    lacking = [np.isnan(words.first), np.isnan(words.second)]
    centre_missing = lacking[0] | lacking[1] if absolute else lacking[0] & lacking[1]
    with np.errstate(invalid="ignore", divide="ignore"):
        if absolute:
            centre = (words.first, words.second)
        else:
            # a missing offset counts as zero (by the samples of appendix C)
            centre = (
                start[0] + np.nan_to_num(words.first),
                start[1] + np.nan_to_num(words.second),
            )
        centre_u, centre_v, radius, turn, mismatch = _by_centre(start, end, centre, clockwise)
        if by_radius.any():
            other = _by_radius(start, end, words.radius, clockwise)
            centre_u, centre_v, radius, turn, mismatch = (
                np.where(by_radius, o, c)
                for o, c in zip(other, (centre_u, centre_v, radius, turn, mismatch), strict=True)
            )
        still = _one_place(start, end)
        wide = mismatch > tolerance
    fault = np.select(
        [
            ~words.named,
            by_radius & ~(lacking[0] & lacking[1]),
            ~np.isnan(words.across),
            ~by_radius & centre_missing,
            np.isnan(start[0] + start[1]),
            by_radius & still,
            by_radius & wide,
            radius == 0,
            wide,
        ],
        range(1, len(FAULTS)),
        default=0,
    ).astype(np.uint8)
    return Arcs(centre_u, centre_v, radius, turn, mismatch, fault)


_Solution = tuple[Floats, Floats, Floats, Floats, Floats]


def _by_centre(
    start: tuple[Floats, Floats],
    end: tuple[Floats, Floats],
    centre: tuple[Floats, Floats],
    clockwise: Flags,
) -> _Solution:
    from_u, from_v = start[0] - centre[0], start[1] - centre[1]
    to_u, to_v = end[0] - centre[0], end[1] - centre[1]
    radius = np.hypot(from_u, from_v)
    mismatch = np.abs(radius - np.hypot(to_u, to_v))
    angle = np.arctan2(to_v, to_u) - np.arctan2(from_v, from_u)
    turn = np.mod(np.where(clockwise, -angle, angle), TAU)
    whole = _one_place(start, end)
    return centre[0], centre[1], radius, np.where(whole, TAU, turn), mismatch


def _one_place(start: tuple[Floats, Floats], end: tuple[Floats, Floats]) -> Flags:
    """Whether an arc ends where it begins, but for the rounding of the arithmetic."""
    return (np.abs(start[0] - end[0]) < _ONE_PLACE) & (np.abs(start[1] - end[1]) < _ONE_PLACE)


def _by_radius(
    start: tuple[Floats, Floats],
    end: tuple[Floats, Floats],
    radius: Floats,
    clockwise: Flags,
) -> _Solution:
    """A negative radius asks for the longer way round (3.5.3.1)."""
    du, dv = end[0] - start[0], end[1] - start[1]
    half = np.hypot(du, dv) / 2
    size = np.abs(radius)
    height = np.sqrt(np.maximum(size**2 - half**2, 0.0))
    # a short clockwise arc has its centre to the right of the way from start to end
    side = np.where(clockwise == (radius > 0), 1.0, -1.0) * height / (2 * half)
    centre_u = (start[0] + end[0]) / 2 + side * dv
    centre_v = (start[1] + end[1]) / 2 - side * du
    short = 2 * np.arcsin(np.minimum(half / size, 1.0))
    turn = np.where(radius > 0, short, TAU - short)
    return centre_u, centre_v, size, turn, np.maximum(half - size, 0.0)


def steepness(seen: Floats, rise: Floats) -> Floats:
    """How many times longer helices are than what is seen of them in their plane (k); `seen` is
    that length and `rise` the way across (mm)."""
    with np.errstate(invalid="ignore", divide="ignore"):
        times: Floats = np.where(np.asarray(rise) == 0, 1.0, np.hypot(seen, rise) / seen)
    return times
