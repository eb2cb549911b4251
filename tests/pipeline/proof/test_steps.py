"""Contracts: what a step changes without having declared it is caught; what it may change, not.

Every fault is put into a small job, into the middle of a long run of plain moves (which is
compared in bulk) and in front of such a run (which is shared between the programs).
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference.programs import random_program

from headrace import Edit, Facet, Finding, Line, after, before, delete, replace
from headrace.language import State, interpret
from headrace.plugins import Contract
from headrace.program import Cause, Program
from headrace.proof import Version, breach_findings, prove_step

CAUSE = Cause("test", 1)

HEAD = """(hive floor)
G21 G90 G17 G94
T1 M6
M3 S18000
G0 Z5
G0 X0 Y0
G1 Z-2 F600
G1 X10 F1200
G2 X20 Y10 I10 J0
G4 P1
M8
G1 X30
M9
"""
TAIL = """G0 Z5
M0
M5
M30
"""


def _row(at: int) -> str:
    return f"X{at % 100}.25 Y{at // 100} Z{-(at % 7) / 10:.3f}\n"


SMALL = HEAD + "G1 X40 Y5\nX50\n" + TAIL
LONG = HEAD + "G1 X40 Y5\n" + "".join(_row(at) for at in range(3000)) + TAIL


def version(program: Program) -> Version:
    return Version(program, interpret(program, start=State.at_zero()))


def breaches(
    source: str,
    edit: Callable[[Program], Iterable[Edit]],
    *changes: Facet,
    adds_motion: bool = False,
) -> list[Finding]:
    old = Program.read(source.encode(), "job.nc")
    new = old.edited(edit(old), CAUSE)
    contract = Contract(frozenset(changes), adds_motion)
    return breach_findings(prove_step(version(old), version(new), contract), CAUSE)


def line_of(program: Program, text: str) -> int:
    return next(line.index for line in program if line.text.startswith(text))


def at(text: str, *new: str) -> Callable[[Program], Iterable[Edit]]:
    """Replace the first line that begins so."""
    return lambda program: [replace(line_of(program, text), *new)]


def put(text: str, *new: str) -> Callable[[Program], Iterable[Edit]]:
    """Insert before the first line that begins so."""
    return lambda program: [before(line_of(program, text), *new)]


def drop(text: str) -> Callable[[Program], Iterable[Edit]]:
    return lambda program: [delete(line_of(program, text))]


EVERYTHING = tuple(Facet)

FAULTS: dict[str, tuple[Callable[[Program], Iterable[Edit]], tuple[Facet, ...]]] = {
    "a move that goes elsewhere": (at("X50", "X50.001"), EVERYTHING),
    "a move that is lost": (drop("X50"), EVERYTHING),
    "a move that is doubled in one axis": (at("X50", "X50", "Y6"), EVERYTHING),
    "a move that is put in": (put("X50", "G1 Z-3"), EVERYTHING),
    "a rapid that was a cut": (at("G1 X30", "G0 X30"), EVERYTHING),
    "an arc that turns the other way": (at("G2 X20", "G3 X20 Y10 I10 J0"), EVERYTHING),
    "an arc with another centre": (at("G2 X20", "G2 X20 Y10 I0 J10"), EVERYTHING),
    "another plane": (put("G2 X20", "G18"), EVERYTHING),
    "another unit": (at("G21", "G20 G90 G17 G94"), EVERYTHING),
    "increments": (at("G21", "G21 G91 G17 G94"), EVERYTHING),
    "increments left on": (put("G1 X40", "G91"), EVERYTHING),
    "inverse time": (at("G21", "G21 G90 G17 G93"), tuple(set(Facet) - {Facet.FEED})),
    "another feed": (at("G1 X10", "G1 X10 F1201"), tuple(set(Facet) - {Facet.FEED})),
    "a feed put in": (put("G1 X40", "F900"), tuple(set(Facet) - {Facet.FEED})),
    "another speed": (at("M3", "M3 S17000"), tuple(set(Facet) - {Facet.SPINDLE})),
    "the other way round": (at("M3", "M4 S18000"), tuple(set(Facet) - {Facet.SPINDLE})),
    "a spindle that stops": (put("G1 X40", "M5"), tuple(set(Facet) - {Facet.SPINDLE})),
    "no spindle": (drop("M3"), tuple(set(Facet) - {Facet.SPINDLE})),
    "another tool": (at("T1", "T2 M6"), tuple(set(Facet) - {Facet.TOOL})),
    "no coolant": (drop("M8"), tuple(set(Facet) - {Facet.OUTPUTS})),
    "another dwell": (at("G4", "G4 P2"), tuple(set(Facet) - {Facet.DWELL})),
    "a dwell put in": (put("G1 X30", "G4 P0.5"), tuple(set(Facet) - {Facet.DWELL})),
    "a stop that is lost": (drop("M0"), tuple(set(Facet) - {Facet.STOPS})),
    "a stop put in": (put("G1 X30", "M0"), tuple(set(Facet) - {Facet.STOPS})),
    "an optional stop": (at("M0", "M1"), tuple(set(Facet) - {Facet.STOPS})),
    "an end put in": (put("G1 X30", "M30"), EVERYTHING),
    "no end": (drop("M30"), tuple(set(Facet) - {Facet.STOPS})),
    "a shifted zero": (put("G1 X40", "G92 X0"), tuple(set(Facet) - {Facet.WORK_ZERO})),
    "another work offset": (put("G0 X0", "G55"), tuple(set(Facet) - {Facet.WORK_ZERO})),
    "another comment": (at("(hive", "(hive lid)"), tuple(set(Facet) - {Facet.COMMENTS})),
    "a line number": (at("G1 X30", "N5 G1 X30"), tuple(set(Facet) - {Facet.LINE_NUMBERS})),
    "words written anew": (at("G1 X30", "G01 X30.0"), (Facet.COMMENTS, Facet.LINE_NUMBERS)),
}


@pytest.mark.parametrize("source", [SMALL, LONG], ids=["short", "long"])
@pytest.mark.parametrize("fault", FAULTS)
def test_fault_is_caught(fault: str, source: str) -> None:
    edit, declared = FAULTS[fault]

    found = breaches(source, edit, *declared)

    assert found
    assert found[0].name == "contract-broken"
    assert "`test`" in found[0].what


@pytest.mark.parametrize("declared", [True, False])
def test_added_motion_must_be_declared(declared: bool) -> None:
    edit = put("G0 X0", "G0 Z20", "G0 Z5")

    found = breaches(SMALL, edit, *EVERYTHING, adds_motion=declared)

    assert bool(found) is not declared


@pytest.mark.parametrize("source", [SMALL, LONG], ids=["short", "long"])
@pytest.mark.parametrize(
    ("place", "lines"),
    [
        ("G1 X40", ["G91"]),
        ("G1 X40", ["G20"]),
        ("G1 X40", ["F5"]),
        ("G1 X40", ["M5"]),
        ("G1 X40", ["G92 X0"]),
        ("G1 X40", ["G53 G0 Z1", "G91"]),
        ("G1 X30", ["G0 X1", "G92 X30"]),
        ("G2 X20", ["G18"]),
        ("G2 X20", ["G0 X1 Y1"]),
    ],
)
def test_added_lines_may_not_change_what_comes_after(
    place: str, lines: list[str], source: str
) -> None:
    """A step that may add motion leaves a mode, a feed or another place behind."""
    kept = tuple(set(Facet) - {Facet.FEED, Facet.SPINDLE, Facet.WORK_ZERO})

    assert breaches(source, put(place, *lines), *kept, adds_motion=True)


@pytest.mark.parametrize(
    ("edit", "declared"),
    [
        (at("(hive", "(hive lid)"), (Facet.COMMENTS,)),
        (drop("(hive"), (Facet.COMMENTS,)),
        (put("G1 X30", "", "(look)"), ()),
        (at("G1 X30", "N5 G1 X30"), (Facet.LINE_NUMBERS,)),
        (at("G1 X30", "g01 x+30.000 (edge)"), (Facet.SPELLING, Facet.COMMENTS)),
        (at("G1 X30", "G1 G90 X30"), (Facet.SPELLING,)),
        (at("M3", "M3 S12000"), (Facet.SPINDLE,)),
        (at("M3", "M0"), (Facet.SPINDLE, Facet.STOPS)),
        (put("G1 X30", "G4 P3"), (Facet.DWELL,)),
        (at("G1 X10", "G1 X10 F900"), (Facet.FEED,)),
    ],
)
def test_what_is_declared_may_change(
    edit: Callable[[Program], Iterable[Edit]], declared: tuple[Facet, ...]
) -> None:
    for source in (SMALL, LONG):
        assert breaches(source, edit, *declared) == []


MACHINE = "G21 G90 G94\nG53 G0 Z-5\nG0 X20 Y30\nG0 Z5\nG1 Z-2 F600\nX40\nG53 G0 Z-5\nM30\n"


def test_a_place_in_machine_coordinates_holds_whatever_the_numbers_in_force_are() -> None:
    """A step moves the zero; lines with G53, and what follows before Z is named, mean the same."""
    assert breaches(MACHINE, put("G53", "G92 Z7"), Facet.WORK_ZERO) == []


@pytest.mark.parametrize(
    "edit", [at("G53", "G53 G0 Z-6"), at("G53", "G0 Z-5"), drop("G53"), at("G53", "G53 G0 X-5")]
)
def test_another_place_in_machine_coordinates_is_caught(
    edit: Callable[[Program], Iterable[Edit]],
) -> None:
    kept = tuple(set(Facet) - {Facet.WORK_ZERO})
    before_zero = MACHINE.replace("G53 G0 Z-5\nG0", "G92 Z7\nG53 G0 Z-5\nG0")

    assert breaches(before_zero, edit, *kept)


def test_breach_names_the_line_and_the_step() -> None:
    found = breaches(SMALL, at("X50", "X51"), *EVERYTHING)

    assert found[0].what.startswith(
        "step `test` changed where a move goes in X (was 50, is 51); the line is now `X51`,"
    )
    assert found[0].place is not None
    assert (found[0].place.line, found[0].place.excerpt) == (15, "X50")


def test_line_in_the_middle_of_a_long_run_is_found() -> None:
    for index in (100, 1500, 2900):
        program = Program.read(LONG.encode())
        line = program[index]

        found = breaches(LONG, lambda _, line=line: [replace(line.index, line.text + "1")])

        assert found
        assert found[0].place is not None
        assert found[0].place.line == index + 1


@given(st.integers(0, 2**32), st.sampled_from(["spaces", "case", "zeros", "comments", "numbers"]))
@settings(max_examples=60, deadline=None)
def test_harmless_rewriting_is_never_flagged(seed: int, how: str) -> None:
    """Generated programs, written anew with the same effect."""
    rng = random.Random(seed)
    lines = random_program(rng, 30)
    source = "\n".join(lines) + "\n"
    may = (Facet.SPELLING, Facet.COMMENTS, Facet.LINE_NUMBERS, Facet.PAUSE_TEXTS)

    found = breaches(source, lambda program: _rewritten(program, how), *may)

    assert found == []


def _rewritten(program: Program, how: str) -> Iterable[Edit]:
    for line in program:
        text = _spelt(line, how)
        if how == "comments" and line.words:
            yield after(line.index, "(beeswax)")
        if text is not None and text != line.text:
            yield replace(line.index, text)


def _spelt(line: Line, how: str) -> str | None:
    scan = line.scan
    if scan.percent or scan.block_delete or scan.settings or not line.words or scan.comments:
        return None
    if how == "case":
        return line.text.swapcase()
    if how == "spaces":
        return "  ".join(line.text.split())
    if how == "zeros":
        return line.rewritten(
            {word: f"{word.letter}{word.value}" for word in line.words if word.value is not None}
        )
    if how == "numbers" and scan.number is None:
        return f"N10 {line.text}"
    return None
