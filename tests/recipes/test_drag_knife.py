"""The gallery's drag knife: what its blade's tip does in the finished file is worked out once more,
without headrace. The file is read by the reference interpreter, the blade turned by SciPy (the tip
moves along the blade alone; kinematics of an unsteered wheel, any textbook), and what it cuts is
compared with the job's contours by Shapely."""

from __future__ import annotations

import math
import random
import shutil
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from reference import Move, run
from scipy.integrate import solve_ivp
from shapely import LineString, hausdorff_distance
from workshop.gallery import planned

from headrace.outcome import Outcome
from headrace.run import prepare_job

RECIPES = Path(__file__).parents[2] / "recipes"
JOB = (RECIPES / "jobs" / "lid-seals.nc").read_text("ascii")
OFFSET, BITE, TOLERANCE = 0.45, 0.3, 0.02
HEAD = "G21\nG90 G17 G94\nG0 Z6\nG0 X50 Y50\nG0 Z1\nG1 Z-3 F400\n"
Point = tuple[float, float]


@cache
def cut(job: str) -> Outcome:
    plan, registry = planned("knife-seals")
    return prepare_job("job.nc", job.encode(), plan, registry)


def own(outcome: Outcome) -> list[str]:
    """The lines of the finished file that are the job's own."""
    assert outcome.result is not None, outcome.findings
    lines = [line.text for line in outcome.result if line.origin is not None]
    return ["G21 G90 G17 G94", *lines]


def along(move: Move, part: float) -> Point:
    """Where the axis is on a move."""
    (x, y), (x_end, y_end) = move.start[:2], move.end[:2]
    if move.centre is None:
        return x + (x_end - x) * part, y + (y_end - y) * part
    u, v = move.centre
    angle = math.atan2(y - v, x - u) + move.turn * part * (1 if move.kind == "ccw" else -1)
    radius = math.hypot(x - u, y - v)
    return u + radius * math.cos(angle), v + radius * math.sin(angle)


def close_at_first(move: Move) -> np.ndarray:
    """Where to look along a move: close by where a blade swings in, and 40 times in all of it."""
    if move.turn:
        return np.linspace(0, 1, 90)
    first = min(1.0, 4 * OFFSET / math.dist(move.start[:2], move.end[:2]))
    return np.unique(np.concatenate([np.linspace(0, first, 20), np.linspace(0, 1, 5)]))


def contours(lines: list[str], depth: float, offset: float = 0.0) -> list[list[Point]]:
    """What is cut at a depth: places of the tip, contour by contour. Without an offset it is under
    the axis; with one the blade points to +X at first."""
    found: list[list[Point]] = []
    blade, ends = 0.0, None
    for move in run(lines).moves:
        deep = max(move.start[2], move.end[2])
        still = move.start[:2] == move.end[:2] and move.turn == 0
        if move.kind == "rapid" or deep > -BITE + 1e-9 or still:
            continue
        parts = close_at_first(move)
        places = [along(move, part) for part in parts]
        if offset:

            def turns(part: float, state: np.ndarray, move: Move = move) -> list[float]:
                (x, y), (x_on, y_on) = along(move, part - 5e-7), along(move, part + 5e-7)
                way = (x_on - x) * 1e6, (y_on - y) * 1e6
                return [(math.cos(state[0]) * way[1] - math.sin(state[0]) * way[0]) / offset]

            turned = solve_ivp(turns, (0, 1), [blade], t_eval=parts, rtol=1e-8, atol=1e-9).y[0]
            blade = float(turned[-1])
            places = [
                (x - offset * math.cos(angle), y - offset * math.sin(angle))
                for (x, y), angle in zip(places, turned, strict=True)
            ]
        if deep > depth + 1e-9:
            continue
        if not found or ends is None or math.dist(ends, places[0]) > 0.1:
            found.append([])
        found[-1].extend(places)
        ends = places[-1]
    return found


