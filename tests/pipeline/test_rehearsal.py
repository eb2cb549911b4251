"""The last word on a prepared job."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from headrace.findings import Severity
from headrace.outcome import Outcome
from headrace.plugins.registry import load_registry
from headrace.recipe import load_plan
from headrace.run import prepare_job

RECIPES = Path(__file__).parents[2] / "recipes"

HEAD = "G21 G90 G17\nM3 S18000\nG0 Z5\nG0 X2 Y3\nG1 Z-2 F60\nX4 F120\nG0 Z5\n"
CUT = "G0 X6 Y4\nG1 Z-2 F60\nX9\nG0 Z5\n"
END = "M5\nM30\n"


def prepared(text: str, recipe: str = "speed-floor-boards.yaml", *overrides: str) -> Outcome:
    registry = load_registry()
    plan = load_plan(RECIPES / recipe, registry, overrides)
    # what the machine lacks is to be found, not mended
    plan = replace(plan, steps=tuple(step for step in plan.steps if step.name != "adapt"))
    return prepare_job("job.nc", text.encode(), plan, registry)


def names(outcome: Outcome, notes: bool = True) -> list[str]:
    told = outcome.findings
    return [finding.name for finding in told if notes or finding.severity is not Severity.NOTE]


def test_second_tool_may_not_cut_with_the_zero_of_the_first() -> None:
    outcome = prepared(HEAD + "T2 M6\nM3 S18000\n" + CUT + END)

    assert outcome.refused
    assert names(outcome) == ["tool-without-zero"]
    place = outcome.findings[0].place
    assert place is not None
    assert (place.file, place.line, place.excerpt) == ("job.nc", 8, "T2 M6")


@pytest.mark.parametrize(
    "middle",
    ["", "T2 M6\n", "G92 Z5\n", "T2 M6\nM0\nG0 Z5\nG92 Z5\nM3 S18000\n" + CUT],
    ids=["one tool", "no cut behind the change", "no change", "a new zero"],
)
def test_first_tool_and_tools_with_a_zero_of_their_own_are_fine(middle: str) -> None:
    outcome = prepared(HEAD + middle + END)

    assert not outcome.refused, outcome.findings
    assert set(names(outcome)) <= {"job-moves-zero", "tool-behind-touch"}


@pytest.mark.parametrize("axes", ["X0 Y0", "X1"])
def test_zero_of_another_axis_is_not_enough(axes: str) -> None:
    outcome = prepared(HEAD + f"T2 M6\nG92 {axes}\nM3 S18000\n" + CUT + END)

    assert "tool-without-zero" in names(outcome)


def test_assumed_unit_must_be_stated_in_the_result() -> None:
    """Without safe-start nothing would tell the machine, which powers up in mm, of the inches."""
    text = HEAD.replace("G21 ", "").replace("Z5", "Z0.2").replace("Z-2", "Z-0.1") + END
    inch = ("assume.units=inch",)

    stated = prepared(text, "relay-frames.yaml", *inch)
    silent = prepared(text, "clean-text.yaml", "machine.spindle.run-up=0", *inch)
    same = prepared(text, "clean-text.yaml", "machine.spindle.run-up=0", "assume.units=mm")

    assert not stated.refused, stated.findings
    assert names(silent, notes=False) == ["units-not-stated"]
    assert not same.refused


def test_findings_stand_at_the_lines_of_the_job() -> None:
    """Thirty lines come in front of the job's own, and the operator looks into the job."""
    text = "(lid)\nG21 G90 G17 G94\nM3 S18000\nG1 Z-1 F60\nG1 F600\nG1 X10 P3\nG0 Z5\nM30\n"

    outcome = prepared(text)

    assert [(f.name, f.place.line if f.place else 0) for f in outcome.findings] == [
        ("no-axis-for-motion", 5),
        ("word-unused", 6),
    ]


def test_what_a_step_mends_is_not_told() -> None:
    text = HEAD.replace("G21", "(a (b) c)\nG21") + END

    assert names(prepared(text)) == []
    cleaned = prepared(text, "clean-text.yaml", "machine.spindle.run-up=0")
    assert names(cleaned, notes=False) == []


def test_what_no_step_mends_is_told() -> None:
    outcome = prepared(HEAD)

    assert not outcome.refused
    assert names(outcome) == ["no-end"]


def test_first_tool_behind_the_touch_is_told() -> None:
    outcome = prepared("G21 G90 G17\nT1 M6\n" + HEAD + END)

    assert not outcome.refused
    assert names(outcome) == ["tool-behind-touch"]


@pytest.mark.parametrize(
    "recipe", ["bench-lids.yaml", "relay-frames.yaml", "speed-floor-boards.yaml"]
)
@pytest.mark.parametrize(
    ("line", "name"),
    [
        ("G0 X2600", "target-outside"),
        ("G0 Y-900", "target-outside"),
        ("G0 Z200", "target-outside"),
        ("G1 Z-140", "target-outside"),
        ("G1 Z-22", "below-sheet"),
        ("G2 X4 Y3 I2000 J0", "target-outside"),
    ],
)
def test_job_stays_inside_the_machine(recipe: str, line: str, name: str) -> None:
    outcome = prepared(HEAD + line + "\n" + END, recipe)

    found = next((f for f in outcome.findings if f.name == name), None)
    assert found is not None, outcome.findings
    assert found.place is not None
    assert found.place.line == 8
    assert found.place.excerpt.endswith(line)
    assert outcome.refused is (name == "target-outside")


