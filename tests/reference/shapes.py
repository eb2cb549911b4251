"""Makers of moving lines, each fit for the state it is given. Lengths in the units in force."""

from __future__ import annotations

import math
import random

from reference.arcs import PLANE_AXES, Flat
from reference.machine import Interpreter
from reference.spelling import Words, number
from reference.state import AXES, State

OFFSETS = ("I", "J", "K")


def places(state: State) -> int:
    """Decimals that keep arcs well within the tolerance."""
    return 5 if state.units == 20 else 4


def here(state: State) -> list[float]:
    """The current point as it would be written."""
    return [state.written(i, size) for i, size in enumerate(state.program)]


def distant(rng: random.Random, state: State, axis: int) -> float:
    """A place for one axis within a sheet or so of the machine's zero, as a position."""
    if axis >= 3:
        return round(rng.uniform(-180, 180), 2)
    size = rng.uniform(-200, 200) if axis < 2 else rng.uniform(-30, 50)
    return round(state.written(axis, size - state.shift[axis]), rng.choice([0, 1, 3, 4]))


def axis_word(rng: random.Random, state: State, axis: int, position: float) -> tuple[str, str]:
    """The word that leads to this position, as the distance mode asks for."""
    value = position
    if state.distance == 91:
        value -= here(state)[axis]
    return AXES[axis].upper(), number(value, places(state) + rng.choice([0, 0, 2]))


def feed_word(rng: random.Random, state: State, *, inverse: bool = False) -> Words:
    if inverse:
        return [("F", number(rng.uniform(0.5, 30), 2))]
    if rng.random() < 0.4:
        most = 120.0 if state.units == 20 else 3000.0
        return [("F", number(rng.uniform(most / 100, most), rng.choice([0, 1, 3]) or 1))]
    return []


def motion_word(rng: random.Random, state: State, code: str) -> Words:
    """The G word, left out now and then where the mode is in force already."""
    if state.motion == code and rng.random() < 0.6:
        return []
    return [("G", code[1:])]


def straight(rng: random.Random, machine: Interpreter) -> list[Words]:
    state = machine.state
    code = rng.choice(["G0", "G1", "G1", "G1"])
    axes = rng.sample(range(3), rng.randint(1, 3))
    if rng.random() < 0.08:
        axes.append(rng.choice([3, 4, 5]))
    words = motion_word(rng, state, code)
    words += [axis_word(rng, state, i, distant(rng, state, i)) for i in axes]
    if code == "G1":
        words += feed_word(rng, state, inverse=state.feed_mode == 93)
    return [words]


def rotary(rng: random.Random, machine: Interpreter) -> list[Words]:
    state = machine.state
    axes = rng.sample([3, 4, 5], rng.randint(1, 2))
    words = [("G", "1"), *(axis_word(rng, state, i, distant(rng, state, i)) for i in axes)]
    return [words + feed_word(rng, state, inverse=state.feed_mode == 93)]


def absolute(rng: random.Random, machine: Interpreter) -> list[Words]:
    """G53, which only absolute distance allows."""
    state = machine.state
    if state.distance == 91:
        return []
    code = rng.choice(["G0", "G0", "G1"])
    axes = rng.sample(range(3), rng.randint(1, 3))
    words = [("G", "53"), *motion_word(rng, state, code)]
    for i in axes:
        words.append((AXES[i].upper(), number(state.written(i, rng.uniform(-100, 100)), 3)))
    if code == "G1":
        words += feed_word(rng, state, inverse=state.feed_mode == 93)
    return [words]


