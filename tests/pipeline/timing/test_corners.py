"""Speeds at corners against geometry: of the arc that touches both ways and keeps a distance from
the corner (Shapely tells the distance), and of the step that a change of direction is."""

from __future__ import annotations

from math import acos, ceil, cos, hypot, pi, radians, sin, sqrt, tan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point

from headrace.machine import Corners
from headrace.timing.corners import corner_speeds
from headrace.timing.planner import Floats


def turned(rule: Corners, degrees: float, along: float, gains: tuple[float, ...]) -> float:
    """The speed (mm/s) at which a way along X may turn by so much toward Y."""
    before = np.array([[1.0], [0.0], [0.0]])
    behind = np.array([[cos(radians(degrees))], [sin(radians(degrees))], [0.0]])
    found = corner_speeds(rule, before, behind, np.array([along]), np.array(gains))
    return sqrt(found[0])


def alike(rule: Corners, degrees: float, a: float = 250.0) -> float:
    """The same, in mm/min, where no axis bounds more than the way does."""
    return 60.0 * turned(rule, degrees, a, (1e9, 1e9, 1e9))


@pytest.mark.parametrize(("degrees", "feed"), [(90, 147.4), (45, 330.5), (10, 1535), (135, 74.7)])
def test_by_deviation(degrees: float, feed: float) -> None:
    """R = d cos(psi/2) / (1 - cos(psi/2)), v = sqrt(a R), with d 0.01 and a 250."""
    half = radians(degrees) / 2
    radius = 0.01 * cos(half) / (1 - cos(half))

    assert alike(Corners(deviation=0.01), degrees) == pytest.approx(60 * sqrt(250 * radius))
    assert alike(Corners(deviation=0.01), degrees) == pytest.approx(feed, rel=5e-4)


def test_by_deviation_with_other_numbers() -> None:
    assert alike(Corners(deviation=0.05), 90) == pytest.approx(329.6, abs=0.05)
    assert alike(Corners(deviation=0.02), 90, 500) == pytest.approx(294.8, abs=0.05)


@given(st.floats(5, 170), st.floats(0.005, 1.0), st.floats(10, 2000))
def test_the_arc_touches_both_ways_and_keeps_its_distance(
    degrees: float, deviation: float, a: float
) -> None:
    """The radius that the speed stands for, v^2 / a, laid into the corner (Shapely)."""
    half = radians(degrees) / 2
    radius = (alike(Corners(deviation=deviation), degrees, a) / 60) ** 2 / a
    # the centre lies on the line that halves the corner, a radius away from both ways
    way = radius / cos(half)
    centre = Point(-way * sin(half), way * cos(half))
    reach = 10 * radius * tan(half) + 10
    before = LineString([(-reach, 0), (0, 0)])
    behind = LineString([(0, 0), (reach * cos(2 * half), reach * sin(2 * half))])

    assert centre.distance(before) == pytest.approx(radius, rel=1e-6)
    assert centre.distance(behind) == pytest.approx(radius, rel=1e-6)
    assert centre.distance(Point(0, 0)) - radius == pytest.approx(deviation, rel=1e-5)


@pytest.mark.parametrize(("degrees", "speed"), [(90, 7.071), (10, 57.37)])
def test_by_step(degrees: float, speed: float) -> None:
    """v = step / (2 sin(psi/2)), with a step of 10 mm/s."""
    assert alike(Corners(step=600), degrees) == pytest.approx(60 * speed, rel=1e-4)


@given(st.floats(1, 179), st.floats(1, 6000))
def test_the_step_is_what_changes(degrees: float, step: float) -> None:
    speed = alike(Corners(step=step), degrees)
    psi = radians(degrees)

    assert hypot(speed * (cos(psi) - 1), speed * sin(psi)) == pytest.approx(step)


def test_full_stop_and_straight_on() -> None:
    for rule in (Corners(deviation=0.01), Corners(step=600)):
        assert turned(rule, 0, 250, (250, 250, 250)) == np.inf
        assert turned(rule, 180, 250, (250, 250, 250)) < 6
    assert turned(Corners(deviation=0.01), 180, 250, (250, 250, 250)) == pytest.approx(0, abs=1e-3)
    assert turned(Corners(full_stop=True), 0, 250, (250, 250, 250)) == 0
    assert turned(Corners(full_stop=True), 90, 250, (250, 250, 250)) == 0


@given(st.floats(0.001, 0.5))
def test_a_slow_axis_bounds_corners_that_pull_it(rise: float) -> None:
    """Up and down again along X, a little: all that changes is the speed of Z."""
    steep = np.array([[1.0], [0.0], [rise]]) / hypot(1, rise)
    down = steep * np.array([[1.0], [1.0], [-1.0]])
    rule, half = Corners(deviation=0.02), np.arctan(rise)
    radius = 0.02 * cos(half) / (1 - cos(half))

    found = corner_speeds(rule, steep, down, np.array([250.0]), np.array([250.0, 250.0, 100.0]))

    assert found[0] == pytest.approx(100 * radius, rel=1e-6)


@pytest.mark.parametrize(("chord", "feed"), [(0.002, 6747), (0.01, 3031), (0.05, 1364)])
def test_chords_that_are_coarser_than_the_deviation_are_slower_than_the_arc(
    chord: float, feed: float
) -> None:
    """A circle of radius 10 in as few equal chords as stay within a tolerance, each of which turns
    by at most 2 acos(1 - t/R); on the circle itself sqrt(a R) is 3000 mm/min."""
    count = ceil(pi / acos(1 - chord / 10))
    speed = alike(Corners(deviation=0.01), 360 / count)
    circle = 60 * sqrt(250 * 10)

    assert circle == pytest.approx(3000)
    assert speed == pytest.approx(feed, rel=1e-3)
    assert (speed < circle) == (chord > 0.011)


def units(angles: Floats) -> Floats:
    return np.stack([np.cos(angles), np.sin(angles), np.zeros_like(angles)])


def test_many_at_once_are_as_one_by_one() -> None:
    random = np.random.default_rng(70)
    before, behind = (units(random.uniform(-pi, pi, 500)) for _ in range(2))
    gains = np.array([250.0, 400.0, 100.0])
    for rule in (Corners(deviation=0.02), Corners(step=300)):
        whole = corner_speeds(rule, before, behind, np.full(500, 200.0), gains)
        singly = [
            corner_speeds(rule, before[:, [at]], behind[:, [at]], np.array([200.0]), gains)[0]
            for at in range(500)
        ]
        assert whole == pytest.approx(singly)
