"""The planner of motion against closed forms (elementary mechanics: speed changes at a constant
rate), SciPy's integration of ds / v(s), a plain loop, and exact fractions."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from math import inf, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pipeline.timing import plain
from scipy.integrate import quad

from headrace.timing.planner import Floats, durations, from_rest, junctions, planned

A = 250.0
"""Of a bench machine (mm/s2, common practice)."""


SAME = 1e-7
"""Squares up to 4e4 mm2/s2 are summed, which leaves so much of a time near rest."""


def array(*values: float) -> Floats:
    return np.array(values, np.float64)


def along(*lengths: float, v: float = 50.0, corner: tuple[float, ...] = (), **more: Any) -> Floats:
    """The times of moves in a row; `corner` are the speeds between them."""
    count = len(lengths)
    inner = corner or (0.0,) * (count - 1)
    squares = array(0.0, *(speed**2 for speed in inner), 0.0)
    return planned(array(*lengths), np.full(count, v), np.full(count, A), squares, **more)


# --- closed forms -----------------------------------------------------------------------------


def test_a_long_move_takes_its_way_by_its_speed_and_once_the_ramp() -> None:
    """L / v + v / a, rest to rest."""
    assert along(100.0)[0] == pytest.approx(100 / 50 + 50 / A) == pytest.approx(2.2)


def test_a_short_move_takes_twice_the_root_of_its_way_by_the_acceleration() -> None:
    """It never reaches its feed: the peak is the root of a L, below v where L < v^2 / a."""
    assert along(5.0)[0] == pytest.approx(2 * sqrt(5 / A)) == pytest.approx(0.28284, abs=5e-6)
    assert sqrt(A * 5) == pytest.approx(35.355, abs=5e-4)
    assert along(50**2 / A)[0] == pytest.approx(2 * 50 / A)


def test_a_move_between_two_speeds_peaks_where_both_ramps_meet() -> None:
    """peak^2 = (2 a L + v0^2 + v1^2) / 2."""
    peak = sqrt((2 * A * 2 + 30**2 + 20**2) / 2)
    took = durations(array(2), array(50), array(A), array(30**2, 20**2))[0]

    assert peak == pytest.approx(33.912, abs=5e-4)
    assert took == pytest.approx((2 * peak - 50) / A) == pytest.approx(0.07129, abs=5e-6)


def test_three_moves_with_corners() -> None:
    took = along(10, 2, 10, corner=(30, 20))
    naive, stopping = 22 / 50, along(10, 2, 10).sum()

    assert took == pytest.approx([0.31600, 0.07129, 0.33600], abs=5e-6)
    assert took.sum() == pytest.approx(0.72329, abs=5e-6)
    assert naive == pytest.approx(0.44)
    assert stopping == pytest.approx(0.97889, abs=5e-6)


def test_the_way_must_be_long_enough_to_brake() -> None:
    """Short moves at the end: the speed falls from far before, by v^2 = 2 a (way that is left)."""
    gain, most = 2 * A * array(20, 1, 1, 1), array(0, 1600, 1600, 1600, 0)

    assert np.sqrt(junctions(gain, most)) == pytest.approx([0, 38.7298, 31.6228, 22.3607, 0])
    assert along(20, 1, 1, 1, corner=(40, 40, 40)).sum() == pytest.approx(0.66, abs=5e-6)


def test_a_full_stop_after_every_half_millimetre() -> None:
    took = along(*[0.5] * 9)

    assert took == pytest.approx([0.08944] * 9, abs=5e-6)
    assert 0.5 / took[0] * 60 == pytest.approx(335, abs=0.5)


@pytest.mark.parametrize("ahead", [1, 2, 5, 16])
def test_few_moves_ahead_bound_the_speed_by_what_can_be_braked_in_them(ahead: int) -> None:
    """v <= sqrt(2 a N L): far from both ends the speed between equal short moves."""
    gain, most = np.full(4000, 2 * A * 0.1), np.full(4001, 1e6)
    most[[0, -1]] = 0.0

    found = junctions(gain, most, ahead)

    assert np.sqrt(found[2000]) == pytest.approx(sqrt(2 * A * 0.1 * ahead))
    assert found == pytest.approx(plain.squares(gain.tolist(), most.tolist(), ahead))


def test_without_look_ahead_every_move_ends_at_rest() -> None:
    lengths = (3.0, 0.5, 40.0)
    took = along(*lengths, corner=(50, 50), ahead=0)

    assert took == pytest.approx(from_rest(array(*lengths), 50.0, A))
    assert took == pytest.approx(along(*lengths))


def test_from_rest_is_a_plan_of_one_move() -> None:
    ways = array(0.0, 0.01, 5.0, 10.0, 400.0)
    alone = [along(way)[0] for way in ways[1:]]

    assert from_rest(ways, 50.0, A) == pytest.approx([0.0, *alone])
    assert from_rest(ways, 50.0, inf) == pytest.approx(ways / 50)


# --- against integration ----------------------------------------------------------------------

speeds = st.floats(1.0, 200.0)
ways = st.floats(0.01, 300.0)
gains = st.floats(20.0, 2000.0)
shares = st.one_of(st.just(0.0), st.floats(0.02, 1.0))
"""At rest or well away from it: between them the integral has a bend too sharp for quad."""


@settings(max_examples=60)
@given(ways, speeds, gains, shares, shares)
def test_time_is_the_integral_of_way_by_speed(
    way: float, limit: float, gain: float, begin: float, end: float
) -> None:
    """SciPy's quad over v(s) = the least of what is reached from the beginning, what can be braked
    until the end, and the limit. Both ends are speeds that the way allows."""
    first, last = limit * begin, limit * end
    first = min(first, sqrt(last**2 + 2 * gain * way))
    last = min(last, sqrt(first**2 + 2 * gain * way))

    def slowness(at: float) -> float:
        reached = sqrt(first**2 + 2 * gain * at)
        braked = sqrt(max(last**2 + 2 * gain * (way - at), 0.0))
        return 1.0 / min(reached, braked, limit)

    # ds / v has a root at rest, which substituting the way from either end takes away
    up, down = (limit**2 - first**2) / (2 * gain), (limit**2 - last**2) / (2 * gain)
    peak_at = min(max((2 * gain * way + last**2 - first**2) / (4 * gain), 0.0), way)
    cuts = sorted({0.0, min(up, peak_at), max(way - down, peak_at), way})
    total = 0.0
    for low, high in pairwise(cuts):
        begun, span = (low, high - low) if low < peak_at else (high, low - high)

        def part(t: float, begun: float = begun, span: float = span) -> float:
            return slowness(begun + span * t * t) * 2 * abs(span) * t

        total += quad(part, 0, 1, limit=200)[0]
    took = durations(array(way), array(limit), array(gain), array(first**2, last**2))[0]

    assert took == pytest.approx(total, rel=1e-6)
    assert took == pytest.approx(plain.seconds(way, limit, gain, first, last), rel=SAME)


# --- against a plain loop, and what must hold of any way ----------------------------------------


@st.composite
def some_way(draw: st.DrawFn, most: int = 12) -> tuple[Floats, Floats, Floats, Floats]:
    """Lengths, limits, accelerations, and squares at the junctions."""
    count = draw(st.integers(1, most))

    def column(values: st.SearchStrategy[float], size: int = count) -> Floats:
        return array(*draw(st.lists(values, min_size=size, max_size=size)))

    corner = np.zeros(count + 1)
    if count > 1:
        free = st.one_of(st.just(0.0), st.just(inf), st.floats(0.0, 2e4))
        corner[1:-1] = column(free, count - 1)
    return column(ways), column(speeds), column(gains), corner


aheads = st.one_of(st.none(), st.integers(0, 14))


@settings(max_examples=60)
@given(some_way(), aheads)
def test_it_is_the_plain_loop(way: tuple[Floats, ...], ahead: int | None) -> None:
    lists = [column.tolist() for column in way]

    assert planned(*way, ahead) == pytest.approx(plain.planned(*lists, ahead), rel=SAME)


@settings(max_examples=60)
@given(some_way(), aheads)
def test_nothing_is_faster_than_full_feed(way: tuple[Floats, ...], ahead: int | None) -> None:
    length, limit, _, _ = way

    assert (planned(*way, ahead) >= length / limit * (1 - 1e-12)).all()


@settings(max_examples=60)
@given(some_way(), aheads, st.floats(1.0, 4.0))
def test_more_acceleration_is_never_slower(
    way: tuple[Floats, ...], ahead: int | None, times: float
) -> None:
    length, limit, gain, corner = way
    less, more = planned(*way, ahead), planned(length, limit, gain * times, corner, ahead)

    assert more.sum() <= less.sum() * (1 + 1e-9)


@settings(max_examples=60)
@given(some_way(), st.integers(0, 14))
def test_to_know_more_moves_is_never_slower(way: tuple[Floats, ...], ahead: int) -> None:
    times = [planned(*way, known).sum() for known in (ahead, ahead + 1, None)]

    assert times[1] <= times[0] * (1 + 1e-9)
    assert times[2] <= times[1] * (1 + 1e-9)
    assert planned(*way, len(way[0])) == pytest.approx(planned(*way))


@settings(max_examples=60)
@given(some_way())
def test_backward_it_takes_as_long(way: tuple[Floats, ...]) -> None:
    back = planned(*(np.ascontiguousarray(column[::-1]) for column in way))

    assert back[::-1] == pytest.approx(planned(*way), rel=SAME)


@settings(max_examples=60)
@given(some_way(), st.data())
def test_a_move_in_two_pieces_takes_as_long(way: tuple[Floats, ...], data: st.DataObject) -> None:
    """Where the direction stays, and all moves are known."""
    length, limit, gain, corner = way
    at = data.draw(st.integers(0, len(length) - 1))
    share = data.draw(st.floats(0.01, 0.99))
    pieces = np.insert(length, at, length[at] * share)
    pieces[at + 1] = length[at] * (1 - share)
    limits, accelerations = np.insert(limit, at, limit[at]), np.insert(gain, at, gain[at])
    split = planned(pieces, limits, accelerations, np.insert(corner, at + 1, inf))

    assert split.sum() == pytest.approx(planned(*way).sum(), rel=SAME)


@settings(max_examples=60)
@given(some_way(), aheads)
def test_speeds_can_be_kept(way: tuple[Floats, ...], ahead: int | None) -> None:
    """No junction is taken faster than allowed, nor gains or loses more than the way gives."""
    length, limit, gain, corner = way
    most = array(0.0, *(np.minimum(limit[:-1], limit[1:]) ** 2), 0.0)
    most = np.minimum(most, corner)
    found = junctions(2 * gain * length, most, ahead)

    assert (found <= most).all()
    assert (found >= 0).all()
    assert (np.abs(np.diff(found)) <= 2 * gain * length * (1 + 1e-9) + 1e-6).all()


# --- a million moves ----------------------------------------------------------------------------


@pytest.mark.parametrize("ahead", [None, 15])
def test_nothing_is_lost_in_long_sums(ahead: int | None) -> None:
    """Against exact fractions: 1,000,000 moves whose sums go up to 5e9 while the speeds of some are
    a few thousandths of a mm/s."""
    random = np.random.default_rng(62)
    count = 1_000_000
    gain = 10.0 ** random.uniform(-4, 4, count)
    most = 10.0 ** random.uniform(-5, 4, count + 1)
    most[[0, -1]] = 0.0

    found = junctions(gain, most, ahead)

    part = slice(499_000, 501_001)
    inside = [Fraction(value) for value in gain[499_000:501_000].tolist()]
    bounds = [Fraction(value) for value in most[part].tolist()]
    exact = np.array([float(value) for value in plain.squares(inside, bounds, ahead)])
    settled = slice(500, -500)  # what the ends of the part do is forgotten by then
    assert found[part][settled] == pytest.approx(exact[settled], rel=1e-3, abs=1e-7)
    assert np.abs(found[part][settled] - exact[settled]).max() < 1e-7


@pytest.mark.parametrize("ahead", [None, 3])
def test_pieces_of_the_work_join(ahead: int | None) -> None:
    """Ramps that are longer than the moves that are looked at together, against the plain loop."""
    count = 20_000
    gain = np.full(count, 0.5)
    most = np.full(count + 1, 4900.0)
    most[[0, -1]] = 0.0

    found = junctions(gain, most, ahead)

    assert found == pytest.approx(plain.squares(gain.tolist(), most.tolist(), ahead), abs=1e-6)
