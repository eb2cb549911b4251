"""The last word on a prepared job."""

from __future__ import annotations

from pathlib import Path

import pytest

from headrace.plugins.registry import load_registry
from headrace.recipe import load_plan
from headrace.run import Outcome, prepare_job

RECIPES = Path(__file__).parents[2] / "recipes"

HEAD = "G21 G90 G17\nT1 M6\nM3 S18000\nG0 Z5\nG0 X10 Y10\nG1 Z-2 F600\nX40 F1200\nG0 Z5\n"
CUT = "G0 X60 Y20\nG1 Z-2 F600\nX90\nG0 Z5\n"
END = "M5\nM30\n"


def prepared(text: str, recipe: str = "speed-floor-boards.yaml", *overrides: str) -> Outcome:
    registry = load_registry()
    plan = load_plan(RECIPES / recipe, registry, overrides)
    return prepare_job("job.nc", text.encode(), plan, registry)


def names(outcome: Outcome) -> list[str]:
    return [finding.name for finding in outcome.findings]


def test_second_tool_may_not_cut_with_the_zero_of_the_first() -> None:
    outcome = prepared(HEAD + "T2 M6\nM3 S18000\n" + CUT + END)

    assert outcome.refused
    assert names(outcome) == ["tool-without-zero"]
    place = outcome.findings[0].place
    assert place is not None
    assert (place.file, place.line, place.excerpt) == ("job.nc", 9, "T2 M6")


@pytest.mark.parametrize(
    "middle",
    ["", "T2 M6\n", "G92 Z0\n", "T2 M6\nG0 Z5\nG92 Z5\nM3 S18000\n" + CUT],
    ids=["one tool", "no cut behind the change", "no change", "a new zero"],
)
def test_first_tool_and_tools_with_a_zero_of_their_own_are_fine(middle: str) -> None:
    outcome = prepared(HEAD + middle + END)

    assert not outcome.refused, outcome.findings


@pytest.mark.parametrize("axes", ["X0 Y0", "X1"])
def test_zero_of_another_axis_is_not_enough(axes: str) -> None:
    outcome = prepared(HEAD + f"T2 M6\nG92 {axes}\nM3 S18000\n" + CUT + END)

    assert "tool-without-zero" in names(outcome)


def test_assumed_unit_must_be_stated_in_the_result() -> None:
    """Without safe-start nothing would tell the machine, which powers up in mm, of the inches."""
    text = HEAD.replace("G21 ", "") + END
    inch = ("assume.units=inch",)

    stated = prepared(text, "relay-frames.yaml", *inch)
    silent = prepared(text, "clean-text.yaml", *inch)
    same = prepared(text, "clean-text.yaml", "assume.units=mm")

    assert not stated.refused, stated.findings
    assert names(silent) == ["units-not-stated"]
    assert not same.refused


def test_findings_stand_at_the_lines_of_the_job() -> None:
    """Thirty lines come in front of the job's own, and the operator looks into the job."""
    text = "(lid)\nG21 G90 G17 G94\nM3 S18000\nG0 Z5\nG1 F600\nG1 X10 P3\nG0 Z5\nM30\n"

    outcome = prepared(text)

    assert [(f.name, f.place.line if f.place else 0) for f in outcome.findings] == [
        ("no-axis-for-motion", 5),
        ("word-unused", 6),
    ]


def test_what_a_step_mends_is_not_told() -> None:
    text = HEAD.replace("G21", "(a (b) c)\nG21") + END

    assert names(prepared(text)) == []
    assert names(prepared(text, "clean-text.yaml")) == []


def test_what_no_step_mends_is_told() -> None:
    outcome = prepared(HEAD)

    assert not outcome.refused
    assert names(outcome) == ["no-end"]
