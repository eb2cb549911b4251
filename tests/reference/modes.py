"""Makers of lines that change modes, offsets, parameters, spindle, tool and the like."""

from __future__ import annotations

import random

from reference.codes import SYSTEMS
from reference.machine import Interpreter
from reference.shapes import centre_arc, distant, straight
from reference.spelling import Words, number
from reference.state import AXES


def plane(rng: random.Random, _machine: Interpreter) -> list[Words]:
    return [[("G", rng.choice(["17", "17", "18", "19"]))]]


def units(rng: random.Random, _machine: Interpreter) -> list[Words]:
    """A new F follows, since the number of the old one would mean another feed."""
    code = rng.choice(["20", "21"])
    feed = number(rng.uniform(5, 60) * (1 if code == "20" else 25), 1)
    return [[("G", code)], [("F", feed)]]


def distance(rng: random.Random, _machine: Interpreter) -> list[Words]:
    word = ("G", rng.choice(["90", "91"]))
    if rng.random() < 0.5:
        return [[word]]
    # Increments are as good as positions for a move, so the mode may change on its line.
    x = number(rng.uniform(-2, 2), 3)
    return [[word, ("G", "0"), (rng.choice("XYZ"), x)]]


def inverse_time(rng: random.Random, _machine: Interpreter) -> list[Words]:
    """A stretch of G93, closed by G94 with a feed of its own."""
    lines: list[Words] = [[("G", "93")]]
    for _ in range(rng.randint(1, 3)):
        lines.append(
            [
                ("G", "1"),
                (rng.choice("XYZ"), number(rng.uniform(-5, 5), 3)),
                ("F", number(rng.uniform(1, 9), 2)),
            ]
        )
    return [*lines, [("G", "94"), ("F", number(rng.uniform(10, 60), 1))]]


def axis_offsets(rng: random.Random, _machine: Interpreter) -> list[Words]:
    kind = rng.choice(["92", "92", "92", "92.1", "92.2"])
    if kind != "92":
        return [[("G", kind)]]
    axes = rng.sample(range(3), rng.randint(1, 3))
    words = [(AXES[i].upper(), number(rng.uniform(-20, 20), 3)) for i in axes]
    return [[("G", "92"), *words]]


def restored_offsets(rng: random.Random, _machine: Interpreter) -> list[Words]:
    return [[("G", rng.choice(["92.2", "92.3", "92.3"]))]]


def origin(rng: random.Random, machine: Interpreter) -> list[Words]:
    key = "20" if machine.options.level_twenty and rng.random() < 0.4 else "2"
    axes = rng.sample(range(3), rng.randint(0, 3))
    words = [(AXES[i].upper(), number(rng.uniform(-20, 20), 3)) for i in axes]
    return [[("G", "10"), ("L", key), ("P", str(rng.randint(1, 9))), *words]]


def system(rng: random.Random, _machine: Interpreter) -> list[Words]:
    return [[("G", rng.choice(["G54", "G54", *SYSTEMS])[1:])]]


def home(rng: random.Random, machine: Interpreter) -> list[Words]:
    state = machine.state
    base, code = rng.choice([(5161, "28"), (5181, "30")])
    lines: list[Words] = []
    if rng.random() < 0.5:
        at = number(state.written(0, rng.uniform(0, 50)), 2)
        lines.append([(f"#{base + rng.randrange(3)}=", at)])
    words: Words = [("G", code)]
    if rng.random() < 0.5 and state.distance == 90:
        words.append(("Z", number(distant(rng, state, 2), 3)))
    return [*lines, words]


def quiet_codes(rng: random.Random, machine: Interpreter) -> list[Words]:
    codes = ["40", "49", "61", "61.1", "64", "98", "99", "80"]
    if machine.options.centre_codes:
        codes += ["90.1", "91.1"]
    return [[("G", rng.choice(codes))]]


def dwell(rng: random.Random, machine: Interpreter) -> list[Words]:
    line: Words = [("G", "4"), ("P", number(rng.uniform(0, 5), rng.choice([0, 1, 3])))]
    if rng.random() < 0.2:
        line += [("G", "0"), ("X", number(distant(rng, machine.state, 0), 3))]
    return [line]


