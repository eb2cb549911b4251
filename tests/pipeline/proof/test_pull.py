"""A blade that trails its axis: the closed form against the tractrix, and against the kinematics as
SciPy integrates them (the tip moves along the blade alone, as an unsteered wheel does; any
textbook)."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from headrace.proof.pull import Pulls, lag

Point = tuple[float, float]


class Tip(NamedTuple):
    part: float
    x: float
    y: float
    blade: float


class Pull(NamedTuple):
    """One way of the axis: straight, or about a centre."""

    start: Point
    end: Point
    centre: Point = (0.0, 0.0)
    turn: float = 0.0

    def tips(self, offset: float, blade: float, grain: float) -> list[Tip] | None:
        """The tip's way; None where the blade is pushed."""
        sides = (np.array(side)[:, None] for side in (self.start, self.end, self.centre))
        tips, pushed = Pulls(*sides, np.array([self.turn])).led(offset, blade).tips(grain)
        columns = (tips.part, *tips.places, tips.blade)
        return None if pushed.any() else [Tip(*tip) for tip in zip(*columns, strict=True)]

    def place(self, part: float) -> Point:
        """Where the axis is: textbook."""
        (x, y), (u, v) = self.start, self.centre
        if not self.turn:
            return x + (self.end[0] - x) * part, y + (self.end[1] - y) * part
        cosine, sine = math.cos(self.turn * part), math.sin(self.turn * part)
        x, y = x - u, y - v
        return u + x * cosine - y * sine, v + x * sine + y * cosine


def integrated(pull: Pull, offset: float, blade: float) -> tuple[float, float, float]:
    """Where the tip and the blade end: the blade turns by (u x C') / d, integrated by SciPy."""

    def turns(part: float, state: np.ndarray) -> list[float]:
        step = 1e-6
        low, high = max(part - step, 0.0), min(part + step, 1.0)
        (x, y), (x_end, y_end) = pull.place(low), pull.place(high)
        way = (x_end - x) / (high - low), (y_end - y) / (high - low)
        return [(math.cos(state[0]) * way[1] - math.sin(state[0]) * way[0]) / offset]

    found = solve_ivp(turns, (0, 1), [blade], rtol=1e-9, atol=1e-10)
    angle = float(found.y[0, -1])
    x, y = pull.end
    return x - offset * math.cos(angle), y - offset * math.sin(angle), angle


@pytest.mark.parametrize("length", [0.1, 0.5, 2.0, 7.0])
def test_a_straight_pull_draws_a_tractrix(length: float) -> None:
    """The tractrix of length a: x = t - a tanh(t / a), y = a / cosh(t / a), where the axis is at t
    (textbook; it begins with the blade square to the way)."""
    offset = 0.7
    tips = Pull((0, 0), (length, 0)).tips(offset, -math.pi / 2, 1e-6)

    assert tips is not None
    for tip in tips:
        t = tip.part * length
        assert tip.x == pytest.approx(t - offset * math.tanh(t / offset), abs=1e-9)
        assert tip.y == pytest.approx(offset / math.cosh(t / offset), abs=1e-9)


lags = st.floats(-1.4, 1.4)
offsets = st.floats(0.1, 6)


@given(lags, offsets, st.floats(-170, 170), st.floats(0.05, 20))
def test_lines_as_scipy_has_them(begun: float, offset: float, angle: float, length: float) -> None:
    way = math.radians(angle)
    pull = Pull((3, -2), (3 + length * math.cos(way), -2 + length * math.sin(way)))

    tips = pull.tips(offset, way - begun, 1e-4)

    assert tips is not None
    assert (tips[-1].x, tips[-1].y) == pytest.approx(
        integrated(pull, offset, way - begun)[:2], abs=1e-5
    )


@settings(max_examples=50)
@given(lags, offsets, st.floats(1.1, 40), st.floats(-6, 6).filter(lambda turn: abs(turn) > 0.05))
def test_arcs_as_scipy_has_them(begun: float, offset: float, times: float, turn: float) -> None:
    radius = offset * times
    end = radius * math.cos(turn), radius * math.sin(turn)
    pull = Pull((radius, 0), end, (0, 0), turn)
    blade = math.copysign(math.pi / 2, turn) - begun

    tips = pull.tips(offset, blade, 1e-4)

    if tips is not None:
        assert (tips[-1].x, tips[-1].y) == pytest.approx(
            integrated(pull, offset, blade)[:2], abs=1e-4
        )


