"""Wrapped paths: a linear axis said as a rotary one passes both proofs, and no fault in it does.

An arc is as long as radius times angle (any textbook). How long a move takes is worked out by the
reference interpreter, which goes by RS274/NGC 2.1.2.5 (feeds with rotary axes) and 3.5.19 (G93).
"""

from __future__ import annotations

import math
import random
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace as replace_contract
from itertools import islice

import numpy as np
import pytest
from reference import Move, ReferenceError_, run

from headrace import Facet, Wrap, after, before, replace
from headrace.language import State, interpret
from headrace.plugins import Affine, Contract
from headrace.proof import Version, prove_run, prove_step
from headrace.proof.second.follower import Dialect

from .trial import CAUSE, line_for_line, passes, program

DIAMETER = 40.0
PER_MM = 360 / (math.pi * DIAMETER)
PLACES = 5
WITHIN = 0.51 * 10**-PLACES / PER_MM
FLAT = [
    "G21 G90 G17 G94",
    "M3 S18000",
    "G0 X0 Y0 Z5",
    "G1 Z-2 F600",
    "G1 X40 Y10",
    "G1 Y30 F900",
    "G1 X50 Y12 Z-3",
    "G1 X50 Y12.01 Z-3",
    "G1 X12.5",
    "G1 X12.5",
    "G0 Z5",
    "G0 X3 Y-140",
    "G1 Z-1 F300",
    "G1 X4 Y200 F1200",
    "G0 Z5",
    "M30",
]


def contract(counts: str = "linear", per_mm: float = PER_MM, feed_within: float = 0.01) -> Contract:
    wrap = Wrap("Y", "A", per_mm, counts)
    return Contract(
        frozenset({Facet.SPELLING}), within=WITHIN, feed_within=feed_within, wraps=(wrap,)
    )


def wrapped(
    lines: Sequence[str], per_mm: float = PER_MM, counts: str = "linear", *, timed: bool = False
) -> list[str]:
    """A flat job round a blank, straight from what the reference says it does."""
    moves = {move.line: move for move in run(lines).moves}
    said = []
    for number, line in enumerate(lines):
        move = moves.get(number)
        if move is None:
            said.append(line)
            continue
        old, new = (np.array(place) for place in (move.start, move.end))
        a = [round(place[1] * per_mm, PLACES) for place in (old, new)]
        words = ["G0" if move.kind == "rapid" else "G93 G1" if timed else "G1"]
        words += [f"X{new[0]:g} A{a[1]:.{PLACES}f} Z{new[2]:g}"]
        if move.kind != "rapid":
            dx, dz, turn = new[0] - old[0], new[2] - old[2], a[1] - a[0]
            minutes = math.hypot(dx, turn / per_mm, dz) / (move.feed or math.nan)
            way = math.hypot(dx, dz)
            way = math.hypot(way, turn) if counts == "all" else way or abs(turn)
            words.append(f"F{(1 if timed else way) / minutes if minutes else 600:.6f}")
        said.append(" ".join(words))
    return said


def minutes(move: Move) -> float:
    """How long a move takes (min), by its F alone: RS274/NGC 2.1.2.5 and 3.5.19."""
    if move.feed is None:
        return 0.0
    if move.feed_unit == "1/min":  # what goes nowhere within a second is no standing still
        return 0.0 if move.start == move.end and move.feed >= 60 else 1 / move.feed
    ways = [end - start for start, end in zip(move.start, move.end, strict=True)]
    linear, turn = math.hypot(*ways[:3]), math.hypot(*ways[3:])
    return (turn if move.feed_unit == "deg/min" else linear) / move.feed


@pytest.mark.parametrize("timed", [False, True])
@pytest.mark.parametrize("per_mm", [PER_MM, -PER_MM])
def test_a_wrapped_job_passes_and_takes_as_long(per_mm: float, timed: bool) -> None:
    new = wrapped(FLAT, per_mm, timed=timed)

    assert passes(line_for_line(FLAT, new, contract(per_mm=per_mm)))
    flat, turned = run(FLAT).moves, run(new).moves
    assert [minutes(move) for move in turned] == pytest.approx(
        [minutes(move) for move in flat], rel=1e-4
    )
    places = np.array([move.end for move in flat])
    mapped = np.column_stack([places[:, 0], places[:, 1] * per_mm, places[:, 2]])
    found = np.array([move.end for move in turned])[:, [0, 3, 2]]
    np.testing.assert_allclose(found, mapped, atol=0.51 * 10**-PLACES)


