"""Pauses whose texts are known: a card file that asks in the words of the steps is judged by them,
and any other text settles nothing.

What is asked, and that its lack is dangerous, is common practice; the files come from the gallery.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from headrace.findings import Severity
from headrace.machine import Machine, asking, asking_speed
from headrace.machine.asking import question
from headrace.outcome import Outcome
from headrace.plugins.registry import load_registry
from headrace.recipe import load_alone, load_plan
from headrace.run import prepare_job

RECIPES = Path(__file__).parents[3] / "recipes"
REGISTRY = load_registry()
GALLERY = [
    ("bench-lids", "lid.nc"),
    ("relay-frames", "frame-side.nc"),
    ("speed-excluder", "queen-excluder.nc"),
    ("speed-window", "window.ngc"),
    ("speed-floor-boards", "floor-board.tap"),
]
MACHINES = {
    "bench": "bench-hand-switched",
    "relay": "shop-relay",
    "speed": "shop-speed-controlled",
}
ORDER = {
    "spindle-with-clip",
    "clip-unsettled",
    "clip-left-on",
    "hand-before-standstill",
    "standstill-unsure",
    "probe-without-clip",
    "cut-at-rest",
    "spindle-missing",
    "spindle-left-on",
    "paused-while-turning",
}


def described(name: str) -> Machine:
    return load_alone(RECIPES / "machines" / f"{MACHINES[name]}.yaml", None, None, ()).machine


def card_file(recipe: str, job: str) -> tuple[list[str], Path, Path]:
    """The lines of a card file of the gallery, and the files of its machine and set-up."""
    plan = load_plan(RECIPES / f"{recipe}.yaml", REGISTRY)
    outcome = prepare_job(job, (RECIPES / "jobs" / job).read_bytes(), plan, REGISTRY)
    assert outcome.result is not None
    machine = next(
        path
        for path in (RECIPES / "machines").iterdir()
        if f"name: {plan.machine.name}\n" in path.read_text("utf-8")
    )
    setup = next(
        path
        for path in (RECIPES / "setups").iterdir()
        if f"name: {plan.setup.name}\n" in path.read_text("utf-8")
    )
    return outcome.result.to_bytes().decode().splitlines(), machine, setup


def alone(lines: list[str], machine: Path, setup: Path) -> Outcome:
    plan = load_alone(machine, setup, None, ())
    return prepare_job("job.nc", "\n".join(lines).encode() + b"\n", plan, REGISTRY)


def told(outcome: Outcome) -> dict[str, Severity]:
    return {f.name: f.severity for f in outcome.findings if f.name in ORDER}


def pauses(lines: list[str]) -> list[int]:
    return [at for at, line in enumerate(lines) if "M0" in line.split("(")[0].split()]


@pytest.mark.parametrize(("recipe", "job"), GALLERY)
def test_a_sound_card_file_is_quiet_alone(recipe: str, job: str) -> None:
    lines, machine, setup = card_file(recipe, job)

    assert told(alone(lines, machine, setup)) == {}


@pytest.mark.parametrize(("recipe", "job"), GALLERY)
def test_without_the_pause_for_the_clip(recipe: str, job: str) -> None:
    """Where another pause follows, its text settles nothing, and it might have been asked there."""
    lines, machine, setup = card_file(recipe, job)
    at = next(
        at
        for at in pauses(lines)
        if any("CLIP OFF" in line or "AWAY" in line for line in lines[at - 1 : at + 1])
    )
    missing = [*lines[:at], *lines[at + 1 :]]
    optional = [*lines[:at], lines[at].replace("M0", "M1"), *lines[at + 1 :]]
    follows = recipe != "speed-floor-boards"

    for worse in (missing, optional):
        names = told(alone(worse, machine, setup)).keys()
        assert ("clip-unsettled" if follows else "spindle-with-clip") in names


def test_each_pause_of_the_bench_matters() -> None:
    """What is asked, taken out one by one; the pause for the extraction settles nothing."""
    lines, machine, setup = card_file("bench-lids", "lid.nc")
    lost = {}
    for at in pauses(lines):
        text = lines[at - 1].strip("()")
        lost[text] = told(alone([*lines[:at], *lines[at + 1 :]], machine, setup))

    assert lost.pop("EXTRACTION ON?") == {}
    assert "spindle-missing" in lost["ON 16000 DIAL 3"]
    assert "probe-without-clip" in lost["PLATE ON, CLIP ON"]
    assert "clip-unsettled" in lost["CLIP OFF, PLATE AWAY"]  # the extraction's pause might have
    assert all(lost.values())


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("(CLIP OFF, PLATE AWAY)\nM0", "M0\n(CLIP OFF, PLATE AWAY)"),
        ("(CLIP OFF, PLATE AWAY)\nM0", "(CLIP OFF) (PLATE AWAY)\nM0"),
        ("(CLIP OFF, PLATE AWAY)\nM0", "(CLIP OFF, PLATE AWAY)\n/M0"),
        ("(CLIP OFF, PLATE AWAY)\nM0", "(CLIP OFF, PLATE AWAY!)\nM0"),
        ("(CLIP OFF, PLATE AWAY)\nM0", "(CLIP OFF, PLATE AWAY)\n\nM0"),
        ("(CLIP OFF, PLATE AWAY)\nM0", "(CLIP OFF, PLATE AWAY)\nG0 Z30 M0"),
    ],
)
def test_a_text_that_is_not_shown_so_settles_nothing(old: str, new: str) -> None:
    """The bench shows the comment of the line before the pause, and no other."""
    lines, machine, setup = card_file("bench-lids", "lid.nc")
    text = "\n".join(lines)
    assert old in text

    outcome = alone(text.replace(old, new).split("\n"), machine, setup)
    assert told(outcome).keys() & {"clip-unsettled", "spindle-with-clip"}
    finding = next(f for f in outcome.findings if f.name in ("clip-unsettled", "spindle-with-clip"))
    assert finding.name == "spindle-with-clip" or "(CLIP OFF, PLATE AWAY)" in finding.remedy


# --- texts ---------------------------------------------------------------------------------------


def test_every_text_is_known_again() -> None:
    machine = described("bench")
    for asked in ("clip-on", "clip-off", "spindle-off"):
        assert {question(machine, text) for text in asking(asked)} == {asked}
    for asked in ("spindle-on", "spindle-set"):
        for speed in (10000.0, 12345.5, 16000.0, 30000.0):
            texts = asking_speed(asked, machine.spindle, speed)
            assert {question(machine, text) for text in texts} == {asked}


@pytest.mark.parametrize(
    "text",
    [
        "ON 16000 DIAL 4",
        "ON 40000 DIAL 6",
        "ON DIAL 7",
        "ON",
        "CLIP",
        "EXTRACTION ON?",
        "",
        "clip on",
    ],
)
def test_other_texts_are_not(text: str) -> None:
    """The dial's mark 4 is 22000, nearest to 16000 is 3; the router ends at 30000."""
    assert question(described("bench"), text) is None