@given(lags, st.floats(-0.9, 0.9), st.floats(0.2, 3), st.floats(0.1, 4), st.floats(0.1, 4))
def test_two_ways_are_one(begun: float, part: float, offset: float, a: float, b: float) -> None:
    """The flow of an autonomous equation: what holds behind a + b holds behind a and then b."""
    curvature = part / offset

    once = lag(begun, curvature, offset, a + b)

    assert once == pytest.approx(lag(lag(begun, curvature, offset, a), curvature, offset, b))


def test_a_steady_arc_is_concentric() -> None:
    """With sin(lag) = d / R the tip goes round the same centre at sqrt(R^2 - d^2) (Pythagoras)."""
    radius, offset = 10.0, 3.0
    blade = math.pi / 2 - math.asin(offset / radius)
    tips = Pull((radius, 0), (-radius, 0), (0, 0), math.pi).tips(offset, blade, 1e-4)

    assert tips is not None
    away = [math.hypot(tip.x, tip.y) for tip in tips]
    assert away == pytest.approx([math.sqrt(91)] * len(tips), abs=1e-9)


@pytest.mark.parametrize("turn", [-3.1, -0.4, 0.02, 2.0])
def test_round_the_tip_it_stands(turn: float) -> None:
    offset = 0.45
    end = offset * math.cos(turn), offset * math.sin(turn)
    tips = Pull((offset, 0), end, (0, 0), turn).tips(offset, 0.0, 1e-4)

    assert tips is not None
    assert max(math.hypot(tip.x, tip.y) for tip in tips) < 1e-9
    assert tips[-1].blade == pytest.approx(turn)


@settings(max_examples=20)
@given(st.floats(0.01, 1.4), st.sampled_from([1e-2, 1e-3, 1e-4]))
def test_the_chords_are_as_near_as_they_say(begun: float, grain: float) -> None:
    """Every place of the way, against the chord of the two tips around it."""
    pull = Pull((0, 0), (4, 0))
    coarse, fine = (pull.tips(0.5, -begun, each) for each in (grain, 1e-7))

    assert coarse is not None
    assert fine is not None
    for tip in fine[:: max(1, len(fine) // 200)]:
        at = max(i for i, each in enumerate(coarse[:-1]) if each.part <= tip.part)
        one, other = coarse[at], coarse[at + 1]
        way = np.array([other.x - one.x, other.y - one.y])
        off = np.array([tip.x - one.x, tip.y - one.y])
        share = np.clip(off @ way / max(way @ way, 1e-30), 0, 1)
        assert np.hypot(*(off - share * way)) <= grain


@pytest.mark.parametrize("blade", [math.pi, 2.0, -2.0])
def test_a_pushed_blade_goes_nowhere(blade: float) -> None:
    assert Pull((0, 0), (5, 0)).tips(0.5, blade, 1e-3) is None


def test_many_ways_are_one_behind_the_other() -> None:
    """A blade led through a square and about its corners, by columns and one by one."""
    ways = [
        Pull((0, 0), (5, 0)), Pull((5, 0), (5, 4), (3, 2), 1.5 * math.pi),
        Pull((5, 4), (5.4, 4.3)), Pull((5.4, 4.3), (5.4, 4.3), (7, 4.3), -2 * math.pi),
    ]  # fmt: skip
    columns = (np.array([getattr(way, side) for way in ways]).T
               for side in ("start", "end", "centre"))  # fmt: skip
    led = Pulls(*columns, np.array([way.turn for way in ways])).led(0.5, -0.7)
    tips, pushed = led.tips(1e-3)
    blade = -0.7

    for at, way in enumerate(ways):
        alone = way.tips(0.5, blade, 1e-3)
        here = tips.where(tips.owner == at)
        assert pushed[at] == (alone is None)
        if alone is not None:
            np.testing.assert_allclose(here.places.T, [(tip.x, tip.y) for tip in alone])
        blade = float(led.points[at + 1])


def test_where_nobody_knows_the_way_nobody_knows_the_tip() -> None:
    assert Pull((0, 0), (5, 0), (math.nan, math.nan), 1.0).tips(0.5, 0.0, 1e-3) is None