def test_the_tip_cuts_the_job_s_contours() -> None:
    outcome = cut(JOB)

    wanted, got = contours(JOB.splitlines(), -3.4), contours(own(outcome), -3.4, OFFSET)

    assert len(wanted) == len(got) == 5
    assert outcome.proof is not None
    for one, other in zip(wanted, got, strict=True):
        apart = hausdorff_distance(LineString(one), LineString(other), densify=0.25)
        assert apart < TOLERANCE
        assert apart < outcome.proof.deviation + 1e-2  # the bow of an arc's 90 chords
    assert outcome.proof.deviation < TOLERANCE / 4


def test_it_would_not_do_without_the_step() -> None:
    """The same blade on the job as it is cuts off every corner: so the check above can fail."""
    wanted = contours(JOB.splitlines(), -3.4)
    got = contours(JOB.splitlines(), -3.4, OFFSET)
    apart = [
        hausdorff_distance(LineString(one), LineString(other), densify=0.25)
        for one, other in zip(wanted, got, strict=False)
    ]

    assert max(apart) > 5 * TOLERANCE


def test_sharp_corners_are_turned_lifted() -> None:
    lines = own(cut(JOB))
    lifts = [at for at, line in enumerate(lines) if line == f"G0 Z-{BITE}"]

    assert len(lifts) == 3 + 2  # the square's inner corners, and the two sharp ones of the flap
    for at in lifts:
        assert lines[at + 1].startswith(("G2 ", "G3 "))
        assert lines[at + 2] == "G1 Z-3.4 F400"


def test_the_blade_is_asked_for_before_the_job_moves() -> None:
    outcome = cut(JOB)
    assert outcome.result is not None
    lines = [line.text for line in outcome.result]

    assert lines.index("(BLADE TO THE RIGHT?)") < lines.index("G0 Z6.")
    assert lines.index("(CLIP OFF, PLATE AWAY)") < lines.index("(BLADE TO THE RIGHT?)")
    assert lines[lines.index("(BLADE TO THE RIGHT?)") + 1] == "M0"


def wandering(seed: int) -> str:
    """Three contours of lines and arcs, long and very short, whose corners are of every angle."""
    chance = random.Random(seed)
    lines = ["G21", "G90 G17 G94", "G0 Z6"]
    for _ in range(3):
        x, y = round(chance.uniform(50, 300), 3), round(chance.uniform(50, 200), 3)
        lines += [f"G0 X{x} Y{y}", "G0 Z1", "G1 Z-3.4 F400"]
        for _ in range(chance.randint(2, 7)):
            step, angle = chance.choice([0.05, 0.4, 2, 20]), chance.uniform(0, 2 * math.pi)
            along, aside = step * math.cos(angle), step * math.sin(angle)
            out = chance.uniform(-2, 2)  # the centre lies on the chord's middle normal
            u, v = along / 2 - out * aside, aside / 2 + out * along
            x_end, y_end = round(x + along, 3), round(y + aside, 3)
            code, arc = chance.choice(
                [("G1", ""), ("G2", f" I{u:.4f} J{v:.4f}"), ("G3", f" I{u:.4f} J{v:.4f}")]
            )
            lines.append(f"{code} X{x_end} Y{y_end}{arc} F900")
            x, y = x_end, y_end
        lines.append("G0 Z6")
    return "\n".join([*lines, "M30", ""])


@pytest.mark.parametrize("seed", range(5))
def test_any_contour_is_followed(seed: int) -> None:
    """Whatever comes out is proved; here it must also come out."""
    outcome = cut(wandering(seed))

    assert outcome.result is not None, outcome.findings
    assert outcome.proof is not None
    assert outcome.proof.deviation < TOLERANCE


