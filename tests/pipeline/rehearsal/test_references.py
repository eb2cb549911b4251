"""What a file's numbers count from and what its words ask of the spindle: the order of homing, Z0
that is no sheet's top, touches that are given away, and speeds that there are not.

Sums are on paper from the demo's machines and set-ups; where no other source is named, what is
checked is common practice.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from pipeline.rehearsal.outcomes import fires, found

from headrace.findings import Severity
from headrace.outcome import Outcome
from headrace.plugins.registry import load_registry
from headrace.recipe import load_alone, load_plan
from headrace.run import prepare_job

RECIPES = Path(__file__).parents[3] / "recipes"
REGISTRY = load_registry()
SETUP = {
    "bench-hand-switched": "lids-18",
    "shop-relay": "frames-9",
    "shop-speed-controlled": "floor-boards-18",
}
BENCH, RELAY, SPEED = SETUP
REFUSE, WARN = Severity.REFUSE, Severity.WARN
HEAD = "G21 G90 G17 G94 G40 G49 G80\n"


def alone(text: str, machine: str, *overrides: str, setup: bool = True) -> Outcome:
    told = RECIPES / "setups" / f"{SETUP[machine]}.yaml" if setup else None
    plan = load_alone(RECIPES / "machines" / f"{machine}.yaml", told, None, overrides)
    return prepare_job("job.nc", text.encode(), plan, REGISTRY)


def prepared(folder: Path, machine: str, steps: str, job: str, *overrides: str) -> Outcome:
    path = folder / "recipe.yaml"
    path.write_text(
        f"format: headrace-recipe/2\nname: Steps\nmachine: {RECIPES}/machines/{machine}.yaml\n"
        f"setup: {RECIPES}/setups/{SETUP[machine]}.yaml\nsteps: [{steps}]\n"
    )
    return prepare_job("job.nc", job.encode(), load_plan(path, REGISTRY, overrides), REGISTRY)


# --- homing --------------------------------------------------------------------------------------


def test_z_is_homed_first() -> None:
    fires(alone(HEAD + "G28 X0 Y0\nG28 Z0\nM2\n", BENCH), "homed-out-of-order", REFUSE, 2)
    fires(alone(HEAD + "G28 Y0\nM2\n", BENCH), "homed-out-of-order", WARN, 2)
    for fine in ("G28 Z0\nG28 X0 Y0\n", "G28 Z0\n", "G28 X0 Y0 Z0\n", "G28 Z0\nG28 X0\nG28 Z0\n"):
        assert found(alone(HEAD + fine + "M2\n", BENCH), "homed-out-of-order") is None


def test_in_the_order_that_is_described() -> None:
    text = HEAD + "G28 X0 Y0\nG28 Z0\nM2\n"

    for order in ("[[x, y], [z]]", "[[x, y, z]]"):
        outcome = alone(text, BENCH, f"machine.homing.order={order}")
        assert found(outcome, "homed-out-of-order") is None


def test_two_steps_in_the_wrong_order(tmp_path: Path) -> None:
    job = "G21\nG0 Z5\nM2\n"
    wrong, right = (
        f"safe-start, {{home: {{axes: [{one}]}}}}, {{home: {{axes: [{two}]}}}}"
        for one, two in (("x, y", "z"), ("z", "x, y"))
    )

    fires(prepared(tmp_path, BENCH, wrong, job), "homed-out-of-order", REFUSE)
    assert found(prepared(tmp_path, BENCH, right, job), "homed-out-of-order") is None


# --- Z0 ------------------------------------------------------------------------------------------

CUT = "G0 X50 Y50\nG0 Z2\nG1 Z-3 F300\nX80\nG0 Z30\nM2\n"
HOMED = HEAD + "G28 Z0\nG28 X0 Y0\n"


@pytest.mark.parametrize(
    ("number", "told"),
    [
        (50, "7.9 to 12.4 mm above"),
        (57.9, None),
        (60, None),
        (62.4, None),
        (66, "3.6 to 8.1 mm below"),
    ],
)
def test_a_raised_number_is_no_zero_of_the_sheet(number: float, told: str | None) -> None:
    """The bench: 108 from collet to board at Z0, less 28 to 32 of bit and 17.6 to 18.1 of sheet:
    the top lies 57.9 to 62.4 below, and there Z must read 0."""
    outcome = alone(f"{HOMED}G92 X0 Y0 Z{number}\n{CUT}", BENCH)
    if told is None:
        assert found(outcome, "cut-without-zero") is None
    else:
        assert told in fires(outcome, "cut-without-zero", REFUSE, 8).what


def test_with_the_zero_on_the_bed() -> None:
    """The board lies 108 less 28 to 32 of bit below: 76 to 80."""
    text = f"{HOMED}G92 X0 Y0 Z{{}}\n{CUT}"
    bed = "setup.sheet.zero=bed"

    assert found(alone(text.format(78), BENCH, bed), "cut-without-zero") is None
    told = fires(alone(text.format(60), BENCH, bed), "cut-without-zero", REFUSE)
    assert "16 to 20 mm above the bed" in told.what


def test_where_the_sheet_is_not_described_it_cannot_tell() -> None:
    outcome = alone(f"{HOMED}G92 X0 Y0 Z56\n{CUT}", BENCH, setup=False)
    told = [f for f in outcome.findings if f.name == "cannot-tell" and "Z0" in f.what]

    assert [f.severity for f in told] == [WARN]
    assert "setup.tool.stick-out" in told[0].what


def test_a_recipe_without_the_touch(tmp_path: Path) -> None:
    """Raised by `rereference-z`, Z0 lies where the probe's lowest aim would be."""
    steps = "safe-start, home, rereference-z, corner-zero, {}{{spindle: {{speed: 17000}}}}, park"
    job = "G21 G90 G17 G94\nM3 S17000\nG0 Z25\n" + CUT.replace("Z30", "Z25").replace("M2", "M5\nM2")

    fires(prepared(tmp_path, BENCH, steps.format(""), job), "cut-without-zero", REFUSE)
    outcome = prepared(tmp_path, BENCH, steps.format("touch-off, "), job)
    assert found(outcome, "cut-without-zero") is None


