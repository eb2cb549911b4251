"""Runs in bulk against single lines, where one of the two finds something to say; small things.

A long text is read in bulk; the same lines with a stop behind each are taken one by one.
"""

from __future__ import annotations

import numpy as np
import pytest

from headrace import EventKind, Program, State, Trace, number_text
from headrace.language import Dialect, interpret

FILLER = "".join(f"(comb {at})\n" for at in range(500))
"""Makes a text long enough for reading in bulk."""


def traced(text: str, dialect: Dialect | None = None, start: State | None = None) -> Trace:
    program = Program.read((text + FILLER).encode())
    return interpret(program, dialect or Dialect(), start or State.at_zero())


def findings(trace: Trace) -> list[tuple[str, int | None]]:
    return [(f.name, f.place.line if f.place else None) for f in trace.findings]


def rows(word: str, count: int) -> str:
    return "".join(f"{word}X{at}.5 Y{at}\n" for at in range(count))


def test_cuts_without_feed_in_bulk_are_told_line_by_line() -> None:
    """RS274/NGC 3.5.2: a feed move needs a feed."""
    trace = traced("G21 G90\nG1 X0 Y0\n" + rows("", 40))

    assert findings(trace)[:3] == [("feed-missing", 2), ("feed-missing", 3), ("feed-missing", 4)]
    assert trace.findings[-1].name == "more-findings"
    assert "36 more of `feed-missing`" in trace.findings[-1].what
    assert len(trace) == 0
    late = traced("G21 G90\nG1 X0 Y0\nX1\nX2\n" + rows("F100 ", 40))
    assert findings(late) == [("feed-missing", 2), ("feed-missing", 3), ("feed-missing", 4)]
    assert len(late) == 40


def test_rapids_without_feed_in_bulk_are_fine() -> None:
    trace = traced("G21 G90\nG0 X0 Y0\n" + rows("", 40))

    assert findings(trace) == []
    assert len(trace) == 41
    assert np.isnan(trace.feed).all()


def test_moves_in_bulk_before_any_motion_word() -> None:
    start = State.at_zero()
    start.motion = None
    trace = traced("G21 G90\n" + rows("", 40), start=start)

    assert findings(trace)[0] == ("axis-words-unused", 2)
    assert len(trace) == 0


def test_moves_in_bulk_under_a_cycle_are_holes() -> None:
    """RS274/NGC 3.5.16: in a cycle, axis words alone repeat it."""
    trace = traced("G21 G90 F100\nG81 X0 Y0 Z-2 R1\n" + rows("", 40))

    assert findings(trace) == []
    assert (trace.ends(2) == -2).sum() == 41


@pytest.mark.parametrize("letter", "IJKR")
def test_arc_words_without_an_arc_are_told_in_bulk_too(letter: str) -> None:
    lines = rows("", 40).replace("X20.5 Y20\n", f"X20.5 Y20 {letter}1\n")
    trace = traced(f"G21 G90 F100\nG1 X0 Y0\n{lines}")

    assert findings(trace) == [("word-unused", 23)]
    assert letter in trace.findings[0].what
    assert len(trace) == 41


def test_faulty_arcs_in_bulk_are_told_at_their_lines() -> None:
    good = "".join(f"G2 X{2 * at + 2} Y0 I1 J0\n" for at in range(40))
    trace = traced("G21 G90 F100\nG0 X0 Y0\n" + good.replace("X42 Y0 I1", "X42 Y0 I1.5"))

    assert findings(trace) == [("arc-radius-mismatch", 23)]


def test_rotary_axes_in_inches_are_not_scaled_in_bulk() -> None:
    """RS274/NGC 2.1.2.1: angles are in degrees whatever the units of length."""
    lines = "".join(f"X{at} A{at}\n" for at in range(40))
    trace = traced(f"G20 G90 F100\nG1 X0 A0\n{lines}")

    assert trace.ends(0)[-1] == pytest.approx(39 * 25.4)
    assert trace.ends(3)[-1] == 39


def test_where_moves_begin_is_where_the_last_one_ended() -> None:
    trace = traced("G21 G90\nG0 X3 Y0\n" + rows("", 40) + "M3 S9\nG0 X5\n")

    for axis in range(3):
        assert trace.starts(axis)[1:] == pytest.approx(trace.ends(axis)[:-1])
    assert trace.starts(0)[0] == 0