def test_nothing_is_written_of_what_is_not_known() -> None:
    """The step alone, without those that home: nobody knows how high the first rapid goes."""
    plan, registry = planned("knife-seals")
    alone = replace(plan, steps=tuple(step for step in plan.steps if step.name == "drag-knife"))
    job = "G21\nG90 G17 G94\nG0 X50 Y50\nG0 Z1\nG1 Z-3 F400\nG1 X90 F900\nG0 Z6\nM2\n"
    outcome = prepare_job("job.nc", job.encode(), alone, registry)

    assert [step.name for step in outcome.steps] == ["drag-knife"]
    assert outcome.job is not None
    lines = [line.text for line in outcome.job.program]
    assert "G0 X50.45 Y50" in lines
    assert "G1 X90.45 Y50 F900" in lines


@pytest.mark.parametrize("job", ["", "M2\n", "G21 G90\nG0 Z5\nM2\n"])
def test_a_job_that_cuts_nothing(job: str) -> None:
    plan, registry = planned("knife-seals")
    alone = replace(plan, steps=tuple(step for step in plan.steps if step.name == "drag-knife"))

    assert "step-failed" not in [
        finding.name for finding in prepare_job("job.nc", job.encode(), alone, registry).findings
    ]


def test_words_for_the_spindle_go() -> None:
    job = JOB.replace("G0 Z6.\n", "M3 S12000\nG0 Z6.\n", 1).replace("M30", "M5\nM30")
    result = cut(job).result

    assert result is not None
    assert not [line.text for line in result if line.has("M", 3, 4, 5) or line.has("S")]


def test_comments_of_lines_stay() -> None:
    job = HEAD + "G1 X90 Y50 F900 (ALONG)\nG1 X90 Y90 (UP)\nG0 Z6\nM30\n"
    lines = own(cut(job))

    assert "G1 X90.45 Y50 F900 (ALONG)" in lines
    assert "G1 X90 Y90.45 F900 (UP)" in lines


REFUSED = {
    "a slanting plunge": HEAD.replace("G1 Z-3 F400\n", "") + "G1 X70 Y50 Z-3 F400\n",
    "a plunge above the bite": HEAD.replace("Z-3", "Z-0.1") + "G1 X70 Y50\n",
    "a rise through the bite": HEAD + "G1 X70 Y50 Z-0.1\n",
    "a word of another kind": HEAD + "G1 X70 Y50 F900 M8\n",
    "an arc above the sheet": HEAD.replace("G1 Z-3 F400\n", "") + "G2 X70 Y50 I10 J0 F900\n",
    "a rapid in the sheet": HEAD + "G0 X70 Y50\n",
    "feeds as times": HEAD + "G93\nG1 X70 Y50 F9\nG94\n",
    "increments": HEAD + "G91\nG1 X20 Y0 F900\nG90\n",
}


@pytest.mark.parametrize("why", REFUSED)
def test_what_it_cannot_follow_is_refused(why: str) -> None:
    outcome = cut(REFUSED[why] + "G0 Z6\nM30\n")

    assert outcome.refused
    assert "step-unsuited" in [finding.name for finding in outcome.findings]


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("self.offset * cos(blade)", "0.9 * self.offset * cos(blade)"),
        ("pi / 2 if move.kind", "0 if move.kind"),
        ('f"G0 Z-{self.n(self.bite)}", *turning', '"G0 Z1", *turning'),
        ("self.least = tolerance / 4 / offset", "self.least = 0.9"),
        ("[*turning, text + self.feed(move.feed)]", "[text + self.feed(move.feed)]"),
    ],
)
def test_a_slip_in_the_step_is_found(right: str, wrong: str, tmp_path: Path) -> None:
    """The step with a fault in it, on the gallery's own job: nothing is written."""
    shop = shutil.copytree(RECIPES, tmp_path / "recipes")
    source = (shop / "drag_knife.py").read_text("utf-8")
    assert right in source
    (shop / "drag_knife.py").write_text(source.replace(right, wrong), "utf-8")
    plan, registry = planned("knife-seals", shop=shop)

    outcome = prepare_job("job.nc", JOB.encode(), plan, registry)

    assert outcome.result is None
    assert "contract-broken" in [finding.name for finding in outcome.findings]