def test_z_of_another_day(tmp_path: Path) -> None:
    steps = "safe-start, home, corner-zero, {}spindle, park"
    job = "G21 G90 G17 G94\nM3 S16000\nG0 Z30\nG0 X100 Y100\nG1 Z-3 F300\nX150\nG0 Z30\nM5\nM30\n"

    fires(prepared(tmp_path, SPEED, steps.format(""), job), "zero-from-before", WARN, 5)
    touched = prepared(tmp_path, SPEED, steps.format("touch-off, "), job)
    assert found(touched, "zero-from-before") is None
    # a job that does not home goes on from where another file left off, which is told otherwise
    assert found(alone(job, SPEED), "zero-from-before") is None


# --- touches -------------------------------------------------------------------------------------

TOUCH = (
    HEAD + "G28 Z0\nG28 X0 Y0\nG92 Z56\nG0 X20 Y20\nG92 X0 Y0\n(SPINDLE OFF)\nM0\nG0 X50 Y50\n"
    "(CLIP ON)\nM0\nG0 Z13.12\nG38.2 Z2.62 F120\nG92 Z12.02\nG0 Z14.02\n{}G0 Z27.02\n"
    "(CLIP OFF)\nM0\n(ON DIAL 3)\nM0\nG4 P2000\nG0 Z30\n"
    + CUT.replace("M2", "(SPINDLE OFF)\nM0\nM2")
)
SECOND = "G38.2 Z9.02 F30\n"
"""The plate is 12.02 thick; the second touch is line 16."""


@pytest.mark.parametrize(
    ("behind", "right"),
    [
        ("G92 Z12.02\n", None),
        ("G0 Z22\nG92 Z12.02\n", "22"),
        ("G0 Z22\nG92 Z22\n", None),
        ("G92 Z12.02\nG0 Z22\nG92 Z12.02\n", "22"),
        ("G92 Z0\nG0 Z10\nG92 Z22.02\n", None),
        ("G92 Z0\nG0 Z10\nG92 Z22\n", "22.02"),
    ],
)
def test_z_is_set_where_the_touch_was(behind: str, right: str | None) -> None:
    """G92 speaks of where the tip stands (RS274/NGC 3.5.18): 12.02 on the plate, and so much more
    as it has gone up since."""
    outcome = alone(TOUCH.format(SECOND + behind), BENCH)
    if right is None:
        assert found(outcome, "plate-mistaken") is None
        assert found(outcome, "touch-unused") is None
    else:
        told = fires(outcome, "plate-mistaken", REFUSE, 16 + behind.count("\n"))
        assert told.what.endswith(f"should read {right}")


def test_one_touch_and_then_up() -> None:
    """The plate lies between 56 - 57.9 + 12.02 and 56 - 62.4 + 12.02 in the raised numbers: the tip
    has gone up by 23.88 to 28.38, or by an unknown way."""
    once = TOUCH.replace("G92 Z12.02\nG0 Z14.02\n{}", "{}")

    told = fires(alone(once.format("G0 Z34\nG92 Z12.02\n"), BENCH), "plate-mistaken", REFUSE)
    assert "35.9 to 40.4" in told.what
    told = fires(alone(once.format("G0 Z34\nG92 Z38\n"), BENCH), "touch-unused", WARN)
    assert "left the touch" in told.what
    upward = "G91\nG0 Z10\nG90\nG92 Z22.02\n"
    fires(alone(once.format(upward), BENCH), "touch-unused", WARN)


