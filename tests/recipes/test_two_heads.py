"""The gallery's two heads: where the second head's drill goes in the finished file is worked out by
hand from its words (a place on the gantry = number + zero), and compared with the job's holes."""

from __future__ import annotations

import re
import shutil
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from workshop.gallery import planned

from headrace.outcome import Outcome
from headrace.run import prepare_job

RECIPES = Path(__file__).parents[2] / "recipes"
JOB = (RECIPES / "jobs" / "end-bars.nc").read_text("ascii")
AT, CORNER = np.array([96.4, -0.3]), np.array([180.0, 120.0])


@cache
def bored(job: str, *values: str, shop: Path = RECIPES) -> Outcome:
    plan, registry = planned("heads-end-bars", *values, shop=shop)
    return prepare_job("job.nc", job.encode(), plan, registry)


def lines_of(outcome: Outcome) -> list[str]:
    assert outcome.result is not None, outcome.findings
    return outcome.result.to_bytes().decode("ascii").splitlines()


def numbers(line: str) -> dict[str, float]:
    return {letter: float(value) for letter, value in re.findall(r"([A-Z])(-?[0-9.]+)", line)}


def plunges(lines: list[str]) -> list[tuple[bool, np.ndarray]]:
    """Of every plunge at feed to the full depth: whether the second head is down, and where the
    gantry stands in machine coordinates. Read by these words alone: G53, G10 L20, G54, G55, M64,
    M65 and X, Y, Z. Homing shows 0 in X and Y."""
    gantry, zeros, system, down = np.zeros(2), {1: np.zeros(2), 2: np.zeros(2)}, 1, False
    found = []
    for line in lines:
        text = re.sub(r"\(.*?\)", "", line)
        word = numbers(text)
        system = 1 if "G54" in text else 2 if "G55" in text else system
        down = True if "M64" in text else False if "M65" in text else down
        place = [word.get(axis, np.nan) for axis in "XY"]
        if "G10 L20" in text:
            which = int(word["P"])
            zeros[which] = np.where(np.isnan(place), zeros[which], gantry - place)
        elif not text.startswith(("G28", "G4", "%")):
            zero = np.zeros(2) if "G53" in text else zeros[system]
            gantry = np.where(np.isnan(place), gantry, place + zero)
        if text.startswith("G1") and "Z-10.3" in text:
            found.append((down, gantry))
    return found


def test_the_drill_goes_where_the_job_has_its_holes() -> None:
    holes = np.array([[x + 20, y] for x in (30, 90, 150, 210) for y in (55, 95, 135, 175)])

    by_drill = [place for down, place in plunges(lines_of(bored(JOB))) if down]

    np.testing.assert_allclose(np.array(by_drill) + AT - CORNER, holes, atol=1e-9)


def test_the_mill_goes_where_the_job_has_its_outlines() -> None:
    wanted = {(x, y) for x in (27, 87, 147, 207) for y in (27, 122)}
    wanted |= {(x + 46, 110) for x in (27, 87, 147, 207)}

    by_mill = [place - CORNER for down, place in plunges(lines_of(bored(JOB))) if not down]

    assert {(round(float(x), 6), round(float(y), 6)) for x, y in by_mill} == wanted


def test_heads_change_lifted_and_at_rest() -> None:
    lines = lines_of(bored(JOB))
    changes = [at for at, line in enumerate(lines) if line in ("M64", "M65")]

    assert [lines[at] for at in changes] == ["M65", "M64", "M65", "M65"]
    for at in changes[1:3]:
        before = lines[at - 3 : at]
        assert "G53 G0 Z-2" in before
        assert "G4 P6" in before
    assert lines[changes[0] - 2 : changes[0]] == ["M5", "G4 P6"]
    up, first_move = lines.index("G28 Z0"), next(n for n, t in enumerate(lines) if "G53 G0" in t)
    assert up < changes[0] < first_move  # whichever head was left down, it is up and at rest


def test_the_second_head_touches_once_however_often_it_is_called() -> None:
    again = "T1 M6\nS18000 M3\nG54\nG0 X230. Y60.\nG0 Z1.\nG1 Z-2. F300\nG0 Z12.\nM5\n"
    back = "T2 M6\nS12000 M3\nG54\nG0 X40. Y55.\nG0 Z1.\nG1 Z-2. F300\nG0 Z12.\nM5\n"
    job = JOB.replace("T1 M6\n", again + back + "T1 M6\n", 1)
    lines = lines_of(bored(job))

    assert lines.count("M64") == 2
    assert sum(line.startswith("G38.2") for line in lines) == 4  # two touches a head


def test_each_cut_keeps_its_bit_and_its_speed() -> None:
    outcome = bored(JOB)
    assert outcome.job is not None

    for block in outcome.job.trace.blocks:
        if block.cuts.any():
            setting = block.setting
            assert (setting.tool, setting.system) in ((1, 1), (2, 2))
            assert setting.spindle != "cw" or setting.speed == {1: 18000, 2: 12000}[setting.tool]


REFUSED = {
    "the spindle is not stopped": (JOB.replace("M5\nT1 M6", "T1 M6"), ()),
    "the call is on a line with a move": (JOB.replace("T1 M6", "T1 M6 G0 X0"), ()),
    "nobody knows which bit is in the first head": (JOB, ("setup.tool.number=2",)),
}


@pytest.mark.parametrize("why", REFUSED)
def test_what_is_not_certain_is_refused(why: str) -> None:
    job, values = REFUSED[why]
    outcome = bored(job, *values)

    assert outcome.refused
    assert "step-unsuited" in [finding.name for finding in outcome.findings]


FAULTS = {
    "the second head's cuts stay in the first system": (
        ".rewritten({selects[0]: head.system})", ".text", "contract-broken",
    ),
    "its zero is forgotten to lie aside": ("- head.at[axis]", "", "zero-off-corner"),
    "it lies aside the other way": ("- head.at[axis]", "+ head.at[axis]", "touch-misplaced"),
    "it is never lowered": ("[] if head is None else [head.down]", "[]", "contract-broken"),
    "it is not touched off": ("number not in touched", "number in touched", "tool-without-zero"),
}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS)
def test_a_slip_in_the_step_is_found(fault: str, tmp_path: Path) -> None:
    right, wrong, found = FAULTS[fault]
    shop = shutil.copytree(RECIPES, tmp_path / "recipes")
    source = (shop / "two_heads.py").read_text("utf-8")
    assert right in source
    (shop / "two_heads.py").write_text(source.replace(right, wrong), "utf-8")

    names = [finding.name for finding in bored(JOB, shop=shop).findings]

    assert found in names


def test_a_job_that_calls_for_no_bit_is_the_first_head_s() -> None:
    job = re.sub(r"T2 M6\n.*?T1 M6\n", "", JOB, flags=re.DOTALL)
    assert " M6" not in job

    lines = lines_of(bored(job))

    assert "M64" not in lines
    assert all(not down for down, _ in plunges(lines))