def test_a_controller_whose_f_counts_degrees_too() -> None:
    new = wrapped(FLAT, counts="all")

    assert passes(line_for_line(FLAT, new, contract("all")))
    assert not passes(line_for_line(FLAT, new, contract()))


def test_a_wrong_diameter() -> None:
    new = wrapped(FLAT, 360 / (math.pi * 39.9))

    assert not passes(line_for_line(FLAT, new, contract()))


def test_turned_the_wrong_way() -> None:
    assert not passes(line_for_line(FLAT, wrapped(FLAT, -PER_MM), contract()))


def test_nothing_is_wrapped_that_is_not_declared() -> None:
    plain = Contract(frozenset(Facet), within=WITHIN, feed_within=0.01)

    assert not passes(line_for_line(FLAT, wrapped(FLAT), plain))


def test_a_flat_job_is_no_wrapped_one() -> None:
    assert not passes(line_for_line(FLAT, FLAT, contract()))


def faults(new: Sequence[str], rng: random.Random) -> Iterator[tuple[str, list[str]]]:
    """One fault at a time, in lines that move."""
    moving = [at for at, line in enumerate(new) if " A" in line]
    cutting = [at for at in moving if " F" in new[at]]

    def line(at: int, old: str, text: str) -> list[str]:
        words = [text if word == old else word for word in new[at].split()]
        return [*new[:at], " ".join(words), *new[at + 1 :]]

    for at in moving:
        words = {word[0]: word for word in new[at].split()}
        degrees = float(words["A"][1:])
        for off in (0.002, -0.01, 360.0, rng.uniform(0.001, 90)):
            yield f"A{off:+} in {at}", line(at, words["A"], f"A{degrees + off:.5f}")
        for word, off in (("X", 0.01), ("Z", -0.01)):
            value = float(words[word][1:])
            yield f"{word} in {at}", line(at, words[word], f"{word}{value + off}")
        yield f"Y left in {at}", [*new[:at], f"{new[at]} Y3", *new[at + 1 :]]
        yield f"B in {at}", [*new[:at], f"{new[at]} B3", *new[at + 1 :]]
        if at in cutting:
            yield f"no F in {at}", line(at, words["F"], "")
            for share in (0.99, 1.01, rng.uniform(1.1, 9)):
                feed = float(words["F"][1:]) * share
                yield f"F times {share} in {at}", line(at, words["F"], f"F{feed:.5f}")
    for at in cutting:
        yield f"line {at} lost", [*new[:at], "", *new[at + 1 :]]
        yield f"line {at} a rapid", [*new[:at], new[at].replace("G1", "G0"), *new[at + 1 :]]


@pytest.mark.parametrize("timed", [False, True])
def test_no_fault_passes(timed: bool) -> None:
    """What the reference sees of each fault: another place round the blank, or another time. All
    are far beyond what is declared to be rounding."""
    new = wrapped(FLAT, timed=timed)
    right = [(move.kind, *move.end, minutes(move)) for move in run(new).moves]
    seen = 0
    for name, faulty in islice(faults(new, random.Random(16)), 0, None, 2 if timed else 1):
        try:
            now = [(move.kind, *move.end, minutes(move)) for move in run(faulty).moves]
        except ReferenceError_:  # a line that the reference refuses is a fault, too
            now = []
        harmless = len(now) == len(right) and all(
            old[0] == new[0] and np.allclose(old[1:], new[1:], rtol=1e-4, atol=1e-4)
            for old, new in zip(right, now, strict=True)
        )
        step, whole = line_for_line(FLAT, faulty, contract())
        caught = bool(step.breaches), whole.breach is not None
        assert harmless or caught == (True, True), (name, caught)
        seen += not harmless
    assert seen > 50


def test_no_standing_still_by_the_time_of_a_move() -> None:
    """A move that goes nowhere takes as long as its F says, too (3.5.19)."""
    new = wrapped(FLAT, timed=True)
    at = next(at for at, line in enumerate(new) if line.endswith("F600.000000"))
    slow = [*new[:at], new[at].replace("F600.000000", "F0.5"), *new[at + 1 :]]

    assert passes(line_for_line(FLAT, new, contract()))
    assert not passes(line_for_line(FLAT, slow, contract()))


def test_many_lines_in_bulk() -> None:
    """So many that both readings take them by columns."""
    rng = random.Random(7)
    flat = [*FLAT[:3], "G1 Z-1 F600"]
    flat += [f"G1 X{rng.uniform(0, 90):.3f} Y{rng.uniform(-200, 200):.3f}" for _ in range(600)]
    flat += ["G0 Z5", "M30"]
    new = wrapped(flat)

    assert passes(line_for_line(flat, new, contract()))
    for at in (10, 300, 601):
        a = next(word for word in new[at].split() if word[0] == "A")
        other = new[at].replace(a, f"A{float(a[1:]) + 0.01:.5f}")
        assert not passes(line_for_line(flat, [*new[:at], other, *new[at + 1 :]], contract()))