def test_only_where_a_hand_switches_it_is_the_spindle_asked_for() -> None:
    assert question(described("relay"), "SPINDLE OFF") is None
    assert question(described("relay"), "CLIP OFF") == "clip-off"


# --- waiting while the bit turns -----------------------------------------------------------------

BEGIN = "G21 G90 G17 G94 G40 G49 G80\nM3 S16000\nG4 P5\nG0 Z30\n"
SPEED = RECIPES / "machines" / "shop-speed-controlled.yaml"
FLOOR = RECIPES / "setups" / "floor-boards-18.yaml"


@pytest.mark.parametrize(
    ("stop", "turning"), [("M0", True), ("M1", True), ("M5\nG4 P10\nM0", False)]
)
def test_nobody_is_called_to_a_turning_bit(stop: str, turning: bool) -> None:
    text = f"{BEGIN}{stop}\nG0 Z40\nM5\nG4 P10\nM30"

    outcome = alone(text.split("\n"), SPEED, FLOOR)
    assert ("paused-while-turning" in told(outcome)) is turning
    if turning:
        finding = next(f for f in outcome.findings if f.name == "paused-while-turning")
        assert finding.severity is Severity.WARN
        assert "M5 and G4 P10" in finding.remedy


def test_the_dial_is_set_while_it_turns() -> None:
    """The step `spindle` asks for another mark; the router turns on, and is switched off later."""
    lines, machine, setup = card_file("bench-lids", "lid.nc")
    first = lines.index("(ON 16000 DIAL 3)")
    dial = ["(SET 22000 DIAL 4)", "M0", "G4 P2000"]
    off = len(lines) - 1 - lines[::-1].index("(SPINDLE OFF, WAIT)")

    assert told(alone([*lines[: first + 3], *dial, *lines[first + 3 :]], machine, setup)) == {}
    left = [*lines[: first + 3], *dial, *lines[first + 3 : off], *lines[off + 2 :]]
    assert "spindle-left-on" in told(alone(left, machine, setup))


def test_in_the_sheet_it_is_told_as_that() -> None:
    text = f"{BEGIN}G0 X100 Y100\nG1 Z-2 F300\nM0\nG0 Z40\nM5\nG4 P10\nM30"

    names = {f.name for f in alone(text.split("\n"), SPEED, FLOOR).findings}
    assert "halted-in-work" in names
    assert "paused-while-turning" not in names


@pytest.mark.parametrize(
    ("recipe", "job", "first"),
    [("speed-window", "window.ngc", "spindle"), ("bench-lids", "lid.nc", "spindle")],
)
def test_a_recipe_whose_pause_comes_behind_the_start(
    tmp_path: Path, recipe: str, job: str, first: str
) -> None:
    """At the first cut, and at the end before the spindle is switched off."""
    machine = "shop-speed-controlled" if recipe.startswith("speed") else "bench-hand-switched"
    setup = "window-3" if recipe.startswith("speed") else "lids-18"
    path = tmp_path / "recipe.yaml"
    path.write_text(
        "format: headrace-recipe/2\nname: Pauses\n"
        f"machine: {RECIPES}/machines/{machine}.yaml\nsetup: {RECIPES}/setups/{setup}.yaml\n"
        "steps:\n  - safe-start: {units: job}\n  - home\n"
        + ("  - rereference-z\n" if recipe.startswith("bench") else "")
        + "  - corner-zero\n  - touch-off: {retract: 25}\n"
        f"  - {first}: {{missing: start, speed: 17000}}\n"
        '  - pause: {at: first-cut, text: "AIR ON?"}\n  - park\n'
    )
    data = (RECIPES / "jobs" / job).read_bytes()

    outcome = prepare_job(job, data, load_plan(path, REGISTRY), REGISTRY)
    assert told(outcome) == {"paused-while-turning": Severity.WARN}
