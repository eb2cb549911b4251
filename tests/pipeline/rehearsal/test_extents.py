"""How far moves reach, against Shapely's bounds of the same path drawn in small chords."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString

from headrace.language import State, interpret
from headrace.program import Program
from headrace.rehearsal.space.extents import furthest


def reached(text: str) -> dict[str, float]:
    trace = interpret(Program.read(text.encode()), start=State.at_zero())
    assert not trace.findings
    found = {}
    for axis, name in enumerate("XYZ"):
        for up in (True, False):
            places = [furthest(block, axis, up) for block in trace.blocks]
            known = [place[0] for place in places if place is not None]
            found[name + ("+" if up else "-")] = max(known) if up else min(known)
    return found


@given(st.floats(-3.1, 3.1), st.floats(0.2, 6.2), st.floats(1, 50), st.booleans())
@settings(max_examples=150, deadline=None)
def test_arcs_reach_as_far_as_shapely_says(
    begin: float, turn: float, radius: float, clockwise: bool
) -> None:
    way = -1 if clockwise else 1
    angles = begin + way * np.linspace(0, turn, 4000)
    path = LineString(np.column_stack([radius * np.cos(angles), radius * np.sin(angles)]))
    x0, y0 = radius * math.cos(begin), radius * math.sin(begin)
    x1, y1 = path.coords[-1]
    text = (
        f"G21 G90 G17 F600\nG0 X{x0:.9f} Y{y0:.9f}\n"
        f"{'G2' if clockwise else 'G3'} X{x1:.9f} Y{y1:.9f} I{-x0:.9f} J{-y0:.9f}\n"
    )

    found = reached(text)

    low_x, low_y, high_x, high_y = path.bounds
    near = pytest.approx
    assert found["X+"] == near(high_x, abs=radius * 1e-5)
    assert found["X-"] == near(low_x, abs=radius * 1e-5)
    assert found["Y+"] == near(high_y, abs=radius * 1e-5)
    assert found["Y-"] == near(low_y, abs=radius * 1e-5)


def test_full_circle_and_helix_in_every_plane() -> None:
    for plane, first, second, words in (
        ("G17", "X", "Y", "I5 J0 Z-3"),
        ("G18", "X", "Z", "I5 K0 Y-3"),
        ("G19", "Y", "Z", "J5 K0 X-3"),
    ):
        found = reached(f"G21 G90 {plane} F600\nG1 {first}0 {second}0\nG2 {first}0 {words}\n")

        assert found[first + "+"] == pytest.approx(10)
        assert found[first + "-"] == pytest.approx(0, abs=1e-9)
        assert found[second + "+"] == pytest.approx(5)
        assert found[second + "-"] == pytest.approx(-5)


def test_unknown_places_reach_nowhere() -> None:
    trace = interpret(Program.read(b"G21 G90\nG0 X1\n"))

    assert furthest(trace.blocks[0], 1, up=True) is None
    assert furthest(trace.blocks[0], 0, up=True) == (1.0, 0)
