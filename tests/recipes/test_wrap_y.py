"""The gallery's transform for a rotary axis: Y wrapped round a blank.

What comes out is run by the reference interpreter, which goes by RS274/NGC 2.1.2.5 (F with rotary
axes) and 3.5.19 (G93): the bit must be at the same place of the surface (an arc is as long as
radius times angle; any textbook), after the same time, as in the flat job.
"""

from __future__ import annotations

import math
import random
import shutil
from pathlib import Path

import numpy as np
import pytest
from reference import Move, run

from headrace.batch.engines.kit import with_python_files
from headrace.errors import RecipeError
from headrace.outcome import Outcome
from headrace.plugins.registry import Registry, load_registry
from headrace.recipe import Plan, load_plan
from headrace.run import prepare_job

RECIPES = Path(__file__).parents[2] / "recipes"
FEED = "machine.inverse-time=false"
SMALL = ["G21 G90 G94 G17", "M3 S16000", "G0 X0 Y0 Z5", "G1 Z-1 F300", "G1 X10 Y5 F900", "G0 Z5"]


def planned(folder: Path, *values: str, steps: str = "wrap-y") -> tuple[Plan, Registry]:
    """The machine and the set-up of the gallery, and one step or some."""
    shutil.copy(RECIPES / "wrap_y.py", folder)
    recipe = folder / "recipe.yaml"
    recipe.write_text(
        f"format: headrace-recipe/2\nname: Wrapped\nmachine: {RECIPES}/machines/rotary-bench.yaml\n"
        f"setup: {RECIPES}/setups/dipper-40.yaml\npython: [wrap_y.py]\nsteps: [{steps}]\n"
    )
    registry = load_registry()
    plan = load_plan(recipe, registry, values)
    return plan, with_python_files(registry, plan)


def wrapped(folder: Path, lines: list[str], *values: str, steps: str = "wrap-y") -> Outcome:
    plan, registry = planned(folder, *values, steps=steps)
    job = "".join(f"{line}\n" for line in [*lines, "M5", "M30"])
    return prepare_job("job.nc", job.encode(), plan, registry)


def said(outcome: Outcome) -> list[str]:
    """The lines that came out. What a whole job needs besides, such as homing, is not here: so only
    the step and its proof are looked at."""
    assert outcome.steps, [(finding.name, finding.what) for finding in outcome.findings]
    assert outcome.job is not None
    return [line.text for line in outcome.job.program]


def minutes(move: Move) -> float:
    if move.feed is None:
        return 0.0
    if move.feed_unit == "1/min":
        return 1 / move.feed
    ways = [end - start for start, end in zip(move.start, move.end, strict=True)]
    return math.hypot(*(ways[3:] if move.feed_unit == "deg/min" else ways[:3])) / move.feed


def relief(count: int) -> list[str]:
    """Random cuts all round a blank, some of them along one axis alone, some nowhere at all."""
    rng = random.Random(40)
    lines, place = (
        ["G21 G90 G94 G17", "M3 S16000", "G0 X20 Y0 Z5", "G1 Z-1 F300"],
        [20.0, 0.0, -1.0],
    )
    for _ in range(count):
        for axis, (low, high) in enumerate(((1, 150), (-300, 300), (-6, -0.5))):
            if rng.random() < 0.6:
                place[axis] = round(rng.uniform(low, high), 3)
        words = " ".join(f"{letter}{value:g}" for letter, value in zip("XYZ", place, strict=True))
        lines.append(
            f"G1 {words}" + (f" F{rng.randint(1, 12) * 100}" if rng.random() < 0.3 else "")
        )
    return [*lines, "G0 Z5"]


@pytest.mark.parametrize("way", [(), (FEED,), (FEED, "machine.rotary.a.counts=all")])
@pytest.mark.parametrize("top", ["low", "high"])
@pytest.mark.parametrize("diameter", [40.0, 7.3])
def test_the_surface_is_cut_at_the_same_places_in_the_same_time(
    tmp_path: Path, way: tuple[str, ...], top: str, diameter: float
) -> None:
    flat = relief(60)
    values = (f"setup.blank.diameter={diameter}", f"machine.rotary.a.top-goes={top}", *way)

    outcome = wrapped(tmp_path, flat, *values)

    sense = 1 if top == "low" else -1
    old, new = run([*flat, "M30"]).moves, run(said(outcome)).moves
    radius = diameter / 2
    places = np.array([move.end for move in old])
    degrees = sense * np.rad2deg(places[:, 1] / radius)
    found = np.array([move.end for move in new])
    np.testing.assert_allclose(found[:, 3], degrees, atol=0.5e-5 + 1e-9)
    np.testing.assert_array_equal(found[:, [0, 2]], places[:, [0, 2]])
    assert not found[:, 1].any()
    assert [move.kind for move in new] == [move.kind for move in old]
    if "machine.rotary.a.counts=all" in way:  # the reference counts as the standard does
        ways = np.diff(found, axis=0, prepend=0.0)
        feeds = np.array([move.feed or np.inf for move in new])
        times = np.sqrt((ways**2).sum(axis=1)) / feeds
    else:
        times = np.array([minutes(move) for move in new])
    cuts = np.array([move.start != move.end for move in old])
    wanted = np.array([minutes(move) for move in old])
    np.testing.assert_allclose(times[cuts], wanted[cuts], rtol=2e-3, atol=1e-9)
    assert outcome.steps[0].proof.breaches == ()
    assert outcome.steps[0].proof.deviation <= 0.51e-5 * math.pi * diameter / 360


