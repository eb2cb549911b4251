"""Areas cut and their outlines, against Shapely's buffers and unions."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from pipeline.picture.drawn import lines_and_points
from shapely import LineString, MultiLineString, box, unary_union

from headrace.picture import cover
from headrace.picture.depths import FIRST, NOTHING
from headrace.picture.outlines import Outlines, outlines
from headrace.picture.plane import Plane
from headrace.picture.profile import Profile
from headrace.picture.strokes import Strokes
from headrace.picture.way import CUT, GAP, Leg, Way

grids = arrays(np.bool_, st.tuples(st.integers(1, 9), st.integers(1, 9)))
place = st.floats(2, 38, allow_nan=False)
near = st.floats(2, 18, allow_nan=False)
lines = st.lists(st.tuples(near, near), min_size=2, max_size=8)


def loops(found: Outlines) -> list[np.ndarray]:  # type: ignore[type-arg]
    points = np.column_stack([found.u, found.v])
    return np.split(points, found.begins[1:]) if len(points) else []


def turned(loop: np.ndarray) -> float:  # type: ignore[type-arg]
    """The area within a loop, positive where it runs against the clock (shoelace formula)."""
    x, y = loop[:, 0], loop[:, 1]
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


@given(grids)
def test_outlines_are_those_of_the_cells(area: np.ndarray) -> None:  # type: ignore[type-arg]
    cells = unary_union([box(c, r, c + 1, r + 1) for r, c in np.argwhere(area).tolist()])
    found = loops(outlines(area, 1e-9))

    assert sum(turned(loop) for loop in found) == area.sum()  # holes run with the clock
    borders = unary_union([LineString(np.vstack([loop, loop[:1]])) for loop in found])
    assert borders.symmetric_difference(cells.boundary if area.any() else cells).length < 1e-9


@given(st.lists(lines, min_size=1, max_size=3), st.floats(0.5, 6), st.sampled_from([0.25, 0.4]))
def test_what_a_bit_cuts_is_covered_and_little_more(
    ways: list[list[tuple[float, float]]], width: float, cell: float
) -> None:
    u, v = np.array([point for way in ways for point in way]).T
    codes = np.full(len(u), FIRST, np.uint8)
    codes[np.cumsum([0, *(len(way) for way in ways)])[:-1]] = NOTHING
    strokes = Strokes.of(u, v, codes, 1e-9)
    plane = Plane(1.0, 0.0, 0.0, (0.0, 0.0), (20.0, 20.0))
    apart = np.zeros(len(strokes.pieces()[0]), np.bool_)
    grid, whole = cover.covered(strokes, apart, [Leg(0, len(u), 1, width)], plane, cell, 0.0)
    across, up = np.meshgrid(*((np.arange(size) + 0.5) * cell for size in grid.T.shape))
    away = shapely.distance(MultiLineString(ways), shapely.points(across, up))

    assert np.array_equal(grid, whole)
    assert grid[away <= width / 2].all()
    assert not grid[away > width / 2 + 2.5 * cell].any()


def test_the_deepest_stays_and_close_lines_are_drawn_by_the_tip() -> None:
    u = np.array([5, 35, 5, 35.0])
    v = np.array([20, 20, 20, 20.0])
    codes = np.array([NOTHING, FIRST + 2, NOTHING, FIRST], np.uint8)
    strokes = Strokes.of(u, v, codes, 1e-9)
    plane = Plane(1.0, 0.0, 0.0, (0.0, 0.0), (40.0, 40.0))
    legs = [Leg(0, 4, 1, 8.0)]
    apart, close = np.zeros(2, np.bool_), np.ones(2, np.bool_)

    grid, _ = cover.covered(strokes, apart, legs, plane, 0.5, 0.5)
    assert grid[40, 40] == grid[46, 40] == 3
    assert grid[60, 40] == 0
    grid, whole = cover.covered(strokes, close, legs, plane, 0.5, 0.5)
    assert grid[40, 40] == 3
    assert grid[46, 40] == 0
    assert whole[46, 40] == 3


def test_lines_side_by_side_are_close_and_a_lone_one_is_not() -> None:
    rows = [(10.0 + 0.3 * at, *ends) for at in range(60) for ends in [(5.0, 30.0)]]
    u = np.array([x for _, first, last in rows for x in (first, last)] + [5.0, 30.0])
    v = np.array([y for y, _, _ in rows for _ in range(2)] + [60.0, 60.0])
    codes = np.tile(np.array([NOTHING, FIRST], np.uint8), len(u) // 2)
    strokes = Strokes.of(u, v, codes, 1e-9)
    plane = Plane(1.0, 0.0, 0.0, (0.0, 0.0), (80.0, 80.0))

    close = cover.crowded(strokes, plane, 0.5)
    assert close[:-1].mean() > 0.9
    assert not close[-1]


@given(
    st.lists(st.tuples(place, st.floats(-9, 4, allow_nan=False)), min_size=2, max_size=12),
    st.sampled_from([0.0, 3.0]),
)
def test_the_lowest_line_is_that_of_the_cuts(way: list[tuple[float, float]], width: float) -> None:
    x, z = np.array(way).T
    kind = np.full(len(x), CUT, np.uint8)
    kind[0] = GAP
    legs = (Leg(0, len(x), 1, width or None),)
    job = Way(x, np.zeros(len(x)), z, kind, legs, None, None, (), 0, 0, 0, 0)
    column = 0.1
    profile = Profile.of(job, 0.0, 40.0, column)
    below = [lines_and_points([pair]) for pair in pairwise(way)
             if min(pair[0][1], pair[1][1]) < -1e-6]  # fmt: skip

    for at in range(0, len(profile.low), 7):
        middle = (at + 0.5) * column
        low = profile.low[at]
        around = lowest(below, middle, width / 2 + column)
        assert np.isnan(low) if around is None else not low < around - 1e-6
        if width:
            within = lowest(below, middle, width / 2 - column)
            assert within is None or low <= within + 1e-6


def lowest(lines: list[shapely.Geometry], middle: float, reach: float) -> float | None:
    """The lowest height of some lines so near to a place; None where none is near."""
    column = box(middle - reach, -20, middle + reach, 20)
    return min((line.intersection(column).bounds[1] for line in lines if line.intersects(column)),
               default=None)  # fmt: skip
