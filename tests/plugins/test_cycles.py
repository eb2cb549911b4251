"""Drilling cycles as moves: RS274/NGC 3.5.16, its examples, and the reference interpreter."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from plugins.alike import (
    NUMBERS_REFUSED,
    require_alike,
    require_known,
    sound,
    standard_job,
)
from plugins.shop import job, refused, text, through
from reference.programs import programs

from headrace import Job, JobRefused
from headrace_transforms.cycles_to_moves import needs_cycles_written

ALL: tuple[str, dict[str, Any]] = ("cycles-to-moves", {"which": "all"})
START = ["G21 G90 G17 F100", "M3 S900"]


def written(*lines: str, fields: dict[str, object] | None = None) -> list[str]:
    """What becomes of some lines, those before and behind them left out."""
    source = standard_job([*START, *lines, "G80", "M30"], **(fields or {}))
    assert sound(source)
    done = through(source, ALL)
    require_alike(source, done)
    return text(done)[len(START) : -2]


def test_the_first_example_of_the_standard() -> None:
    """3.5.16.2, example 1: from (1, 2, 3) to (4, 5, 3), (4, 5, 2.8), at feed to (4, 5, 1.5), and
    back to the old Z, 3."""
    found = written("G0 X1 Y2 Z3", "G90 G81 G98 X4 Y5 Z1.5 R2.8")
    assert found[1:] == ["G90 G0 X4 Y5 G98", "G0 Z2.8", "G1 Z1.5", "G0 Z3"]
    assert written("G0 X1 Y2 Z3", "G90 G81 G99 X4 Y5 Z1.5 R2.8")[-1] == "G0 Z2.8"


def test_the_second_example_of_the_standard() -> None:
    """3.5.16.2, example 2: R at 4.8, the bottom at 4.2, holes at (5, 7), (9, 12), (13, 17)."""
    found = written("G0 X1 Y2 Z3", "G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3")
    assert found[1] == "G91 G0 Z1.8 G98"
    assert found[2:] == ["G0 X4 Y5", "G1 Z-0.6", "G0 Z0.6"] * 3


def test_a_return_that_controllers_take_differently_is_refused() -> None:
    """3.5.20 has G98 return to where the bit was before the cycle; common practice is: before the
    first hole of the series. Behind G99 these are two heights."""
    lines = ["G0 X0 Y0 Z10", "G99 G81 X1 Y1 Z-3 R2", "X2"]
    for last in ("G98 X3", "X2\nG98 G82 X3 Z-3 R2 P1", "X2\nG98 X3 R3"):
        source = standard_job([*START, *lines, last, "G80", "M30"])
        told = refused(source, ALL)
        assert told.name == "cycle-unwritable"
        assert "G0 Z10" in told.remedy
    for last in ("X3", "G80\nG98 G81 X3 Z-3 R2", "G0 Z10\nG98 G81 X3 Z-3 R2", "G98 X3 R10"):
        through(standard_job([*START, *lines, last, "G80", "M30"]), ALL)
    low = ["G0 X0 Y0 Z1", "G99 G81 X1 Y1 Z-3 R2", "G98 X2", "X3", "G80", "M30"]
    through(standard_job([*START, *low]), ALL)


def test_holes_of_the_sample_program() -> None:
    """Appendix C.3, n0040 and following: sticky numbers, repeats, and pecks of 0.21."""
    lines = ["G20", "G0 X0 Y0 Z0", "G81 X3 Y4 R0.2 Z-1.1", "X1 Y0 R0 G91 L3", "Y-2 R0.1"]
    source = standard_job([*START, *lines, "G80", "M30"])
    done = through(source, ALL)
    require_alike(source, done)
    trace = done.trace
    bottoms = trace.kind == 1
    places = np.column_stack([trace.ends(axis)[bottoms] for axis in range(3)]) / 25.4
    expected = [(3, 4, -1.1), (4, 4, -0.9), (5, 4, -0.9), (6, 4, -0.9), (6, 2, -0.8)]
    np.testing.assert_allclose(places, expected, atol=1e-9)
    pecks = written("G20", "G0 X0 Y0 Z0.5", "G83 G90 X5 Y6 R0.2 Z-1.1 Q0.21")
    depths = [line for line in pecks if line.startswith("G1")]
    assert depths == [f"G1 Z{z}" for z in (-0.01, -0.22, -0.43, -0.64, -0.85, -1.06, -1.1)]


def test_the_head_rises_to_r_first() -> None:
    """3.5.16.1: a tool below R is first taken up to it."""
    assert written("G0 X0 Y0 Z1", "G81 X4 Z-2 R2")[1:] == [
        "G0 Z2", "G0 X4", "G1 Z-2", "G0 Z2",
    ]  # fmt: skip


def test_dwells_and_spindle_words() -> None:
    """3.5.16.3 to 3.5.16.10, one by one."""
    hole = ["G0 X1", "G0 Z2", "G1 Z-3"]
    start = "G0 X0 Y0 Z5"
    assert written(start, "G82 X1 Z-3 R2 P.5")[1:] == [*hole, "G4 P0.5", "G0 Z5"]
    assert written(start, "G84 X1 Z-3 R2")[1:] == [*hole, "M5", "M4", "G1 Z5", "M5", "M3"]
    assert written(start, "G85 X1 Z-3 R2")[1:] == [*hole, "G1 Z5"]
    assert written(start, "G86 X1 Z-3 R2 P1")[1:] == [*hole, "G4 P1", "M5", "G0 Z5", "M3"]
    assert written(start, "G89 X1 Z-3 R2 P1")[1:] == [*hole, "G4 P1", "G1 Z5"]
    backwards = written("M4", start, "G86 X1 Z-3 R2 P1")
    assert backwards[-1] == "M4"


def test_the_operator_takes_the_tool_out() -> None:
    """3.5.16.9: spindle stop, program stop; where the tool is then, no file can know."""
    source = standard_job([*START, "G0 X0 Y0 Z5", "G88 X1 Z-3 R2 P1", "G80", "M30"])
    assert text(through(source, ALL))[3:-2] == [
        "G0 X1", "G0 Z2", "G1 Z-3", "G4 P1", "M5", "M0", "M3",
    ]  # fmt: skip


def test_all_else_on_a_line_stays() -> None:
    assert written("G0 X0 Y0 Z5", "N20  G81X4 (PIN) Z-2 R2 F90 M8 ; deep")[1] == (
        "N20  G0 X4 (PIN) F90 M8 ; deep"
    )
    assert written("G0 X0 Y0 Z5", "g81 x4 z-2 r2", "/X8 (SPARE)")[5:] == [
        "/G0 X8 (SPARE)", "/G0 Z2", "/G1 Z-2", "/G0 Z5",
    ]  # fmt: skip


def test_a_stop_comes_behind_the_hole() -> None:
    """Table 8: the stop of a line is the last of all."""
    found = written("G0 X0 Y0 Z5", "N7 G81 X4 Z-2 R2 M8 M0 (LOOK)")
    assert found[1:] == ["N7 M8 G0 X4", "G0 Z2", "G1 Z-2", "G0 Z5", "M0 (LOOK)"]
    assert written("G0 X0 Y0 Z5", "G81 X1 Z-2 R2", "G4 P2 X4")[5:] == [
        "G4 P2", "G0 X4", "G0 Z2", "G1 Z-2", "G0 Z5",
    ]  # fmt: skip


def test_other_planes() -> None:
    """3.5.16: in the XZ plane the depth is Y."""
    found = written("G18", "G0 X0 Y5 Z0", "G81 X1 Z4 Y-3 R2")
    assert found[2:] == ["G0 X1 Z4", "G0 Y2", "G1 Y-3", "G0 Y5"]


def lacking(cycles: list[str], *lines: str, **fields: object) -> Job:
    return standard_job([*START, *lines, "M30"], cycles=cycles, **fields)


def test_only_what_the_machine_lacks_is_written() -> None:
    lines = ["G0 X0 Y0 Z5", "G81 X1 Z-3 R2", "X2", "G83 X3 Z-3 R2 Q9", "X4", "G81 X5 Z-3 R2", "G80"]
    source = lacking(["G81"], *lines)
    assert needs_cycles_written(source) == {}
    done = through(source, "cycles-to-moves")
    require_alike(source, done)
    hole = ["G0 Z2", "G1 Z-3", "G0 Z5"]
    expected = [*lines[:3], "G0 X3", *hole, "G0 X4", *hole, *lines[5:]]
    assert text(done)[2:-1] == expected
    all_there = lacking(["G81", "G83"], *lines)
    assert needs_cycles_written(all_there) is None
    assert through(all_there, "cycles-to-moves").program is all_there.program


def test_a_machine_without_cycles_is_not_told_to_end_one() -> None:
    lines = ["G17 G40 G80 (SAFE)", "G98", "G0 X0 Y0 Z5", "G99 G81 X1 Z-3 R2", "N8 G80", "G80"]
    done = through(lacking([], *lines), "cycles-to-moves")
    assert text(done)[2:-1] == [
        "G17 G40 (SAFE)", "G0 X0 Y0 Z5", "G0 X1", "G0 Z2", "G1 Z-3", "G0 Z2", "N8",
    ]  # fmt: skip
    named = through(lacking([], *lines, modes=["G40", "G80"]), "cycles-to-moves")
    assert "G17 G40 G80 (SAFE)" in text(named)
    assert needs_cycles_written(lacking([], "G80", "G0 X1")) == {}
    assert needs_cycles_written(lacking([], "G0 X1")) is None


def test_what_moves_cannot_say_is_refused() -> None:
    """3.5.16.8: a back bore goes beside its axis with the spindle held; 3.5.16.5: a tap needs the
    spindle to turn the other way."""
    start = [*START, "G0 X0 Y0 Z5"]
    back = [*start, "G87 X1 Z-3 R2 I1 J0 K-2", "M30"]
    assert refused(standard_job(back), ALL).name == "cycle-unwritable"
    tap = standard_job([*start, "G84 X1 Z-3 R2", "M30"], **{"spindle/reverse": False})
    assert refused(tap, ALL).name == "spindle-reverse"
    slashed = [*start, "/G81 X1 Z-3 R2", "X2", "M30"]
    assert refused(standard_job(slashed), ALL).name == "switch-decides"
    told = refused(standard_job([*start, "G[81] X1 Z-3 R2", "M30"]), ALL)
    assert (told.name, told.place.line) == ("cycle-unwritable", 4)


def test_places_that_nobody_knows_are_refused() -> None:
    """In increments from an unknown place there is no number; in absolute ones there is."""
    lines = "G21 G90 G17 F100\nG0 Z5\nG81 X1 Z-3 R2\nG80\nM30\n"
    assert text(through(job(lines, "speed"), ALL))[2:-2] == ["G0 X1", "G0 Z2", "G1 Z-3", "G0 Z5"]
    # 3.5.16.1: a tool below R rises first, so that its height decides where it goes
    low = "G21 G90 G17 F100\nG99 G81 X1 Z-3 R2\nG80\nM30\n"
    assert refused(job(low, "speed"), ALL).name == "numbers-unknown"
    probed = "G21 G90 G17 F100\nG0 Z5\nG38.2 Z-9\nG99 G81 X1 Z-3 R2\nG80\nM30\n"
    assert refused(job(probed, "speed"), ALL).name == "numbers-unknown"
    strayed = "G21 G90 G17 F100\nG0 Z5\nG91\nG81 X1 Z-3 R-3\nG80\nM30\n"
    assert refused(job(strayed, "speed"), ALL).name == "numbers-unknown"


@given(programs("all", longest=40))
@settings(max_examples=60, deadline=None)
def test_generated_programs_do_the_same(lines: list[str]) -> None:
    """Every cycle but G87 and G88, in all planes, units and distances, sticky and repeated."""
    source = standard_job(lines, cycles=[])
    if not sound(source) or any(
        finding.name == "probe-repeat" for finding in source.trace.findings
    ):
        return
    try:
        plain = standard_job(text(through(source, "plain-numbers")), cycles=[])
        done = through(plain, "cycles-to-moves")
    except JobRefused as error:
        require_known(error, "cycle-unwritable", "numbers-unknown", *NUMBERS_REFUSED)
        return
    require_alike(plain, done)
    bare = re.sub(rb"\([^()\n]*\)|;[^\n]*", b"", done.program.to_bytes()[: _end(done)])
    assert not re.search(rb"(?i)G[ \t]*8[\d \t]|G[ \t]*9[ \t]*[89]", bare)


def _end(job: Job) -> int:
    """The bytes up to the program's end."""
    return sum(len(line.raw) for line in job.program if line.index <= job.landmarks.end)


@pytest.mark.parametrize("mode", ["absolute", "increments"])
def test_twenty_thousand_holes(mode: str) -> None:
    """Places come out as NumPy adds them up."""
    rng = np.random.default_rng(3)
    steps = rng.integers(-9999, 9999, (20_000, 2)) / 1000
    places = np.cumsum(steps, axis=0)
    rows = steps if mode == "increments" else places
    holes = [f"X{x:.3f} Y{y:.3f}" for x, y in rows.tolist()]
    word = "G91 G81 R-3 Z-5.5 L1 " if mode == "increments" else "G83 R2 Z-3.5 Q2 "
    lines = [*START, "G0 X0 Y0 Z5", word + holes[0], *holes[1:], "G80 G90", "M30"]
    source = standard_job(lines)
    done = through(source, ALL)
    trace = done.trace
    cuts = trace.kind == 1
    bottoms = cuts & (trace.ends(2) < -3.4)
    found = np.column_stack([trace.ends(axis)[bottoms] for axis in (0, 1)])
    np.testing.assert_allclose(found, places, atol=1e-6)
