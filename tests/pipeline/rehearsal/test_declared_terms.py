"""What steps declare, against what is described: a wrap and the rotary axis, a bit and its head.

A proof takes a contract for true; whether it is true of the machine is told here. Degrees round a
blank: 360 / (pi * diameter) a mm (any textbook). What M6 and G10 do is RS274/NGC 3.6.3 and 3.5.5.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from workshop.gallery import planned

from headrace.batch.engines.kit import with_python_files
from headrace.findings import Severity
from headrace.outcome import Outcome
from headrace.plugins.registry import load_registry
from headrace.recipe import load_plan
from headrace.run import prepare_job

from .outcomes import fires, found
from .test_heads import UP, as_it_is

RECIPES = Path(__file__).parents[3] / "recipes"
SMALL = "G21 G90 G94 G17\nM3 S16000\nG0 X0 Y0 Z5\nG1 Z-1 F300\nG1 X10 Y5 F900\nG0 Z5\nM5\nM30\n"

WRAP = 'Wrap("Y", blank.axis.upper(), axis.sense * 360 / blank.around, counts)'
COUNTS = 'counts = "linear" if job.machine.inverse_time else needed(axis.counts, field, "wrap-y")'


def wrapped(folder: Path, *values: str, **otherwise: str) -> Outcome:
    """A small job through the gallery's step, with something in that written otherwise."""
    text = (RECIPES / "wrap_y.py").read_text("utf-8")
    for old, new in (
        (WRAP, otherwise.get("wrap", WRAP)),
        (COUNTS, otherwise.get("counts", COUNTS)),
    ):
        assert old in text
        text = text.replace(old, new)
    (folder / "wrap_y.py").write_text(text, "utf-8")
    recipe = folder / "recipe.yaml"
    recipe.write_text(
        f"format: headrace-recipe/2\nname: Wrapped\nmachine: {RECIPES}/machines/rotary-bench.yaml\n"
        f"setup: {RECIPES}/setups/dipper-40.yaml\npython: [wrap_y.py]\nsteps: [wrap-y]\n",
        "utf-8",
    )
    registry = load_registry()
    plan = load_plan(recipe, registry, values)
    return prepare_job("job.nc", SMALL.encode(), plan, with_python_files(registry, plan))


def test_a_wrap_as_it_is_described(tmp_path: Path) -> None:
    assert found(wrapped(tmp_path), "wrap-unsuited") is None


def test_a_wrap_that_turns_the_other_way(tmp_path: Path) -> None:
    other = 'Wrap("Y", "A", -axis.sense * 360 / blank.around, counts)'

    finding = fires(wrapped(tmp_path, wrap=other), "wrap-unsuited", Severity.REFUSE)
    assert "the other way" in finding.what


def test_a_wrap_for_another_diameter_is_told(tmp_path: Path) -> None:
    other = 'Wrap("Y", "A", axis.sense * 3.0, counts)'

    finding = fires(wrapped(tmp_path, wrap=other), "wrap-unsuited", Severity.WARN)
    assert "-2.86479" in finding.what  # 360 / (pi * 40)


@pytest.mark.parametrize(("counts", "good"), [("linear", True), ("all", False)])
def test_a_wrap_for_another_meaning_of_f(tmp_path: Path, counts: str, good: bool) -> None:
    made = wrapped(tmp_path, "machine.inverse-time=false", counts=f'counts = "{counts}"')

    if good:
        assert found(made, "wrap-unsuited") is None
    else:
        fires(made, "wrap-unsuited", Severity.REFUSE)


CUT = "G55\nS12000 M3\nG0 X50 Y55\nG0 Z1\nG1 Z-2 F300\nG0 Z12\nM5\nM30\n%\n"


def test_a_word_for_a_bit_lowers_no_head() -> None:
    outcome = as_it_is(f"%\nG21 G90 G17 G94\n{UP}T2 M6\nG10 L20 P2 Z20\n{CUT}")

    finding = fires(outcome, "head-elsewhere", Severity.REFUSE)
    assert "tool 2 is to cut, and the first head is down" in finding.what


def test_a_zero_that_another_head_has_found() -> None:
    """G10 L20 P2 while the first head is down: the second one's bit ends at another height."""
    outcome = as_it_is(f"%\nG21 G90 G17 G94\n{UP}G10 L20 P2 X5 Y5 Z20\nM64\n{CUT}")

    finding = fires(outcome, "tool-without-zero", Severity.REFUSE)
    assert "whose Z zero this file has not found" in finding.what


def test_nobody_tells_which_head_is_down() -> None:
    plan, registry = planned("heads-end-bars")
    steps = tuple(step for step in plan.steps if step.name not in ("first-head", "two-heads"))
    job = b"%\nG21 G90 G17 G94\nS9000 M3\nG0 X50 Y55\nG0 Z1\nG1 Z-2 F300\nG0 Z12\nM5\nM30\n%\n"
    assert len(steps) < len(plan.steps)

    outcome = prepare_job("job.nc", job, replace(plan, steps=steps), registry)
    finding = fires(outcome, "start-unknown", Severity.WARN)
    assert "M64" in finding.what