def switches(rng: random.Random, _machine: Interpreter) -> list[Words]:
    words: Words = []
    if rng.random() < 0.5:
        words.append(("S", str(rng.randint(0, 24000))))
    if rng.random() < 0.3:
        words.append(("T", str(rng.randint(0, 20))))
    groups = (["3", "4", "5"], ["6"], ["7", "8", "9"], ["48", "49"], ["0", "1", "60"])
    for group in rng.sample(groups, rng.randint(0, 3)):
        words.append(("M", rng.choice(group)))
    return [words] if words else []


def loaded_line(rng: random.Random, machine: Interpreter) -> list[Words]:
    """A move with company on its line, so that the order of table 8 shows."""
    made = straight(rng, machine) if rng.random() < 0.6 else centre_arc(rng, machine)
    company = switches(rng, machine)
    if not made or not company:
        return made
    return [made[0] + company[0]]


def settings(rng: random.Random, machine: Interpreter) -> list[Words]:
    """Parameters set by numbers and by each other, and read while they are being set."""
    state = machine.state
    a, b = rng.sample(range(100, 130), 2)
    value = number(rng.uniform(-30, 30), 3)
    lines: list[Words] = [[(f"#{a}=", value), (f"#{b}=", rng.choice([f"#{a}", f"[#{a}*2-1]"]))]]
    if rng.random() < 0.3:
        lines.append([(f"#{b}=", str(a)), (f"#{a}=", "1"), (f"#{a}=", "[1/3]")])
        lines.append([("#131=", f"##{b}")])
    if state.distance == 90 and rng.random() < 0.6:
        again = (f"#{a}=", f"[#{a} + 1]")
        lines.append([("G", "0"), ("X", f"#{a}"), ("Y", f"[#{a} / 2]"), again])
    return lines


def readings(rng: random.Random, machine: Interpreter) -> list[Words]:
    """Moves to what the machine itself has written into parameters."""
    index = rng.choice([5061, 5063, 5161, 5211, 5213, 5220, 5223, 5241])
    if machine.state.distance == 91:
        return []
    return [[("G", "0"), (rng.choice("XYZ"), f"#{index}")]]


def _unary(rng: random.Random) -> str:
    return rng.choice(
        [
            "sin[37.5]", "cos[12]", "tan[20]", "asin[0.25]", "acos[-0.4]", "atan[-3]/[2]",
            "exp[1.5]", "ln[7]", "sqrt[2]", "fix[-2.3]", "fup[2.1]", "round[2.5]", "abs[-9.75]",
        ]
    )  # fmt: skip


def sums(rng: random.Random, _machine: Interpreter) -> list[Words]:
    """A long expression of random operators, to try precedence and order."""
    terms = [
        rng.choice([number(rng.uniform(-9, 9), 2), str(rng.randint(1, 5)), _unary(rng)])
        for _ in range(rng.randint(2, 7))
    ]
    text = terms[0]
    for term in terms[1:]:
        op = rng.choice(["+", "-", "*", "/", " mod ", " or ", " xor ", " and ", "**"])
        if op == "**":
            term = str(rng.randint(0, 3))
        text += op + term
    line: Words = [("#132=", f"[{text}]")]
    return [line, [("G", "0"), ("X", "[#132 mod 100]")]] if rng.random() < 0.5 else [line]


MODE_MAKERS = (
    (plane, 3),
    (distance, 5),
    (inverse_time, 1),
    (axis_offsets, 3),
    (origin, 3),
    (system, 3),
    (quiet_codes, 3),
    (dwell, 2),
    (switches, 6),
    (loaded_line, 6),
    (settings, 4),
    (sums, 2),
)
# Numbers kept in parameters change their size with the units, or do not: the report leaves it
# open (3.5.7, 4.3.3.3). So a program either changes units or uses such numbers.
ONE_UNIT_MAKERS = ((restored_offsets, 2), (home, 2), (readings, 2))
TWO_UNIT_MAKERS = ((units, 4),)
