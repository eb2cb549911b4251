"""Makers of canned cycle lines, in all planes and both distance modes."""

from __future__ import annotations

import random

from reference.arcs import PLANE_AXES
from reference.machine import Interpreter
from reference.shapes import axis_word, distant, feed_word, here
from reference.spelling import Words, number
from reference.state import AXES

# G88 is left out: where the tool is when the operator has pulled it out, the file cannot know.
_CODES = ("81", "81", "82", "83", "84", "85", "86", "87", "89")


def cycle(rng: random.Random, machine: Interpreter) -> list[Words]:
    """A cycle with all its words, and then some lines that lean on what is sticky."""
    state = machine.state
    if state.feed_mode == 93:
        return []
    code = rng.choice(_CODES)
    first, second, depth = PLANE_AXES[state.plane]
    lines: list[Words] = []
    if code in ("84", "86", "87"):
        lines.append([("M", "3" if code == "84" else rng.choice("34")), ("S", "900")])

    rise, deep = state.written(2, rng.uniform(-3, 6)), state.written(2, rng.uniform(1, 15))
    r = rise if state.distance == 91 else here(state)[depth] + rise
    bottom = -deep if state.distance == 91 else r - deep
    words: Words = [
        ("G", code),
        ("R", number(r, 3)),
        (AXES[depth].upper(), number(bottom, 3)),
        *(axis_word(rng, state, i, distant(rng, state, i)) for i in (first, second)),
        *_extras(rng, code, deep, state.written(2, 1), depth, bottom),
        *feed_word(rng, state),
    ]
    if rng.random() < 0.2:
        words.append(("L", str(rng.randint(1, 4))))
    if rng.random() < 0.3:
        words.append(("G", rng.choice(["98", "99"])))
    lines.append(words)

    for _ in range(rng.randint(0, 3)):
        axis = rng.choice([first, second])
        more: Words = [axis_word(rng, state, axis, distant(rng, state, axis))]
        if rng.random() < 0.2:
            more.append(("L", str(rng.randint(1, 3))))
        if rng.random() < 0.3:
            more.append(("G", code))
        lines.append(more)
    away: Words = [("G", "80")]
    if rng.random() < 0.5:
        away = [("G", "0"), axis_word(rng, state, depth, distant(rng, state, depth))]
    return [*lines, away] if rng.random() < 0.8 else lines


def _extras(
    rng: random.Random, code: str, deep: float, unit: float, depth: int, bottom: float
) -> Words:
    if code in ("82", "86", "89"):
        return [("P", number(rng.uniform(0, 2), 2))]
    if code == "83":
        return [("Q", number(max(deep / rng.uniform(0.8, 6), unit / 10), 3))]
    if code != "87":
        return []
    words = [(letter, number(rng.uniform(-2, 2) * unit, 3)) for letter in "IJK"]
    # The letter of the depth axis is the place to cut up to, an increment in G91 only.
    words[depth] = ("IJK"[depth], number(bottom + rng.uniform(0, deep), 3))
    return words