def test_headroom_is_that_of_the_thickest_sheet_and_the_longest_bit() -> None:
    """Own arithmetic on the bench: bed 108, bit sticking out 28 to 32, sheet 17.6 to 18.1. The tip
    rises 108 - 32 - 18.1 = 57.9 above the sheet at least; at most it can go 85 below its top, so
    85 - (108 - 28 - 17.6) = 22.6 below the sheet's top."""
    for height, fine in ((57.9, True), (58.0, False), (-22.6, True), (-22.7, False)):
        outcome = prepared(HEAD + f"G1 Z{height}\n" + END, "bench-lids.yaml")

        assert outcome.refused is not fine, height


@pytest.mark.parametrize(
    ("lines", "struck"),
    [
        ("G0 X-10 Y250\nG1 Z5", True),
        ("G0 Z8.5\nG0 X-10 Y250", False),
        ("G0 X-19 Y100\nG0 Y400", True),
        ("G0 X22.9 Y100\nG0 Y400", True),
        ("G0 X23.1 Y100\nG0 Y400", False),
        ("G0 Z30\nG0 X-10 Y200\nG0 Z3 Y300", False),
        ("G0 Z30\nG0 X-10 Y200\nG0 Z-1 Y260", True),
    ],
)
def test_clamps_are_kept_clear(lines: str, struck: bool) -> None:
    """The left clamp of the lids covers X-20 to 20, Y230 to 270, 8 high; the bit is 6 wide."""
    outcome = prepared(HEAD + lines + "\n" + END, "bench-lids.yaml")

    assert ("clamp-struck" in names(outcome)) is struck, outcome.findings
    assert not struck or outcome.refused


def test_work_offset_without_a_zero_is_not_cut_in() -> None:
    outcome = prepared(HEAD + "G55\n" + CUT + END)

    assert outcome.refused
    assert names(outcome) == ["zero-unknown"]


@pytest.mark.parametrize("line", ["G92 X0 Y0", "G92.1", "G10 L2 P1 X5"])
def test_job_that_moves_its_zero_is_told(line: str) -> None:
    outcome = prepared(HEAD + line + "\n" + END)

    assert "job-moves-zero" in names(outcome)


def test_job_may_not_home_and_go_on_where_homing_takes_the_zero() -> None:
    outcome = prepared(HEAD + "G28 Z0\n" + CUT + END, "bench-lids.yaml")

    assert outcome.refused
    assert "job-loses-zero" in names(outcome)


def test_line_longer_than_the_machine_reads_is_refused() -> None:
    long = "G0 " + " " * 90 + "X3"

    outcome = prepared(HEAD + long + "\n" + END, "bench-lids.yaml")

    assert outcome.refused
    assert names(outcome) == ["line-over-length"]
    assert outcome.findings[0].what == "a line of 95 characters, and the machine reads 80"


def test_byte_order_mark_goes_or_is_refused() -> None:
    text = "\ufeff" + HEAD + END

    stripped = prepared(text, "bench-lids.yaml")
    kept = prepared(
        text,
        "bench-setup-cards.yaml",
    )

    assert stripped.result is not None, stripped.findings
    assert b"\xef\xbb\xbf" not in stripped.result.to_bytes()
    assert kept.result is None or b"\xef\xbb\xbf" not in kept.result.to_bytes()


def test_lift_in_machine_coordinates_is_kept() -> None:
    job = "G21 G90 G17\nM3 S18000\nG53 G0 Z-5\nG0 X20 Y30\nG0 Z5\nG1 Z-2 F600\nX40 F1200\n"

    for recipe in ("relay-frames.yaml", "speed-floor-boards.yaml"):
        outcome = prepared(job + "G53 G0 Z-5\n" + END, recipe)
        assert outcome.result is not None, outcome.findings
        assert outcome.result.to_bytes().count(b"G53 G0 Z-5") >= 2


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("G53 G0 Z-5", "machine coordinates"),
        ("G55", "work offset G55"),
        ("G1 A20", "axis A"),
        ("G1 X[3+1]", "expressions"),
        ("#5=3", "expressions"),
    ],
)
def test_word_that_the_machine_lacks_is_refused(line: str, what: str) -> None:
    outcome = prepared(HEAD + line + "\n" + END, "bench-setup-cards.yaml")

    assert outcome.refused
    found = next(f for f in outcome.findings if f.name == "word-unknown-here")
    assert what in found.what


@pytest.mark.parametrize(
    ("recipe", "dwell", "told"),
    [
        ("bench-lids.yaml", "G4 P2", True),
        ("bench-lids.yaml", "G4 P2000", False),
        ("relay-frames.yaml", "G4 P2", False),
        ("relay-frames.yaml", "G4 P2000", True),
    ],
)
def test_dwell_in_another_unit_is_told(recipe: str, dwell: str, told: bool) -> None:
    """The bench counts milliseconds, the others seconds: common practice knows both."""
    outcome = prepared(HEAD + dwell + "\n" + END, recipe)

    assert ("dwell-implausible" in names(outcome)) is told
    assert not outcome.refused
