"""Thinned lines against Shapely: how far old and new are apart (Hausdorff distance)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pipeline.picture.drawn import lines_of
from shapely import LineString, hausdorff_distance

from headrace.picture.depths import NOTHING
from headrace.picture.plane import path_data
from headrace.picture.strokes import Strokes
from headrace.picture.thinning import thinned

place = st.floats(-300, 300, allow_nan=False).map(lambda value: round(value, 3))
points = st.lists(st.tuples(place, place), min_size=2, max_size=60)
wander = st.lists(st.tuples(st.integers(-3, 3), st.integers(-3, 3)), min_size=2, max_size=80)
within = st.sampled_from([0.05, 0.3, 2.0, 20.0])


def ends(count: int) -> np.ndarray:  # type: ignore[type-arg]
    found = np.zeros(count, np.bool_)
    found[[0, -1]] = True
    return found


def apart(one: np.ndarray, other: np.ndarray) -> float:  # type: ignore[type-arg]
    """Shapely's distance looks at points of the lines: so many that it misses nothing."""
    return float(hausdorff_distance(LineString(one), LineString(other), densify=0.02))


@given(points, within)
def test_lines_stray_no_further_than_told(line: list[tuple[float, float]], most: float) -> None:
    old = np.array(line)
    keep = thinned(old[:, 0], old[:, 1], ends(len(old)), most)

    assert keep[0]
    assert keep[-1]
    assert apart(old, old[keep]) <= most + 1e-9


@given(wander, st.sampled_from([0.4, 1.1, 2.5]))
def test_lines_that_turn_back_stray_no_further(steps: list[tuple[int, int]], most: float) -> None:
    old = np.cumsum(np.array(steps, np.float64), axis=0)
    keep = thinned(old[:, 0], old[:, 1], ends(len(old)), most)

    assert apart(old, old[keep]) <= most + 1e-9


def test_a_straight_line_is_two_points_and_a_circle_few() -> None:
    x = np.linspace(0, 100, 5001)
    assert thinned(x, np.zeros(5001), ends(5001), 0.1).sum() <= 2 + 5001 // 512

    turn = np.linspace(0, 2 * np.pi, 5001)
    # chords of a circle of 50 that stray 0.1 each span 2 acos(1 - 0.1 / 50): 50 of them
    assert 50 <= thinned(50 * np.cos(turn), 50 * np.sin(turn), ends(5001), 0.1).sum() <= 110


def test_a_thousand_turns_of_a_spiral_end() -> None:
    turn = np.linspace(0, 2 * np.pi * 1000, 200_000)
    radius = np.exp(turn / turn[-1] * 8)
    x, y = radius * np.cos(turn), radius * np.sin(turn)
    keep = thinned(x, y, ends(len(x)), 5.0)

    assert keep.sum() < 100_000
    for first in (130_900, 150_000):  # the former spans two lots
        part = slice(first, first + 400)
        assert np.hypot(x[part], y[part]).max() > 100
        old, new = np.column_stack([x, y])[part], np.column_stack([x, y])[part][keep[part]]
        inner = old[np.flatnonzero(keep[part])[0] : np.flatnonzero(keep[part])[-1] + 1]
        assert apart(inner, new) <= 5.0 + 1e-9


@given(st.lists(st.tuples(place, place, st.integers(0, 2)), min_size=2, max_size=60))
def test_pieces_of_one_kind_come_out_as_lines_of_that_kind(
    way: list[tuple[float, float, int]],
) -> None:
    x, y, codes = (np.array(column) for column in zip(*way, strict=True))
    codes = codes.astype(np.uint8)
    codes[0] = NOTHING
    strokes = Strokes.of(x, y, codes, 1e-9)
    first, last = strokes.pieces()
    drawn = {
        (strokes.u[a], strokes.v[a], strokes.u[b], strokes.v[b], int(strokes.code[b]))
        for a, b in zip(first.tolist(), last.tolist(), strict=True)
    }

    for at in range(1, len(x)):
        if codes[at] == NOTHING:
            continue
        middle = ((x[at - 1] + x[at]) / 2, (y[at - 1] + y[at]) / 2)
        # some piece of its kind lies over it
        assert any(
            LineString([(a, b), (c, d)]).distance(LineString([middle, middle])) < 1e-6
            for a, b, c, d, code in drawn
            if code == codes[at]
        )
    for a, b, c, d, code in drawn:
        assert code in codes
        assert (a, b) in set(zip(x, y, strict=True))
        assert (c, d) in set(zip(x, y, strict=True))


@pytest.mark.parametrize("places", [0, 1, 2, 3])
@given(st.lists(st.lists(st.tuples(place, place), min_size=1, max_size=8), max_size=6))
def test_path_data_is_what_it_was_made_of(
    places: int, lines: list[list[tuple[float, float]]]
) -> None:
    every = np.array([point for line in lines for point in line]).reshape(-1, 2)
    first = np.cumsum([0, *(len(line) for line in lines)])[:-1]
    data = path_data(every[:, 0], every[:, 1], first[: len(lines)], places)
    read = lines_of(data)

    assert len(read) == len(lines)
    for old, new in zip(lines, read, strict=True):
        rounded = [tuple(np.round(np.round(np.array(p) * 10**places) / 10**places, 3)) for p in old]
        plain = [p for at, p in enumerate(rounded) if at == 0 or p != rounded[at - 1]]
        found = [tuple(np.round(p, 3) + 0.0) for p in new]
        found = [p for at, p in enumerate(found) if at == 0 or p != found[at - 1]]
        assert np.allclose(np.array(plain), np.array(found), atol=1e-9)
