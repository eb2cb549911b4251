"""Numbers in few bits, against the published table of such codes; ways with fewer points, against
NumPy's interpolation."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pipeline.sheet.track_reading import Bits, signed

from headrace.sheet.view.coding import coded, order_of, unsigned
from headrace.sheet.view.thinning import sparse_enough, thinned

TABLE = ["1", "010", "011", "00100", "00101", "00110", "00111", "0001000", "0001001", "0001010"]
"""Exp-Golomb codes of order 0 of 0 to 9: ITU-T H.264, table 9-2."""

NUMBERS = st.lists(st.integers(0, 2**40), max_size=60)


@pytest.mark.parametrize(("number", "bits"), list(enumerate(TABLE)))
def test_the_codes_are_the_published_ones(number: int, bits: str) -> None:
    # a column of this number, three times over or so that order 0 is what it takes
    column = np.array([number] + [0] * 40)
    order, _ = order_of(column)
    assert order == 0
    # how many: 41 + 256 in nine bits, no zeros before; the order: 0 + 4 in three
    expected = f"{41 + 256:b}" + f"{4:b}" + bits + "1" * 40
    written = "".join(f"{byte:08b}" for byte in coded([column]))
    assert written == expected + "0" * (-len(expected) % 8)


@given(st.lists(NUMBERS, min_size=1, max_size=4))
def test_columns_come_back(columns: list[list[int]]) -> None:
    bits = Bits(coded([np.array(column, np.int64) for column in columns]))
    assert [bits.column() for _ in columns] == columns
    assert set(bits.rest) <= {"0"}
    assert len(bits.rest) < 8


@given(st.lists(st.integers(-(2**39), 2**39)))
def test_signs_come_back(numbers: list[int]) -> None:
    assert [signed(int(one)) for one in unsigned(np.array(numbers, np.int64))] == numbers


@given(NUMBERS.filter(bool))
def test_the_order_costs_what_is_told(numbers: list[int]) -> None:
    order, cost = order_of(np.array(numbers))
    # w = v + 2^k takes as many bits as it has, and k + 1 less zeros before it
    assert cost == sum(2 * (v + 2**order).bit_length() - 1 - order for v in numbers)


@st.composite
def ways(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray, float]:
    """Points on whole numbers, some of them forced, and a tolerance."""
    count = draw(st.integers(1, 400))
    chance = np.random.default_rng(draw(st.integers(0, 2**32)))
    roughness = draw(st.sampled_from([0, 1, 5, 300]))
    slopes = np.repeat(chance.integers(-9, 10, (3, count // 20 + 1)), 20, axis=1)[:, :count]
    points = np.cumsum(slopes + chance.integers(-roughness, roughness + 1, (3, count)), axis=1)
    forced = chance.random(count) < draw(st.sampled_from([0.0, 0.02, 0.5]))
    return points.astype(np.float64), forced, draw(st.sampled_from([0.5, 4.5, 40.0]))


@given(ways())
def test_a_thinned_way_is_near_the_old_one(way: tuple[np.ndarray, np.ndarray, float]) -> None:
    points, forced, within = way
    kept = thinned(points, forced, within)
    assert kept[0]
    assert kept[-1]
    assert not (forced & ~kept).any()
    at = np.arange(points.shape[1])
    for axis in points:
        between = np.interp(at, at[kept], axis[kept])
        assert np.abs(between - axis).max() <= within * (1 + 1e-9)


def test_straight_and_even_takes_its_ends_and_those_of_the_pieces() -> None:
    points = np.array([[3.0], [-2.0]]) * np.arange(5000)
    kept = thinned(points, np.zeros(5000, np.bool_), 0.5)
    # pieces of as many steps as the root of the points, rounded down
    assert np.flatnonzero(kept).tolist() == [*range(0, 5000, 70), 4999]


def test_one_point_that_is_off_stays() -> None:
    points = np.zeros((2, 50))
    points[1, 20] = 10
    kept = thinned(points, np.zeros(50, np.bool_), 4.5)
    # half-way to it would be 5 off
    assert {19, 20, 21} <= set(np.flatnonzero(kept).tolist())


def test_the_tolerance_is_told_from_samples() -> None:
    chance = np.random.default_rng(5)
    points = np.cumsum(chance.normal(0, 10, (2, 60_000)), axis=1)
    forced = np.zeros(60_000, np.bool_)
    withins = [2.0, 8.0, 32.0, 128.0]
    counts = [int(thinned(points, forced, within).sum()) for within in withins]
    assert counts == sorted(counts, reverse=True)
    for most in (50_000, 20_000, 5_000):
        first = sparse_enough(points, forced, withins, most)
        fits = next((at for at, count in enumerate(counts) if count <= most), len(counts) - 1)
        # a sample may be wrong where a count is next to what is asked for
        unsure = any(abs(Fraction(counts[at], most) - 1) < Fraction(1, 10) for at in (first, fits))
        assert first == fits or unsure