def centre_arc(rng: random.Random, machine: Interpreter) -> list[Words]:
    """Centre form; the end is put on the circle and printed finely enough to stay on it."""
    state = machine.state
    first, second, _ = PLANE_AXES[state.plane]
    begin = here(state)
    radius, angle = _size(rng, state), rng.uniform(0, math.tau)
    offset = [
        round(radius * f(angle), places(state) - rng.choice([0, 1])) for f in (math.cos, math.sin)
    ]
    if rng.random() < 0.2:
        offset[rng.randrange(2)] = 0.0
    if math.hypot(*offset) < radius / 10:
        return []
    centre = (begin[first] + offset[0], begin[second] + offset[1])
    clockwise = rng.random() < 0.5
    words: Words = []
    if rng.random() < 0.2:
        closing = _closing(rng, state)
        if closing is None:
            return []
        words.append(closing)
    else:
        words += _ends(rng, state, _turned(rng, begin, centre, state, clockwise=clockwise))
    written = [k for k in (0, 1) if offset[k] or state.absolute_centres or rng.random() < 0.5]
    for k in written:
        value = centre[k] if state.absolute_centres else offset[k]
        digits = 9 if state.absolute_centres else places(state)
        words.append((OFFSETS[(first, second)[k]], number(value, digits)))
    return [_arc_line(rng, state, words, clockwise=clockwise)]


def radius_arc(rng: random.Random, machine: Interpreter) -> list[Words]:
    """Radius form, kept away from the half and the full circle where it is ill-conditioned."""
    state = machine.state
    first, second, _ = PLANE_AXES[state.plane]
    begin = here(state)
    chord, angle = _size(rng, state), rng.uniform(0, math.tau)
    end = (begin[first] + chord * math.cos(angle), begin[second] + chord * math.sin(angle))
    radius = chord / 2 * rng.uniform(1.05, 3) * rng.choice([1, 1, -1])
    words = [*_ends(rng, state, end), ("R", number(radius, places(state)))]
    return [_arc_line(rng, state, words, clockwise=rng.random() < 0.5)]


def probe(rng: random.Random, machine: Interpreter) -> list[Words]:
    """Only with the spindle stopped, and only well away from where the tool is."""
    state = machine.state
    if state.feed_mode == 93:
        return []
    down = number(here(state)[2] - state.written(2, rng.uniform(1, 20)), 3)
    if state.distance == 91:
        down = number(-state.written(2, rng.uniform(1, 20)), 3)
    away: Words = [("G", "80")]
    if rng.random() < 0.5:
        away = [("G", "0"), axis_word(rng, state, 0, distant(rng, state, 0))]
    return [[("M", "5")], [("G", "38.2"), ("Z", down), *feed_word(rng, state)], away]


def _size(rng: random.Random, state: State) -> float:
    return state.written(0, rng.choice([rng.uniform(0.5, 5), rng.uniform(2, 80)]))


def _turned(
    rng: random.Random, begin: list[float], centre: Flat, state: State, *, clockwise: bool
) -> Flat:
    """A point of the circle, 10 to 350 degrees on."""
    first, second, _ = PLANE_AXES[state.plane]
    radius = math.dist((begin[first], begin[second]), centre)
    angle = math.atan2(begin[second] - centre[1], begin[first] - centre[0])
    turn = math.radians(rng.choice([90, 180, 270, rng.uniform(10, 350)]))
    angle += -turn if clockwise else turn
    return (centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle))


def _ends(rng: random.Random, state: State, end: Flat) -> Words:
    first, second, third = PLANE_AXES[state.plane]
    words = [
        axis_word(rng, state, first, end[0]),
        axis_word(rng, state, second, end[1]),
    ]
    if rng.random() < 0.25:
        words.append(axis_word(rng, state, third, distant(rng, state, third)))
    return words


def _closing(rng: random.Random, state: State) -> tuple[str, str] | None:
    """One axis word that stays at the current point, if that can be written exactly."""
    axis = rng.choice(PLANE_AXES[state.plane][:2])
    letter = AXES[axis].upper()
    if state.distance == 91:
        return letter, "0"
    text = number(here(state)[axis], 6)
    exact = abs(state.measure(axis, float(text)) - state.program[axis]) < 1e-9
    return (letter, text) if exact else None


def _arc_line(rng: random.Random, state: State, words: Words, *, clockwise: bool) -> Words:
    code = "G2" if clockwise else "G3"
    line = motion_word(rng, state, code) + words
    return line + feed_word(rng, state, inverse=state.feed_mode == 93)


MOVE_MAKERS = (
    (straight, 30),
    (rotary, 1),
    (absolute, 2),
    (centre_arc, 14),
    (radius_arc, 8),
    (probe, 2),
)
