"""Whole jobs, planned once more from the moves of the reference interpreter: places by sines and
cosines, directions by differences of near places, and a plain loop over all of it."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise
from math import cos, dist, hypot, inf, pi, sin, sqrt
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pipeline.language.comparing import state_of
from pipeline.timing import plain
from plugins.shop import machine, setup
from reference import Event, Move, Options, Start, run
from reference.programs import random_program

from headrace import Dialect, Job, Machine, Program
from headrace.machine import Corners
from headrace.timing.clock import clock_of

DEMO = Path(__file__).parents[3] / "recipes" / "jobs"
PLANES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}
HOLDING = {"dwell", "stop", "optional-stop", "tool-change", "spindle", "coolant", "end"}
NEAR = 1e-6

Vector = tuple[float, float, float]


def place(move: Move, share: float) -> Vector:
    """Where a move is when it has done a share of its way."""
    at = [begun + share * (end - begun) for begun, end in zip(move.start, move.end, strict=True)]
    if move.centre is not None:
        first, second, _ = PLANES[move.plane]
        u, v = move.start[first] - move.centre[0], move.start[second] - move.centre[1]
        angle = share * move.turn * (-1 if move.kind == "cw" else 1)
        at[first] = move.centre[0] + u * cos(angle) - v * sin(angle)
        at[second] = move.centre[1] + u * sin(angle) + v * cos(angle)
    return at[0], at[1], at[2]


def direction(move: Move, end: bool) -> Vector:
    """Which way a move goes at one of its ends."""
    one, other = (place(move, 1 - NEAR if end else 0.0), place(move, 1.0 if end else NEAR))
    if move.centre is None:
        one, other = place(move, 0.0), place(move, 1.0)
    length = dist(one, other)
    x, y, z = ((b - a) / length for a, b in zip(one, other, strict=True))
    return x, y, z


def length_of(move: Move) -> float:
    if move.centre is None:
        return dist(place(move, 0), place(move, 1))
    first, second, across = PLANES[move.plane]
    radius = hypot(move.start[first] - move.centre[0], move.start[second] - move.centre[1])
    return hypot(radius * move.turn, move.end[across] - move.start[across])


def least(limits: list[float], shares: list[float]) -> float:
    return min(limit / share for limit, share in zip(limits, shares, strict=True) if share > 1e-12)


def bounds(move: Move, described: Machine) -> tuple[float, float]:
    """The speed and the acceleration that a move may have."""
    axes = [described.axes[letter] for letter in "xyz"]
    gains = [axis.acceleration or inf for axis in axes]
    if move.kind == "rapid":
        shares = [abs(part) for part in direction(move, False)]
        return least([axis.rapid / 60 for axis in axes], shares), least(gains, shares)
    assert move.feed is not None
    feeds = [axis.feed / 60 for axis in axes]
    if move.centre is None:
        shares = [abs(part) for part in direction(move, False)]
        return min(move.feed / 60, least(feeds, shares)), least(gains, shares)
    first, second, across = PLANES[move.plane]
    rise = abs(move.end[across] - move.start[across]) / length_of(move)
    level = sqrt(1 - rise**2)
    radius = hypot(move.start[first] - move.centre[0], move.start[second] - move.centre[1])
    slower = min(gains[first], gains[second])
    speed = min(
        move.feed / 60,
        least([min(feeds[first], feeds[second]), feeds[across]], [level, rise]),
        sqrt(slower * radius) / level,
    )
    return speed, least([slower, gains[across]], [level, rise])


def corner(one: Move, other: Move, described: Machine) -> float:
    """The square of the speed between two moves."""
    rule = described.corners
    assert rule is not None
    before, behind = direction(one, True), direction(other, False)
    turn = [b - a for a, b in zip(before, behind, strict=True)]
    sine = dist(before, behind) / 2
    if rule.full_stop:
        return 0.0
    if sine < 1e-7:
        return inf
    if rule.step is not None:
        return (rule.step / 60 / (2 * sine)) ** 2
    assert rule.deviation is not None
    cosine = sqrt(max(1 - sine**2, 0.0))
    gains = [described.axes[letter].acceleration or inf for letter in "xyz"]
    inward = least(gains, [abs(part) / (2 * sine) for part in turn])
    gain = min(bounds(one, described)[1], bounds(other, described)[1], inward)
    return gain * rule.deviation * cosine * (1 + cosine) / sine**2


def planned(moves: list[Move], events: list[Event], described: Machine) -> list[float]:
    """How long each move takes; nothing where it goes nowhere."""
    lengths = [length_of(move) for move in moves]
    goes = [number for number, length in enumerate(lengths) if length > 0]
    held = {event.after for event in events if event.kind in HOLDING}
    corners = [0.0]
    for one, other in pairwise(goes):
        stops = any(one < after <= other for after in held)
        corners.append(0.0 if stops else corner(moves[one], moves[other], described))
    corners.append(0.0)
    both = [bounds(moves[number], described) for number in goes]
    columns = [lengths[number] for number in goes], [v for v, _ in both], [a for _, a in both]
    found = [0.0] * len(moves)
    for number, took in zip(
        goes, plain.planned(*columns, corners, described.look_ahead), strict=True
    ):
        found[number] = took
    return found


def check(lines: list[str], described: Machine) -> int:
    """Hold the clock of a program, from all zeros, against the loop; how many moves it has."""
    done = run(lines, start=Start(), options=Options())
    assert done.error is None
    moves = [move for move in done.moves if move.kind != "probe"]
    assert len(moves) == len(done.moves)
    text = "".join(f"{line}\n" for line in lines)
    work = Job(
        Program.read(text.encode(), "job.nc"),
        described,
        setup("bench"),
        Dialect(),
        state_of(Start()),
    )
    found = clock_of(work)

    assert len(found.moving) == len(moves)
    assert not found.unknown.any()
    wanted = planned(moves, list(done.events), described)
    assert found.moving == pytest.approx(wanted, rel=1e-4, abs=1e-6)
    return len(moves)


RULES = [Corners(deviation=0.001), Corners(step=40), Corners(full_stop=True)]
GAINS = {"x": 15.0, "y": 22.0, "z": 9.0}


def bench(rule: Corners, ahead: int | None = None) -> Machine:
    """A sluggish machine, and no two axes alike: so that bends and corners count at any feed."""
    described = machine("bench")
    axes = {
        letter: replace(axis, acceleration=GAINS[letter]) for letter, axis in described.axes.items()
    }
    return replace(described, axes=axes, corners=rule, look_ahead=ahead, line_rate=None)


@pytest.mark.parametrize("rule", RULES, ids=["deviation", "step", "stop"])
@pytest.mark.parametrize(
    "name", ["lid.nc", "handhold.nc", "frame-side.nc", "floor-board.tap", "window.ngc"]
)
def test_jobs_of_the_demo(name: str, rule: Corners) -> None:
    lines = (DEMO / name).read_text("ascii").splitlines()

    assert check(lines, bench(rule, 15)) > 50


@settings(max_examples=60)
@given(
    st.integers(0, 2**32),
    st.sampled_from(RULES),
    st.sampled_from([None, 0, 1, 4]),
)
def test_any_job(seed: int, rule: Corners, ahead: int | None) -> None:
    """Lines, arcs and helices in any order."""
    lines = random_program(random.Random(seed), 40, profile="plain")

    check(lines, bench(rule, ahead))


def test_the_loop_knows_a_circle() -> None:
    """So that it is not wrong in the same way: a circle of radius 10 at 1200 mm/min."""
    moves = list(
        run(["G21 G90 G17", "G2 X0 Y0 I10 J0 F1200", "M2"], start=Start(), options=Options()).moves
    )
    took = planned(moves, [], bench(RULES[0]))
    speed = sqrt(15 * 10)

    assert speed < 20
    assert took == pytest.approx([20 * pi / speed + speed / 15])
    assert direction(moves[0], False) == pytest.approx((0, 1, 0), abs=1e-5)
    assert np.linalg.norm(place(moves[0], 0.5)) == pytest.approx(20)
