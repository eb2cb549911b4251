"""Arcs in their plane (section 3.5.3). Lengths mm, angles radians.

A point is (first, second) in the right-handed pair of the plane's axes, so counterclockwise,
seen from the positive end of the third axis, is always the positive sense (section 4.3.6.1).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from reference.fault import ReferenceError_

Flat = tuple[float, float]

PLANE_AXES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}  # first, second, third axis
SAME = 1e-6  # mm; two points closer than this are one point, so that rounding cannot undo a circle
TOLERANCE = {20: 0.0002 * 25.4, 21: 0.002}  # mm, by the units in force (section 3.5.3.2)


@dataclass(frozen=True, slots=True)
class Arc:
    """Centre, and the amount of turn: above 0, at most a full circle."""

    centre: Flat
    turn: float


def centre_form(
    start: Flat, end: Flat, centre: Flat, *, clockwise: bool, tolerance: float, column: int
) -> Arc:
    """Section 3.5.3.2. End at start is a full circle."""
    radius = math.dist(start, centre)
    if radius < SAME:
        raise ReferenceError_("arc-zero-radius", column)
    if abs(radius - math.dist(end, centre)) > tolerance:
        raise ReferenceError_("arc-radius-mismatch", column)
    if math.dist(start, end) < SAME:
        return Arc(centre, math.tau)
    before = math.atan2(start[1] - centre[1], start[0] - centre[0])
    after = math.atan2(end[1] - centre[1], end[0] - centre[0])
    turn = (before - after if clockwise else after - before) % math.tau
    return Arc(centre, turn if turn > 0 else math.tau)


def radius_form(
    start: Flat, end: Flat, radius: float, *, clockwise: bool, tolerance: float, column: int
) -> Arc:
    """Section 3.5.3.1: a positive radius turns by half a circle or less, a negative by more.

    A chord longer than the diameter is refused (from memory); the tolerance of the centre form
    is allowed to the half chord, and gives a half circle.
    """
    chord = math.dist(start, end)
    if chord < SAME:
        raise ReferenceError_("arc-r-full-circle", column)
    half, size = chord / 2, abs(radius)
    if half - size > tolerance:
        raise ReferenceError_("arc-r-too-small", column)
    height = math.sqrt(max(0.0, size * size - half * half))
    # The centre lies to the left of the chord for a short counterclockwise arc, and changes
    # sides with the sense and with the length of the arc.
    left = clockwise != (radius > 0)
    side = height if left else -height
    along = ((end[0] - start[0]) / chord, (end[1] - start[1]) / chord)
    centre = (
        (start[0] + end[0]) / 2 - side * along[1],
        (start[1] + end[1]) / 2 + side * along[0],
    )
    short = 2 * math.asin(min(1.0, half / size)) if size > 0 else math.pi
    return Arc(centre, short if radius > 0 else math.tau - short)