def test_an_axis_that_stands_at_a_place_of_its_own() -> None:
    """A is at 0 or nowhere before; it may not be elsewhere when a cut begins."""
    flat = ["G21 G90 G17 G94", "G0 X0 Z5", "G1 X5 Z-1 F600", "G1 X9", "M30"]
    contract_ = contract()

    old, new = program(flat), program(flat)
    for a, good in ((0.0, True), (50.0, False)):
        start, there = State.at_zero(), State.at_zero()
        there.position[3] = a
        versions = [Version(each, interpret(each, start=state))
                    for each, state in ((old, start), (new, there))]  # fmt: skip
        assert (not prove_step(*versions, contract_).breaches) == good


@pytest.mark.parametrize(("there", "good"), [("G0 Y0", True), ("G0 Y0.5", False)])
def test_cuts_beside_those_before(there: str, good: bool) -> None:
    """Added lines may lead the head along Y, but all cuts are to stand above one line."""
    moving = replace_contract(contract(), adds_motion=True)
    old = program(FLAT)
    edits = [replace(at, text) for at, text in enumerate(wrapped(FLAT))]
    result = old.edited([before(2, "G0 Y0"), *edits, after(10, "G0 Z9", there)], CAUSE)

    step = prove_step(*(Version(each, interpret(each, start=State.at_zero()))
                        for each in (old, result)), moving)  # fmt: skip
    whole = prove_run(old, [result], moving, False, Dialect({}))

    assert passes((step, whole)) == good


def test_a_map_and_a_wrap_one_behind_the_other() -> None:
    """X and Z may be moved before or behind the wrap; Y only before it."""
    shifted = Contract(affine=Affine.of([[1, 0, 0, 7], [0, 1, 0, 0], [0, 0, 1, 0]]))
    scaled = Contract(affine=Affine.of([[1, 0, 0, 0], [0, 2, 0, 0], [0, 0, 1, 0]]))

    def said(flat: list[str], x: float = 0.0) -> list[str]:
        new = wrapped(flat)
        return [re.sub(r"X(\S+)", lambda word: f"X{float(word[1]) + x:g}", line) for line in new]

    assert passes(line_for_line(FLAT, said(FLAT, 7), shifted.then(contract())))
    assert passes(line_for_line(FLAT, said(FLAT, 7), contract().then(shifted)))
    assert not passes(line_for_line(FLAT, said(FLAT, 6.9), contract().then(shifted)))
    twice = [re.sub(r"Y(\S+)", lambda word: f"Y{2 * float(word[1])}", line) for line in FLAT]
    slow = replace_contract(contract(), facets=frozenset({Facet.SPELLING, Facet.FEED}))
    assert passes(line_for_line(FLAT, said(twice), scaled.then(slow)))
    assert not passes(line_for_line(FLAT, said(FLAT), scaled.then(slow)))


def test_two_wraps_are_taken_one_behind_the_other() -> None:
    """X onto B behind Y onto A; F is none of this."""
    both = replace_contract(
        contract(), facets=frozenset({Facet.SPELLING, Facet.FEED}),
        wraps=(Wrap("Y", "A", PER_MM), Wrap("X", "B", 3.0)),
    )  # fmt: skip
    flat = ["G21 G90 G17 G94", "G0 X0 Y0 Z5", "G1 Z-1 F300", "G1 X4 Y10", "G0 Z5", "M30"]
    new = ["G21 G90 G17 G94", "G0 B0 A0 Z5", "G1 Z-1 F300", "G1 B12 A28.64789", "G0 Z5", "M30"]

    assert passes(line_for_line(flat, new, both))
    assert not passes(line_for_line(flat, [*new[:3], "G1 B12.1 A28.64789", *new[4:]], both))
    assert not passes(line_for_line(flat, [*new[:3], "G1 B28.64789 A12", *new[4:]], both))


@pytest.mark.parametrize(
    ("axis", "onto", "degrees", "counts"),
    [("A", "Y", 1, "linear"), ("Y", "A", 0, "linear"), ("Y", "A", math.inf, "all"),
     ("Y", "A", 1, "path")],
)  # fmt: skip
def test_no_such_wrap(axis: str, onto: str, degrees: float, counts: str) -> None:
    with pytest.raises(ValueError, match="a wrap"):
        Wrap(axis, onto, degrees, counts)