def test_lines_that_move_nothing_make_no_block() -> None:
    trace = traced("G21\n" + "F100\n" * 40 + "N5\n" * 40)

    assert (len(trace), trace.blocks) == (0, ())
    assert trace.end.feed == 100


def test_words_that_switch_outputs() -> None:
    """What is wired to a word is told, be it one of the standard's (M7 to M9) or not."""
    dialect = Dialect(outputs={8: "extraction", 64: "air blast"})
    trace = traced("M8\nM64\nG0 X1\nM9\nM7\n", dialect)

    found = [(e.line, e.kind, e.value) for e in trace.events]
    assert found == [
        (0, EventKind.OUTPUT, "extraction"),
        (0, EventKind.COOLANT, (False, True)),
        (1, EventKind.OUTPUT, "air blast"),
        (3, EventKind.COOLANT, (False, False)),
        (4, EventKind.COOLANT, (True, False)),
    ]
    assert trace.blocks[0].setting.outputs == ((8, True), (64, True))


@pytest.mark.parametrize(
    ("line", "name"),
    [
        ("G83 X0 Y0 Z-10 R1 Q0.0001", "cycle-peck"),
        ("G81 X0 Y0 Z-10 R1 L0", "cycle-repeats"),
        ("G81 X0 Y0 Z2 R1", "cycle-r-below-depth"),
        ("G53 G2 X1 Y1 I1", "g53-no-straight"),
        ("G91 G53 G0 X1", "g53-incremental"),
        ("G53 G0", "no-axis-g53"),
        ("G92", "no-axis-g92"),
        ("G10 L3 P1 X0", "g10-l"),
        ("G10 L2 X0", "g10-p"),
        ("G10 L2 P10 X0", "g10-p"),
        ("G4", "dwell-missing"),
        ("G38.2 A5", "probe-no-axis"),
        ("G38.2 Z-0.2", "probe-too-close"),
        ("M3 G38.2 Z-5", "probe-spindle-on"),
        ("G41 X1", "compensation"),
        ("G43 H1", "length-table"),
        ("M6 T1.5", "integer-expected"),
        ("M3 M7 M48 M0 M6", "too-many-m"),
        ("#5221=1", "parameter-reserved"),
    ],
)
def test_rules_of_single_lines(line: str, name: str) -> None:
    """RS274/NGC 3.5.4 (G4), 3.5.5 (G10), 3.5.9 (G38.2), 3.5.10, 3.5.11, 3.5.12 (G53), 3.5.16
    (cycles), 3.5.18 (G92), 3.3.5 (four M words)."""
    trace = interpret(Program.read(f"G21 G90 F100\n{line}\n".encode()), start=State.at_zero())

    assert (name, 2) in findings(trace)


def test_where_a_probe_ends_is_known_to_the_controller_alone() -> None:
    """RS274/NGC 3.5.9.1: the axes stop where the probe trips; rotary axes may not turn."""
    trace = interpret(Program.read(b"G21 G90 F100\nG38.2 Z-5 A0\n"), start=State.at_zero())

    assert trace.findings == ()
    assert np.isnan(trace.end.position[2])
    assert trace.end.position[:2] == [0, 0]
    assert trace.end.position[3] == 0


def test_a_cycle_from_where_the_tool_is() -> None:
    """RS274/NGC 3.5.16.1: down, up; the way to the hole is a move even where it is none long."""
    text = b"G21 G90 F100\nG0 X1 Y1 Z1\nG81 X1 Y1 Z1 R1\nG81 X2 Y1 Z0 R1\n"
    trace = interpret(Program.read(text), start=State.at_zero())

    assert trace.findings == ()
    assert trace.line.tolist() == [1, 2, 3, 3, 3]
    assert trace.ends(2).tolist() == [1, 1, 1, 0, 1]


def test_numbers_without_decimals() -> None:
    assert number_text(17999.5, 0) == "18000"
    assert number_text(-0.4, 0) == "0"
    assert number_text(0.5, 0) == "0", "half to even (IEEE 754)"
