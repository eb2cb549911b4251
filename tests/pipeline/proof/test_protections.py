"""What no step may do, whatever it declares besides: cut, ask without a pause, reword a pause."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import pytest

from headrace import Edit, Facet, Finding, after, before, delete, replace
from headrace.language import State, interpret
from headrace.plugins import Contract
from headrace.program import Cause, Program
from headrace.proof import Version, breach_findings, prove_run, prove_step
from headrace.proof.second.follower import Dialect

CAUSE = Cause("test", 1)
SOURCE = """(hive floor)
G21 G90 G17 G94
M3 S18000
G0 Z5
G0 X10 Y10
G1 Z-2 F600
X50
/Y50
(TURN THE FLOOR)
M0
G1 X10
G0 Z5
M5
M30
"""
EVERYTHING = frozenset(Facet)
Edits = Callable[[Program], Iterable[Edit]]


def found(
    edits: Edits, facets: Iterable[Facet] = EVERYTHING, *, adds: bool = True
) -> list[Finding]:
    """What the proof of the step says."""
    old = Program.read(SOURCE.encode(), "floor.nc")
    new = old.edited(edits(old), CAUSE)
    versions = [
        Version(program, interpret(program, start=State.at_zero())) for program in (old, new)
    ]
    return breach_findings(prove_step(*versions, Contract(frozenset(facets), adds)), CAUSE)


def at(program: Program, text: str) -> int:
    return next(line.index for line in program if line.text == text)


def behind(text: str, *new: str) -> Edits:
    return lambda program: [after(at(program, text), *new)]


@pytest.mark.parametrize(
    "edits",
    [
        behind("X50", "G1 X90", "G1 X50"),
        behind("X50", "G2 X50 Y10 I10 J0", "G1"),
        behind("G0 X10 Y10", "G1 Z-1 F100", "G0 Z5"),
        behind("G0 Z5", "G1 X20 F100"),
        behind("M5", "G1 Y80 F100"),
        behind("X50", "G0 Z-5", "G0 Z-2", "G1"),
    ],
    ids=["slot", "circle", "plunge before", "at the start", "at the end", "dive"],
)
def test_added_moves_do_not_cut(edits: Edits) -> None:
    (breach,) = found(edits)

    assert "an added move" in breach.what
    old = Program.read(SOURCE.encode())
    whole = prove_run(
        old, [old.edited(edits(old), CAUSE)], Contract(EVERYTHING, True), False, Dialect({})
    )
    assert (whole.breach is None) == ("goes down" in breach.what)


@pytest.mark.parametrize(
    "lines",
    [["G0 Z20", "G0 Z-2"], ["G1 Z20 F100", "G0 Z-2", "G1"], ["G0 X50"]],
    ids=["up and back", "up at feed", "nowhere"],
)
def test_added_moves_may_lift_and_come_back(lines: list[str]) -> None:
    kept = EVERYTHING - {Facet.FEED} if "F" not in "".join(lines) else EVERYTHING

    assert (
        found(behind("X50", *lines, *(["G1 F600"] if "G1" not in lines else ["F600"])), kept) == []
    )


@pytest.mark.parametrize("adds", [True, False])
def test_an_answer_needs_a_pause(adds: bool) -> None:
    def edits(program: Program) -> Iterable[Edit]:
        return [before(at(program, "M3 S18000"), "(CLIP OFF)", asks="clip-off")]

    (breach,) = found(edits, adds=adds)

    assert "an answer: `clip-off` is added without a pause" in breach.what
    assert found(lambda _: [before(2, "(CLIP OFF)"), before(2, "M0", asks="clip-off")]) == []


@pytest.mark.parametrize(
    "edits",
    [
        lambda p: [replace(at(p, "(TURN THE FLOOR)"), "(LEAVE THE FLOOR)")],
        lambda p: [delete(at(p, "(TURN THE FLOOR)"))],
        lambda p: [replace(at(p, "(TURN THE FLOOR)"), "(TURN TH..)")],
        behind("(TURN THE FLOOR)", "(LATER)"),
        lambda p: [replace(at(p, "M0"), "M0 (LATER)")],
    ],
    ids=["another", "none", "cut short", "one between", "one behind"],
)
def test_what_a_pause_asks_is_no_mere_comment(edits: Edits) -> None:
    (breach,) = found(edits, EVERYTHING - {Facet.PAUSE_TEXTS})

    assert "the text of a pause" in breach.what
    assert found(edits) == []


@pytest.mark.parametrize("text", ["(turn the  floor)", "; Turn thé floor", "( TURN-THE-FLOOR )"])
def test_brackets_capitals_and_accents_do_not_change_what_it_asks(text: str) -> None:
    def edits(program: Program) -> Iterable[Edit]:
        return [replace(at(program, "(TURN THE FLOOR)"), text)]

    assert found(edits, {Facet.COMMENTS}) == []


@pytest.mark.parametrize(("old", "new"), [("X50", "/X50"), ("/Y50", "Y50"), ("/Y50", "N5 Y50")])
def test_whether_a_line_is_optional_stays(old: str, new: str) -> None:
    def edits(program: Program) -> Iterable[Edit]:
        return [replace(at(program, old), new)]

    (breach,) = found(edits, EVERYTHING - {Facet.OPTIONAL})

    assert "whether lines are optional" in breach.what
    assert bool(found(edits)) == new.startswith("/"), "no facet lets a line become optional"


def test_a_line_that_becomes_several_is_optional_as_a_whole() -> None:
    def edits(*texts: str) -> Edits:
        return lambda program: [replace(at(program, "/Y50"), *texts)]

    (breach,) = found(edits("/F600", "Y50"))

    assert "whether lines are optional" in breach.what
    assert found(edits("/F600", "/Y50")) == []


@pytest.mark.parametrize(
    ("old", "new", "kept"),
    [("M0", "/M0", Facet.STOPS), ("G0 X10 Y10", "G0 G64 X10 Y10", Facet.CORNERS)],
)
def test_stops_and_corners_stay_unless_declared(old: str, new: str, kept: Facet) -> None:
    def edits(program: Program) -> Iterable[Edit]:
        return [replace(at(program, old), new)]

    assert found(edits, EVERYTHING - {kept})
    assert found(edits) == []


@pytest.mark.parametrize("rest", ["", "X1\n" * 300], ids=["few", "many"])
@pytest.mark.parametrize(
    ("old", "new"),
    [("Z5", "Z50"), ("X10 F900", "X-10 F900"), ("Z5", "G90 Z5"), ("X10 F900", "F900")],
)
def test_increments_from_an_unknown_place_stay(old: str, new: str, rest: str) -> None:
    """Where they lead is not known on either side; by how much is."""
    source = f"G21 G17 G94\nG91\nG0 Z5\n{rest}G1 Z-7 F300\nX10 F900\nG0 Z7\nM30\n"
    first = Program.read(source.encode())
    line = next(line for line in first if old in line.text)
    second = first.edited([replace(line.index, line.text.replace(old, new))], CAUSE)
    fine = first.edited([replace(line.index, line.text.replace(" ", "  "))], CAUSE)
    contract = Contract(frozenset({Facet.SPELLING, Facet.COMMENTS}))

    assert prove_run(first, [second], contract, False, Dialect({})).breach is not None
    assert prove_run(first, [fine], contract, False, Dialect({})).breach is None
