"""Ways against grown boxes, by Shapely's buffers, distances and clipping."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, box

from headrace.language import State, interpret
from headrace.machine import Clamp, Setup, Span
from headrace.program import Program
from headrace.rehearsal.space.boxes import below, distance
from headrace.rehearsal.space.clamps import Part, strikes
from headrace.rehearsal.space.frame import Frame
from headrace.rehearsal.space.lanes import lanes
from headrace.rehearsal.space.stand import Stand
from headrace.rehearsal.space.stretches import Stretch

places = st.floats(-50, 50).map(lambda value: round(value, 3))
CLAMP = Clamp("left", (-10.0, -5.0), (20.0, 15.0), 8.0)
BOX = box(-10, -5, 20, 15)


def stretch_of(text: str) -> Stretch:
    """The one stretch of a program whose numbers are those of the sheet."""
    trace = interpret(Program.read(text.encode()), start=State.at_zero())
    assert not trace.findings
    (block,) = (block for block in trace.blocks if len(block))
    frame = Frame((None, None, None), (0.0, 0.0), Span.of(0.0), None, Span.of(30.0))
    return Stretch(None, block, frame, Stand(0.0, 0.0, 0.0, 30.0))  # type: ignore[arg-type]


@given(places, places, places, places)
@settings(max_examples=300, deadline=None)
def test_distance_is_that_of_shapely(x0: float, y0: float, x1: float, y1: float) -> None:
    way = LineString([(x0, y0), (x1, y1)]) if (x0, y0) != (x1, y1) else Point(x0, y0)

    found = distance(np.array([[x0, y0]]), np.array([[x1, y1]]), CLAMP.low, CLAMP.high)

    assert found[0] == pytest.approx(BOX.distance(way), abs=1e-9)


def test_distance_of_what_is_not_known_is_not_known() -> None:
    known, unknown = np.array([[0.0, 0.0]]), np.array([[math.nan, 0.0]])

    assert np.isnan(distance(known, unknown, CLAMP.low, CLAMP.high)).all()


@given(st.floats(-20, 20), st.floats(-20, 20), st.floats(-20, 20))
@settings(max_examples=200, deadline=None)
def test_the_low_part_of_a_slope(z0: float, z1: float, top: float) -> None:
    """By linear interpolation (NumPy), along a way of 100 in X."""
    start, end = np.array([[0.0, 3.0, z0]]), np.array([[100.0, 3.0, z1]])

    first, last, low = below(start, end, top)

    heights = np.interp(np.linspace(0, 100, 2001), [0, 100], [z0, z1])
    assert low[0] == (min(z0, z1) < top)
    if low[0]:
        at = np.linspace(0, 100, 2001)[heights < top]
        assume(len(at))
        assert first[0, 0] == pytest.approx(at[0], abs=0.06)
        assert last[0, 0] == pytest.approx(at[-1], abs=0.06)


@given(places, places, places, places, st.floats(0.5, 12), st.floats(-5, 12), st.floats(-5, 12))
@settings(max_examples=200, deadline=None)
def test_straight_moves_strike_where_the_grown_box_is(
    x0: float, y0: float, x1: float, y1: float, radius: float, z0: float, z1: float
) -> None:
    """The low part of the way against Shapely's box with a buffer."""
    assume((x0, y0) != (x1, y1))
    z0, z1 = round(z0, 3), round(z1, 3)
    stretch = stretch_of(f"G21 G90 F600\nG1 X{x0} Y{y0} Z20\nZ{z0}\nX{x1} Y{y1} Z{z1}\n")
    shares = [(8 - z0) / (z1 - z0)] if z0 != z1 else []
    cuts = sorted({0.0, 1.0, *(share for share in shares if 0 < share < 1)})
    low = [
        LineString([point(x0, y0, x1, y1, a), point(x0, y0, x1, y1, b)])
        for a, b in pairwise(cuts)
        if z0 + (z1 - z0) * (a + b) / 2 < 8 and a < b
    ]
    gap = min((BOX.distance(way) for way in low), default=math.inf)
    assume(abs(gap - radius) > 1e-4)

    struck = strikes(stretch, CLAMP, Part("the bit", radius, 0.0), None)

    assert (2 in struck) is (gap < radius)


def point(x0: float, y0: float, x1: float, y1: float, share: float) -> tuple[float, float]:
    return x0 + (x1 - x0) * share, y0 + (y1 - y0) * share


@given(
    st.floats(-3.1, 3.1),
    st.floats(0.1, 6.2),
    st.floats(2, 40),
    st.booleans(),
    places,
    places,
    st.floats(0.5, 10),
)
@settings(max_examples=200, deadline=None)
def test_arcs_strike_by_their_true_path(
    begin: float,
    turn: float,
    radius: float,
    clockwise: bool,
    cx: float,
    cy: float,
    wide: float,
) -> None:
    """Against the distance from Shapely's box to the arc in 4000 chords. By its own chord many an
    arc would pass a clamp."""
    way = -1 if clockwise else 1
    angles = begin + way * np.linspace(0, turn, 4000)
    path = np.column_stack([cx + radius * np.cos(angles), cy + radius * np.sin(angles)])
    (x0, y0), (x1, y1) = path[0], path[-1]
    gap = BOX.distance(LineString(path))
    assume(abs(gap - wide) > 0.02)
    stretch = stretch_of(
        f"G21 G90 G17 F600\nG1 X{x0:.9f} Y{y0:.9f} Z20\nZ-1\n"
        f"{'G2' if clockwise else 'G3'} X{x1:.9f} Y{y1:.9f} I{cx - x0:.9f} J{cy - y0:.9f}\n"
    )

    struck = strikes(stretch, CLAMP, Part("the bit", wide, 0.0), None)

    assert (2 in struck) is (gap < wide)


@given(
    st.tuples(places, places, places),
    st.tuples(places, places, places),
    st.tuples(*[st.floats(100, 9000)] * 3),
)
@settings(max_examples=150, deadline=None)
def test_each_axis_at_its_own_speed(
    start: tuple[float, float, float],
    end: tuple[float, float, float],
    speeds: tuple[float, float, float],
) -> None:
    """At any time each axis has gone speed x time, and not past its end: uniform motion."""
    assume(start != end)
    words = ["X{} Y{} Z{}".format(*place) for place in (start, end)]
    stretch = stretch_of(f"G21 G90\nG0 {words[0]}\n{words[1]}\n")
    times = np.abs(np.subtract(end, start)) / speeds

    pieces = lanes(stretch, np.array([1]), speeds)

    assert (pieces.row == 1).all()
    straight, crooked = pieces.start[:1], pieces.start[1:]
    assert straight[0] == pytest.approx(start)
    assert crooked[0] == pytest.approx(start)
    assert pieces.end[-1] == pytest.approx(end)
    for leg, time in enumerate(np.sort(times)):
        gone = np.minimum(np.array(speeds) * time, np.abs(np.subtract(end, start)))
        there = np.array(start) + np.sign(np.subtract(end, start)) * gone
        assert pieces.end[1 + leg] == pytest.approx(there, abs=1e-6)


def test_no_diameter_means_the_middle_may_not_enter() -> None:
    along_the_edge = stretch_of("G21 G90 F600\nG1 X20 Y-30 Z-1\nY40\nX19 Y-30\n")

    struck = strikes(along_the_edge, CLAMP, Part("the bit", 0.0, 0.0), None)

    assert 1 not in struck
    assert 2 in struck


def test_no_clamps_is_not_the_same_as_nothing_said_of_them() -> None:
    assert Setup.of({}).clamps is None
    assert Setup.of({"clamps": []}).clamps == ()
