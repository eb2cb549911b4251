"""Machines with two heads, and machines on which nothing turns, as their files are rehearsed.
Places of the second head are sums on paper: number + zero of its system = place of the gantry, and
the head stands `at` beside it."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from workshop.gallery import planned

from headrace.findings import Severity
from headrace.machine import Clamp, Heights, Machine
from headrace.outcome import Outcome
from headrace.plugins.registry import load_registry
from headrace.recipe import check_recipe
from headrace.rehearsal.space.frame import Frame
from headrace.run import prepare_job
from headrace.sheet.checks import checks

from .outcomes import fires, found

RECIPES = Path(__file__).parents[3] / "recipes"
NAN = float("nan")
BORED = (
    "%\nG21 G90 G17 G40 G49 G80 G94\nT2 M6\nS12000 M3\nG54\nG0 Z12\nG0 X{x} Y55\nG0 Z1\n"
    "G1 Z-8 F300\nG0 Z12\nM5\nT1 M6\nS18000 M3\nG0 X120 Y60\nG0 Z1\nG1 Z-2 F300\n"
    "G1 X150 F1200\nG0 Z12\nM5\nM30\n%\n"
)


PLAN, REGISTRY = planned("heads-end-bars")


def bored(*values: str, x: float = 50) -> Outcome:
    plan, registry = planned("heads-end-bars", *values) if values else (PLAN, REGISTRY)
    return prepare_job("job.nc", BORED.format(x=x).encode(), plan, registry)


def as_it_is(text: str) -> Outcome:
    """A job that says for itself what the heads do, through all steps but that of the heads."""
    steps = tuple(step for step in PLAN.steps if step.name != "two-heads")
    return prepare_job("job.nc", text.encode(), replace(PLAN, steps=steps), REGISTRY)


def test_a_sound_file_has_nothing_told() -> None:
    outcome = bored()

    assert outcome.result is not None, outcome.findings
    assert outcome.findings == ()


def test_the_second_head_s_frame() -> None:
    """Gantry at X100: the second head is over 100 + 96.4, which is 16.4 from the corner at 180."""
    machine, setup = PLAN.machine, PLAN.setup
    first, second = (Frame.of(machine, setup.with_tool(n), (100, 0, 0)) for n in (1, 2))

    assert first.sheet == pytest.approx((-80, -120))
    assert second.sheet == pytest.approx((16.4, -120.3))
    assert first.collet is not None
    assert second.collet is not None
    assert first.collet.least - second.collet.least == pytest.approx(140 - 137.5)


def test_unknown_zeros_lie_where_the_second_head_is_over_the_corner() -> None:
    frame = Frame.of(PLAN.machine, PLAN.setup.with_tool(2), (NAN, NAN, NAN))

    assert frame.sheet == (0, 0)
    assert frame.machine[0] is not None
    assert frame.machine[0].least == pytest.approx(180 - 96.4)


def test_heights_go_by_the_head_s_own_bed() -> None:
    """137.5 - (30 to 34) - (9.7 to 10.1) - 15, as `Heights` draws it."""
    touch = Heights.of(PLAN.machine, PLAN.setup.with_tool(2), "a test").touch

    assert (touch.least, touch.most) == pytest.approx((78.4, 82.8))


def test_out_of_travel_with_the_second_head_alone() -> None:
    """The corner at X60: a hole at X20 has the gantry at 60 + 20 - 96.4, below 0."""
    outcome = bored("setup.sheet.corner=[60,120]", x=20)

    fires(outcome, "target-outside", Severity.REFUSE)
    assert found(bored("setup.sheet.corner=[60,120]", x=50), "target-outside") is None


def test_clamps_stand_where_the_second_head_is() -> None:
    clamp = Clamp("mid", (40, 45), (60, 65), 20)
    plan = replace(PLAN, setup=replace(PLAN.setup, clamps=(clamp,)))
    struck, beside = (
        prepare_job("job.nc", BORED.format(x=x).encode(), plan, REGISTRY) for x in (50, 90)
    )

    fires(struck, "clamp-struck", Severity.REFUSE)
    assert found(beside, "clamp-struck") is None


UP = "G53 G0 Z-2\nG4 P6\n"


def test_a_cut_in_the_first_head_s_system() -> None:
    job = f"%\nG21 G90 G17 G94\n{UP}M64\nS12000 M3\nG0 X50 Y55\nG0 Z1\nG1 Z-2 F300\nG0 Z12\nM5\n"
    outcome = as_it_is(job + "M30\n%\n")

    fires(outcome, "head-elsewhere", Severity.REFUSE)


def test_a_cut_whose_head_was_not_touched_off() -> None:
    job = f"%\nG21 G90 G17 G94\n{UP}M64\nG55\nS12000 M3\nG0 X50 Y55\nG0 Z1\nG1 Z-2 F300\nG0 Z12\n"
    outcome = as_it_is(job + "M5\nM30\n%\n")

    fires(outcome, "tool-without-zero", Severity.REFUSE)


def test_heads_change_while_the_spindle_turns() -> None:
    job = "%\nG21 G90 G17 G94\nS12000 M3\nG0 Z12\nG0 X50 Y55\nG0 Z1\nG1 Z-2 F300\nG0 Z12\nM64\n"
    outcome = as_it_is(job + "M5\nM30\n%\n")

    finding = fires(outcome, "hand-before-standstill", Severity.REFUSE)
    assert finding.what.startswith("the heads change places while the spindle turns")


@pytest.mark.parametrize("height", [-2, 1, 12])
def test_heads_change_before_z_is_up(height: float) -> None:
    job = "%\nG21 G90 G17 G94\nS12000 M3\nG0 Z12\nG0 X50 Y55\nG0 Z1\nG1 Z-2 F300\n"
    outcome = as_it_is(f"{job}G0 Z{height}\nM5\nG4 P6\nM64\nG0 Z12\nM30\n%\n")

    finding = fires(outcome, "heads-unlifted", Severity.REFUSE)
    assert "at an unknown height" in finding.what  # behind a touch only G53 tells


@pytest.mark.parametrize(("order", "fine"), [("home first-head", True), ("first-head home", False)])
def test_the_first_word_for_a_head_comes_once_z_is_up(order: str, fine: bool) -> None:
    """Which head a stop has left down, and how deep, nobody knows."""
    first = {step.name: step for step in PLAN.steps}
    rest = [step for step in PLAN.steps if step.name not in order.split()]
    steps = (*(first[name] for name in order.split()), *rest)
    outcome = prepare_job(
        "job.nc", BORED.format(x=50).encode(), replace(PLAN, steps=steps), REGISTRY
    )

    finding = found(outcome, "heads-unlifted")
    assert fine is (finding is None)
    assert fine is (outcome.result is not None)
    assert finding is None or "at an unknown height" in finding.what


def test_heads_change_not_high_enough() -> None:
    job = "%\nG21 G90 G17 G94\nS12000 M3\nG0 Z12\nG0 X50 Y55\nG0 Z1\nG1 Z-2 F300\n"
    low, high = (as_it_is(f"{job}G53 G0 Z{z}\nM5\nG4 P6\nM64\nM30\n%\n") for z in ("-30", "-2"))

    assert "30 below it" in fires(low, "heads-unlifted", Severity.REFUSE).what
    assert found(high, "heads-unlifted") is None


def test_a_job_may_end_with_the_second_head() -> None:
    """`park` lifts it, by its output: no change of the bit, for nothing is cut behind it."""
    job = BORED.format(x=50)
    ends = job[: job.index("T1 M6")] + "M30\n%\n"
    outcome = prepare_job("job.nc", ends.encode(), PLAN, REGISTRY)

    assert outcome.result is not None, outcome.findings
    lines = [line.text for line in outcome.result]
    assert lines.index("M65", lines.index("M64")) > lines.index("G1 Z-8 F300")


def test_the_bit_at_work_follows_the_outputs() -> None:
    outcome = bored()
    assert outcome.job is not None
    tools = [block.setting.tool for block in outcome.job.trace.blocks if block.cuts.any()]

    assert list(dict.fromkeys(tools)) == [2, 1]


@pytest.mark.parametrize(
    ("right", "wrong", "at"),
    [
        ("outputs-off: {M64: M65}", "outputs-off: {M8: M9}", "heads[0].down"),
        ("down: M64", "down: M62", "heads[0].down"),
        ("system: G55", "system: G57", "heads[0].system"),
    ],
)
def test_a_head_is_described_whole(right: str, wrong: str, at: str, tmp_path: Path) -> None:
    shop = shutil.copytree(RECIPES, tmp_path / "recipes")
    machine = shop / "machines" / "two-heads.yaml"
    text = machine.read_text("utf-8")
    assert right in text
    machine.write_text(text.replace(right, wrong), "utf-8")

    told = check_recipe(shop / "heads-end-bars.yaml", load_registry())

    assert [finding.name for finding in told] == ["recipe-contradiction"]
    assert at.split(".")[-1] in told[0].what


# --- nothing turns ----------------------------------------------------------------------------

DRAGGED = "G21 G90 G17 G94\n{}G0 Z6\nG0 X50 Y50\nG0 Z1\nG1 Z-3.4 F400\nG1 X90 F1200\nG0 Z6\nM2\n"


def dragged(text: str, *values: str) -> Outcome:
    plan, registry = planned("knife-seals", *values)
    steps = tuple(step for step in plan.steps if step.name != "drag-knife")
    return prepare_job("job.nc", text.encode(), replace(plan, steps=steps), registry)


def test_a_machine_without_a_spindle_cuts_at_rest() -> None:
    outcome = dragged(DRAGGED.format(""))

    assert outcome.result is not None
    assert outcome.findings == ()
    assert not [line.text for line in outcome.result if line.has("M", 3, 5)]


def test_a_word_that_starts_one_is_refused() -> None:
    fires(dragged(DRAGGED.format("S12000 M3\n")), "no-spindle", Severity.REFUSE)


def test_nothing_more_is_described_of_no_spindle() -> None:
    machine = planned("knife-seals")[0].machine

    assert isinstance(machine, Machine)
    assert machine.spindle.control == "none"
    assert (machine.spindle.run_up, machine.spindle.run_down) == (0, 0)


def test_any_other_spindle_is_described_whole(tmp_path: Path) -> None:
    shop = shutil.copytree(RECIPES, tmp_path / "recipes")
    machine = shop / "machines" / "knife-table.yaml"
    text = machine.read_text("utf-8").replace("{control: none}", "{control: relay}")
    machine.write_text(text, "utf-8")

    told = check_recipe(shop / "knife-seals.yaml", load_registry())

    assert told
    assert {finding.name for finding in told} == {"recipe-missing-key"}


# --- what the sheet tells ---------------------------------------------------------------------


def test_the_sheet_tells_which_bit_is_in_which_head() -> None:
    told = {check.topic: check for check in checks(PLAN, ())}

    assert dict(told["Heads"].values) == {
        "Tool 2": "in the head that M64 lowers, X96.4 Y-0.3 mm from the first one;"
        " it counts in G55",
        "Any other tool": "in the first head",
    }


def test_the_sheet_tells_that_nothing_turns() -> None:
    told = {check.topic: check.text for check in checks(planned("knife-seals")[0], ())}

    assert told["Spindle"].startswith("Nothing turns on this machine.")
    assert "Heads" not in told