def test_a_probe_to_the_side() -> None:
    told = alone(TOUCH.format("G38.2 Y60 F30\nG92 Z12.02\n"), BENCH)

    fires(told, "probe-sideways", WARN, 16)
    assert fires(told, "plate-mistaken", REFUSE, 17).what.endswith("should read 14.02")
    assert found(alone(TOUCH.format(SECOND + "G92 Z12.02\n"), BENCH), "probe-sideways") is None


# --- spindle words -------------------------------------------------------------------------------

SPIN = HEAD + "G0 Z30\n{}\nG4 P5\nG0 X100 Y100\nG1 Z-3 F300\n{}X150\nG0 Z30\nM5\nG4 P12\nM30\n"


@pytest.mark.parametrize(
    ("start", "later", "name", "line"),
    [
        ("S16000 M4", "", "spindle-reverse", 3),
        ("S0 M3", "", "speed-out-of-range", 3),
        ("S40000 M3", "", "speed-out-of-range", 3),
        ("S5999 M3", "", "speed-out-of-range", 3),
        ("S16000 M3", "S1000\n", "speed-out-of-range", 7),
        ("S16000 M3", "S1000 ", "speed-out-of-range", 7),
        ("S16000 M3", "S1000\nS16000\n", "speed-out-of-range", 7),
        ("M3", "", "speed-unknown", 3),
    ],
)
def test_speeds_that_the_spindle_has_not(start: str, later: str, name: str, line: int) -> None:
    """The sheet machine turns 6000 to 24000, one way."""
    fires(alone(SPIN.format(start, later), SPEED), name, REFUSE, line)


@pytest.mark.parametrize(
    "start", ["S6000 M3", "S24000 M3", "S16000\nM3", "S16000 M3\nM5 S0\nM3 S16000"]
)
def test_speeds_that_it_has(start: str) -> None:
    outcome = alone(SPIN.format(start, "S8000\n"), SPEED)

    for name in ("spindle-reverse", "speed-out-of-range", "speed-unknown"):
        assert found(outcome, name) is None


@pytest.mark.parametrize("machine", [RELAY, BENCH])
def test_where_s_does_nothing_the_way_still_counts(machine: str) -> None:
    outcome = alone(SPIN.format("M4", ""), machine)

    fires(outcome, "spindle-reverse", REFUSE, 3)
    assert found(outcome, "speed-unknown") is None
    both = alone(SPIN.format("M4", ""), machine, "machine.spindle.reverse=true")
    assert found(both, "spindle-reverse") is None


def test_behind_the_end_nothing_is_asked() -> None:
    """RS274/NGC 3.6.1: M30 ends the program."""
    outcome = alone(SPIN.format("S16000 M3", "") + "S40000 M4\n", SPEED)

    for name in ("spindle-reverse", "speed-out-of-range"):
        assert found(outcome, name) is None


def test_a_relay_turns_at_its_one_speed(tmp_path: Path) -> None:
    job = SPIN.format("S16000 M3", "S15000\n")
    steps = "safe-start, home, corner-zero, touch-off, {spindle: {speed: 18000}}, park"

    for outcome in (alone(job, RELAY), prepared(tmp_path, RELAY, steps, job)):
        told = fires(outcome, "speed-not-followed", WARN, 3)
        assert "16000" in told.what
        assert "turns 18000" in told.what
        assert outcome.result is not None
    same = SPIN.format("S18000 M3", "")
    assert found(prepared(tmp_path, RELAY, steps, same), "speed-not-followed") is None


def test_the_step_refuses_once(tmp_path: Path) -> None:
    steps = "safe-start, home, corner-zero, touch-off, spindle, park"
    for start, name in (("S40000 M3", "speed-out-of-range"), ("S16000 M4", "spindle-reverse"),
                        ("M3", "speed-unknown")):  # fmt: skip
        outcome = prepared(tmp_path, SPEED, steps, SPIN.format(start, ""))
        assert [f.name for f in outcome.findings if f.name == name] == [name]


# --- tools ---------------------------------------------------------------------------------------


def test_a_change_without_a_number_is_told_in_words() -> None:
    outcome = alone(
        TOUCH.format(SECOND + "G92 Z12.02\n").replace("(ON DIAL", "M6\n(ON DIAL"), BENCH
    )

    assert "a tool without a number is called for" in fires(outcome, "tool-behind-touch", WARN).what