def test_a_full_turn_is_as_long_as_the_circumference(tmp_path: Path) -> None:
    once = f"{math.pi * 40:.5f}"
    lines = said(wrapped(tmp_path, [*SMALL[:4], f"G1 Y{once} F900", "G0 Z5"]))

    assert any(line.startswith("G1 A-360") for line in lines)


def test_words_that_say_nothing_of_the_way_stay(tmp_path: Path) -> None:
    lines = ["(DIPPER)", *SMALL[:4], "N7 G1 X10 Y5 F900 (COMB)", "x12", "G0 Z5"]

    said_ = said(wrapped(tmp_path, lines, FEED))

    assert said_[0] == "(DIPPER)"
    assert said_[5].startswith("N7 G1 X10 A-14.32394 F")
    assert said_[5].endswith("(COMB)")
    assert said_[6] == "x12 F900"


def test_inverse_time_ends_with_the_last_cut(tmp_path: Path) -> None:
    lines = said(wrapped(tmp_path, [*SMALL, "G0 X90 Y90"]))

    first = next(line for line in lines if "G1 " in line)
    last = max(at for at, line in enumerate(lines) if "G1 " in line)
    assert first == "G93 G1 Z-1 F50"
    assert lines[last + 1] == "G94"


@pytest.mark.parametrize(
    ("line", "named"),
    [
        ("G2 X14 Y5 I2 J0 F900", "arcs-to-lines"),
        ("G81 X5 Y5 Z-2 R1 F300", "cycles-to-moves"),
        ("G91 G1 Y1", "absolute"),
        ("G20", "units"),
        ("G93 G1 Y9 F3", "G94"),
        ("G1 A9", "flat"),
        ("G53 G0 Y9", "G53"),
        ("G92 Y0", "this line"),
    ],
)
def test_what_is_not_the_same_round_a_blank_is_refused(
    tmp_path: Path, line: str, named: str
) -> None:
    outcome = wrapped(tmp_path, [*SMALL[:5], line, "G0 Z5"])

    (refusal,) = [f for f in outcome.findings if f.name == "wrap-unsuited"]
    assert named in refusal.remedy
    assert refusal.place is not None
    assert refusal.place.line == 6
    assert outcome.result is None


def test_a_cut_from_nowhere_is_refused(tmp_path: Path) -> None:
    outcome = wrapped(tmp_path, ["G21 G90 G94 G17", "M3 S16000", "G0 Z5", "G1 Y9 Z-1 F300"])

    assert outcome.findings[0].name == "wrap-unsuited"


def test_a_feed_that_the_machine_cannot_read_is_refused(tmp_path: Path) -> None:
    """A long turn and hardly any way along X: F counts that alone (2.1.2.5)."""
    lines = [*SMALL[:4], "G1 X0.001 Y120 F900", "G0 Z5"]

    coarse = wrapped(tmp_path, lines, FEED, "machine.decimals=3")
    timed = wrapped(tmp_path, lines, "machine.decimals=3")

    assert coarse.findings[0].name == "wrap-unsuited"
    assert "inverse-time" in coarse.findings[0].remedy
    assert timed.steps[0].proof.breaches == ()


def test_what_f_counts_is_not_guessed(tmp_path: Path) -> None:
    machine = (RECIPES / "machines" / "rotary-bench.yaml").read_text("utf-8")
    plan, registry = planned(tmp_path, FEED)
    (tmp_path / "machine.yaml").write_text(machine.replace(", counts: linear", ""))
    recipe = plan.recipe.read_text("utf-8").replace(
        f"{RECIPES}/machines/rotary-bench.yaml", "machine.yaml"
    )
    plan.recipe.write_text(recipe)
    plan = load_plan(plan.recipe, load_registry(), [FEED])

    outcome = prepare_job("job.nc", "\n".join([*SMALL, "M30"]).encode(), plan, registry)

    assert "machine.rotary.a.counts is not given" in outcome.findings[0].what


def test_no_blank_no_turn(tmp_path: Path) -> None:
    with pytest.raises(RecipeError) as caught:
        planned(tmp_path, "setup.blank.axis=b")

    assert "has no such `rotary` axis" in caught.value.findings[0].what


def test_a_second_run_finds_nothing_to_do(tmp_path: Path) -> None:
    once = said(wrapped(tmp_path, SMALL))

    assert said(wrapped(tmp_path, SMALL, steps="wrap-y, wrap-y")) == once


def test_the_blank_turns_back_in_the_end(tmp_path: Path) -> None:
    lines = said(wrapped(tmp_path, SMALL, steps="wrap-y, turn-back"))

    assert lines[-3:] == ["G0 Z30", "G0 A0", "M30"]


def test_nothing_turns_once_the_head_has_gone_aside(tmp_path: Path) -> None:
    lines = said(wrapped(tmp_path, SMALL, steps="wrap-y, home, corner-zero, turn-back, park"))

    aside = next(at for at, line in enumerate(lines) if line.startswith("G53 G0 X300"))
    assert not any("A" in line for line in lines[aside:] if not line.startswith("("))
    assert lines.index("G0 A0") < aside


def test_behind_homing_it_is_too_late(tmp_path: Path) -> None:
    outcome = wrapped(tmp_path, SMALL, steps="home, wrap-y")

    (refusal,) = [f for f in outcome.findings if f.name == "wrap-unsuited"]
    assert "before all that move the machine" in refusal.remedy
