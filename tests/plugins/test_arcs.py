"""Arcs cut into lines, said in other forms, and found again in lines.

The number of chords is checked against handbook values: a chord over the angle t lies
R (1 - cos(t / 2)) inside an arc of radius R (elementary geometry). Distances between curves are
Shapely's, and what a line means comes from RS274/NGC 3.5.3.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pipeline.proof.sources import DIALECT, sources
from plugins.shop import TRANSFORMS, job, machine, refused, text, through
from shapely import LineString, hausdorff_distance

from headrace import Job, JobRefused
from headrace.language import STANDARD
from headrace.language.trace import CCW, CW, LINE
from headrace.machine import ArcWords
from headrace.program import Cause
from headrace.proof import Version, prove_run, prove_step
from headrace_transforms.arcs_to_lines import needs_arcs_written
from headrace_transforms.paths.chords import fewest

Floats = npt.NDArray[np.float64]
ALL = {"which": "all"}
HEAD = "G21 G90 G17 G94\nM3 S18000\nG0 X0 Y0 Z5\nG1 Z-1 F600\n"
TAIL = "G0 Z5\nM5\nM30\n"


def on(arcs: dict[str, Any], lines: str, **changes: Any) -> Job:
    """A job on the relay machine, which reads such arcs."""
    source = job(HEAD + lines + TAIL, "relay", changes={"arcs": arcs, **changes})
    # jobs say F along the path (RS274/NGC 2.1.2.5), whatever the machine makes of it
    return replace(source, dialect=replace(source.dialect, projected_feed=False))


def body(done: Job) -> list[str]:
    """The lines between head and tail."""
    return text(done)[4:-3]


def arc_count(done: Job) -> int:
    return sum(len(block.arcs.rows) for block in done.trace.blocks if block.arcs is not None)


def drawn(done: Job, fine: float = 0.004) -> Floats:
    """Where the cuts of a job go in X and Y, arcs drawn in steps of so many rad (n, 2)."""
    points: list[tuple[float, float]] = []
    for block in done.trace.blocks:
        arcs = {} if block.arcs is None else {
            int(row): at for at, row in enumerate(block.arcs.rows)
        }  # fmt: skip
        x, y = block.starts(0), block.starts(1)
        for row, kind in enumerate(block.kind.tolist()):
            if kind not in (LINE, CW, CCW):
                continue
            points.append((x[row], y[row]))
            if row in arcs:
                assert block.arcs is not None
                at = arcs[row]
                u, v = block.arcs.centre_u[at], block.arcs.centre_v[at]
                turn = block.arcs.turn[at] * (-1 if kind == CW else 1)
                begun = math.atan2(y[row] - v, x[row] - u)
                radius = math.hypot(x[row] - u, y[row] - v)
                for part in np.linspace(0, turn, max(2, int(abs(turn) / fine)))[1:-1]:
                    points.append((u + radius * math.cos(begun + part),
                                   v + radius * math.sin(begun + part)))  # fmt: skip
            points.append((block.ends[0][row], block.ends[1][row]))
    return np.array(points)


def apart(first: Job, second: Job) -> float:
    """How far two cut paths lie apart (mm)."""
    lines = [LineString(drawn(each)) for each in (first, second)]
    return float(hausdorff_distance(*lines))


# chords


@pytest.mark.parametrize(
    ("radius", "tolerance", "count"),
    [(25, 0.01, 112), (5, 0.01, 50), (100, 0.01, 223), (3, 0.002, 87), (3.175, 0.0127, 36)],
)
def test_full_circle_takes_the_handbook_number_of_chords(
    radius: float, tolerance: float, count: int
) -> None:
    turn = 2 * math.pi
    found = fewest(*(np.array([value]) for value in (radius, turn, 0.0, tolerance)))

    assert found.tolist() == [count]
    assert radius * (1 - math.cos(turn / count / 2)) <= tolerance
    assert radius * (1 - math.cos(turn / (count - 1) / 2)) > tolerance
    done = through(
        on({}, f"G1 X{radius}\nG2 X{radius} Y0 I-{radius} J0\n"),
        ("arcs-to-lines", {**ALL, "tolerance": tolerance}),
    )
    assert len(body(done)) == count + 1


@given(st.floats(0.5, 80), st.floats(0.3, 6.2), st.floats(-30, 30), st.floats(0.002, 0.1))
@settings(max_examples=30, deadline=None)
def test_chords_of_a_helix_stay_within_the_tolerance(
    radius: float, turn: float, rise: float, tolerance: float
) -> None:
    """Points along the chords against a dense helix, by NumPy."""
    count = int(fewest(*(np.array([v]) for v in (radius, turn, rise, tolerance)))[0])
    angle = np.linspace(0, turn, count + 1)
    ends = np.column_stack([radius * np.cos(angle), radius * np.sin(angle), rise * angle / turn])
    one = ends[0] + np.linspace(0, 1, 41)[:, None] * (ends[1] - ends[0])
    fine = np.linspace(0, turn / count, 4001)
    helix = np.column_stack([radius * np.cos(fine), radius * np.sin(fine), rise * fine / turn])
    distance = np.linalg.norm(one[:, None] - helix[None], axis=2).min(axis=1).max()

    assert distance <= tolerance * 1.001


def test_what_is_shown_in_its_description() -> None:
    done = through(on({}, "N7 G2 X10 Y0 R5 F900\n"), ("arcs-to-lines", ALL))

    assert body(done)[:2] == ["N7 G1 X0.0394 Y0.6267 F900", "X0.1571 Y1.2434"]
    assert body(done)[-1] == "X10 Y0"


@given(st.integers(0, 10**6), st.sampled_from([0.002, 0.01, 0.05]))
@settings(max_examples=12, deadline=None)
def test_path_lies_as_far_away_as_it_may_for_shapely(seed: int, tolerance: float) -> None:
    rng = random.Random(seed)
    lines = []
    for _ in range(4):
        i, j = rng.uniform(-30, 30), rng.uniform(-30, 30)
        turn = rng.uniform(0.2, 6)
        angle = math.atan2(-j, -i) - turn
        radius = math.hypot(i, j)
        x, y = i + radius * math.cos(angle), j + radius * math.sin(angle)
        lines.append(f"G1 X0 Y0\nG2 X{x:.6f} Y{y:.6f} I{i:.6f} J{j:.6f}\n")
    source = on({}, "".join(lines))
    done = through(source, ("arcs-to-lines", {**ALL, "tolerance": tolerance}))

    assert arc_count(done) == 0
    assert apart(source, done) <= tolerance * 1.01


@pytest.mark.parametrize(
    ("line", "end"),
    [
        # RS274/NGC 3.5.3.2, from (7, 7): centre (10, 11), radius 5
        ("G17 G2 x10 y16 i3 j4 z9", (10, 16, 9)),
        # RS274/NGC 3.5.3.1
        ("G17 G2 x10 y15 r20 z5", (10, 15, 5)),
    ],
)
def test_examples_of_the_standard(line: str, end: tuple[float, float, float]) -> None:
    source = on({}, f"G1 X7 Y7\n{line}\n")
    done = through(source, ("arcs-to-lines", ALL))

    assert arc_count(done) == 0
    last = done.trace.starts(0)[-1], done.trace.starts(1)[-1], done.trace.starts(2)[-1]
    assert last == pytest.approx(end, abs=1e-9)
    assert apart(source, done) <= 0.0101


def test_ends_keep_all_their_places() -> None:
    done = through(on({}, "G3 X1.23456789 Y4.000000001 R3\n"), ("arcs-to-lines", ALL))

    assert body(done)[-1] == "X1.23456789 Y4.000000001"


def test_increments_do_not_add_their_roundings_up() -> None:
    rings = "G91\n" + "G2 X3.3333 Y3.3333 I3.3333\n" * 50 + "G90\n"
    source = on({}, rings)
    done = through(source, ("arcs-to-lines", ALL))
    sums = [Decimal(0), Decimal(0)]
    for line in body(done)[1:-1]:
        for word in line.split():
            if word[0] in "XY":
                sums["XY".index(word[0])] += Decimal(word[1:])

    assert arc_count(done) == 0
    assert sums == [Decimal("166.665"), Decimal("166.665")]


def test_feed_is_said_once_and_holds_for_every_chord() -> None:
    done = through(on({}, "G3 X20 R12 F345\nX0 R12\n"), ("arcs-to-lines", ALL))

    assert sum("F" in line for line in body(done)) == 1
    assert set(done.trace.feed[2:-1].tolist()) == {345.0}


def test_what_stands_on_the_line_of_an_arc_stays_where_it_acts() -> None:
    """Coolant acts before the motion and a stop behind it (RS274/NGC 3.8, table 8)."""
    lines = "N10 G2 X9 R9 M8 (rim)\n/G3 X0 R9\ng1 x0 y5\n(a) G2 X8 R9 (b) M0 (LOOK)\n"
    done = through(on({}, lines), ("arcs-to-lines", {**ALL, "tolerance": 0.5}))

    assert body(done) == [
        "N10 G1 X4.5 Y1.2058 M8 (rim)",
        "X9 Y0",
        "/G1 X4.5 Y1.2058",
        "/X0 Y0",
        "g1 x0 y5",
        "G1 X4 Y5.9377",
        "X8 Y5 M0 (a) (b) (LOOK)",
    ]


def test_lines_of_an_odd_style_keep_it() -> None:
    source = job((HEAD + "n10g2x9y0r9f900\nN20G2 X0 Y0 R9\n" + TAIL).replace("\n", "\r\n"), "relay")
    done = through(source, ("arcs-to-lines", {**ALL, "tolerance": 0.5}))

    lines = done.program.to_bytes().split(b"\r\n")
    assert lines[4:6] == [b"n10g1x4.5y1.2058f900", b"x9y0"]
    assert lines[6:8] == [b"N20G1 X4.5 Y-1.2058", b"X0 Y0"]


@pytest.mark.parametrize("which", ["all", "lacking"])
def test_a_job_with_nothing_to_do_passes_untouched(which: str) -> None:
    source = on({}, "G1 X5\nG1 Y5\n" if which == "all" else "G2 X9 R9\nX0 I-4.5\n")
    edits = list(TRANSFORMS["arcs-to-lines"].given(source, {"which": which}))

    assert edits == []


def test_many_lines_are_written_as_few_are() -> None:
    """In bulk and one by one the same lines come out: comments send them the other way."""
    arcs = [f"G{2 + at % 2} X{at % 7 + 1}.5 Y{at % 5} R9{'.' * (at % 2)}5" for at in range(200)]
    plain = through(on({}, "\n".join(arcs) + "\n"), ("arcs-to-lines", ALL))
    noted = through(on({}, "\n".join(f"{arc} (c)" for arc in arcs) + "\n"), ("arcs-to-lines", ALL))

    assert [line.replace(" (c)", "") for line in text(noted)] == text(plain)


# what a machine lacks


def test_motion_word_comes_back_to_arcs_that_stay() -> None:
    """Only helices are cut here; the arc behind one relied on its G2."""
    source = on({"helix": False}, "G2 X9 Z-2 R9\nX0 R9\nX9 R9\nG3 X0 R9\n")
    done = through(source, ("arcs-to-lines", {"tolerance": 0.3}))

    assert body(done)[-3:] == ["G2 X0 R9", "X9 R9", "G3 X0 R9"]
    assert arc_count(done) == 3


@pytest.mark.parametrize(
    ("arcs", "line", "expected"),
    [
        ({"forms": ["centre"]}, "G2 X9 Y0 R4.5", ["G2 X9 Y0 I4.5 J0"]),
        ({"forms": ["centre"]}, "G3 X9 Y0 R-9", ["G3 X9 Y0 I4.5 J-7.7942"]),
        ({"forms": ["radius"]}, "G2 X9 Y9 I9 J0 F300", ["G2 X9 Y9 R9 F300"]),
        ({"forms": ["radius"]}, "G3 X9 Y-9 I9 J0", ["G3 X9 Y-9 R9"]),
        ({"forms": ["radius"]}, "G2 X9 Y-9 I9 J0", ["G2 X9 Y-9 R-9"]),
        # a half circle, which a radius does not determine well (RS274/NGC 3.5.3.1)
        ({"forms": ["radius"]}, "G2 X18 Y0 I9 J0", ["G2 X9 Y9 R9", "X18 Y0 R9"]),
        (
            {"forms": ["radius"]},
            "G2 X0 Y0 I10",
            ["G2 X15 Y8.6603 R10", "X15 Y-8.6603 R10", "X0 Y0 R10"],
        ),
        ({"full-circles": False}, "G2 X0 Y0 I10", ["G2 X20 Y0 I10 J0", "X0 Y0 I-10 J0"]),
        ({"full-circles": False}, "G2 X9 Y9 I9", None),
        ({"planes": ["G17"]}, "G2 X9 Y9 I9", None),
        ({"feed": "projection"}, "G2 X9 Y9 I9", None),
    ],
)
def test_form_that_a_machine_lacks(
    arcs: dict[str, Any], line: str, expected: list[str] | None
) -> None:
    source = on(arcs, line + "\n")
    done = through(source, "arcs-to-lines")

    assert body(done) == (expected or [line])
    assert apart(source, done) <= 0.0101
    assert needs_arcs_written(source) == (None if expected is None else {"which": "lacking"})
    assert needs_arcs_written(done) is None


@pytest.mark.parametrize(
    ("arcs", "line"),
    [
        ({"forms": []}, "G2 X9 Y9 I9"),
        ({"planes": ["G18"]}, "G2 X9 Y9 I9"),
        ({"helix": False}, "G2 X9 Y9 Z-3 I9"),
        # along what is seen of a helix F would be another feed: lines have but one
        ({"feed": "projection"}, "G2 X9 Y9 Z-3 I9"),
    ],
)
def test_arc_that_a_machine_cannot_go_becomes_lines(arcs: dict[str, Any], line: str) -> None:
    source = on(arcs, line + "\n")
    done = through(source, "arcs-to-lines")

    assert arc_count(done) == 0
    assert needs_arcs_written(source) == {"which": "lacking"}
    assert apart(source, done) <= 0.0101


def test_centres_as_places() -> None:
    source = on({"forms": ["centre"]}, "G90.1\nG1 X10 Y10\nG2 X20 Y10 R5\nG3 X20 Y10 I25 J10\n")
    done = through(source, "arcs-to-lines")

    assert body(done)[2] == "G2 X20 Y10 I15 J10"
    assert arc_count(through(source, ("arcs-to-lines", ALL))) == 0


MACHINES = {
    "none": ArcWords(centre=False, radius=False),
    "centre": ArcWords(radius=False),
    "radius": ArcWords(centre=False),
    "flat": ArcWords(planes=("G17",), helix=False, full_circles=False),
}


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("seed", range(3))
def test_any_job_keeps_its_path(name: str, seed: int) -> None:
    """Generated jobs in inches and millimetres, increments, all planes and both forms: both proofs
    hold, what is left is what the machine reads, and refusals say why."""
    rng = random.Random(f"{name} {seed}")
    described = replace(machine("relay"), arcs=MACHINES[name])
    transform, done = TRANSFORMS["arcs-to-lines"], 0
    for source in sources(rng, 25):
        before = Job(source.program, described, None, STANDARD, source.start)  # type: ignore[arg-type]
        options = {"tolerance": rng.choice((0.005, 0.01, 0.1))}
        try:
            edits = list(transform.given(before, options))
        except JobRefused:  # every refusal has its own check
            continue
        contract = transform.contract(before, options)
        program = source.program.edited(edits, Cause("arcs", 1))
        after = before.with_program(program)
        step = prove_step(
            Version(source.program, before.trace), Version(program, after.trace), contract
        )
        assert step.breaches == ()
        assert not [f for f in after.trace.findings if f.severity == "refuse"]
        assert needs_arcs_written(after) is None
        if source.followed:
            assert prove_run(source.program, [program], contract, False, DIALECT).breach is None
        done += bool(edits)
    assert done > 5


@pytest.mark.parametrize(
    ("name", "lines", "changes"),
    [
        ("arc-timed", "G93 G2 X9 R9 F3\nG94\n", {}),
        ("arc-swings", "G2 X9 R9 A20\n", {}),
        ("arc-start-optional", "/G1 X1\nG2 X9 R9\n", {}),
        ("arc-places-few", "G2 X9 R9\n", {"decimals": 1}),
        ("arc-called", "M98 P7\n", {}),
    ],
)
def test_what_cannot_be_right_is_refused(name: str, lines: str, changes: dict[str, Any]) -> None:
    source = job(
        HEAD.replace("G0 X0 Y0 Z5", "G92 X0 Y0 Z5") + lines + TAIL + "O7\nG2 X9 R9\nM99\n",
        "relay",
        changes=changes,
    )
    assert refused(source, ("arcs-to-lines", ALL)).name == name


def test_optional_arc_behind_an_optional_line_is_no_matter() -> None:
    """With the switch one way both are left out, with the other both are there."""
    source = on({}, "/G1 X1\n/G2 X9 R9\nG1 X5 Y3\nG2 X9 R9\n")

    assert arc_count(through(source, ("arcs-to-lines", ALL))) == 0


# lines to arcs


def polyline(*turns: float, radius: float = 20.0, count: int = 24, rise: float = 0.0) -> list[str]:
    """Arcs from (0, 0), one behind the other, each in so many lines."""
    x, y, z, angle, lines = 0.0, 0.0, -1.0, 0.0, []
    for turn in turns:
        u, v = x - radius * math.cos(angle), y - radius * math.sin(angle)
        for part in range(1, count + 1):
            x = u + radius * math.cos(angle + turn * part / count)
            y = v + radius * math.sin(angle + turn * part / count)
            height = f" Z{z + rise * part / count:.4f}" if rise else ""
            lines.append(f"G1 X{x:.4f} Y{y:.4f}{height}")
        angle, z = angle + turn + math.pi, z + rise
    return lines


def recovered(lines: list[str], tolerance: float = 0.012, **options: Any) -> tuple[Job, Job]:
    source = on({}, "\n".join(lines) + "\n")
    return source, through(source, ("lines-to-arcs", {"tolerance": tolerance, **options}))


@pytest.mark.parametrize("turn", [0.8, -0.8, 2.9, -2.9])
@pytest.mark.parametrize("rise", [0.0, -1.5])
def test_arc_is_found_in_its_lines(turn: float, rise: float) -> None:
    lines = polyline(turn, rise=rise, count=60)
    source, done = recovered(lines, 0.02)

    assert len(body(done)) == 1
    assert body(done)[0].startswith("G3 " if turn > 0 else "G2 ")
    block = next(block for block in done.trace.blocks if block.arcs is not None)
    assert block.arcs is not None
    assert (block.arcs.centre_u[0], block.arcs.centre_v[0]) == pytest.approx((-20, 0), abs=1e-3)
    assert block.arcs.turn[0] == pytest.approx(abs(turn), abs=1e-4)
    assert apart(source, done) <= 0.02


@given(
    st.lists(st.floats(0.4, 3.0), min_size=1, max_size=4),
    st.floats(2, 60),
    st.integers(6, 90),
    st.floats(0, 0.004),
    st.integers(0, 10**6),
)
@settings(max_examples=20, deadline=None)
def test_found_arcs_lie_within_the_tolerance(
    turns: list[float], radius: float, count: int, noise: float, seed: int
) -> None:
    """Both proofs, Shapely's distance, and the test of both radii (RS274/NGC 3.5.3.2) with the
    numbers as they are written."""
    rng = random.Random(seed)
    lines = []
    for line in polyline(*turns, radius=radius, count=count):
        x, y = (float(word[1:]) + rng.uniform(-noise, noise) for word in line.split()[1:3])
        lines.append(f"G1 X{x:.4f} Y{y:.4f}")
    source, done = recovered(lines, 0.01)
    contract = TRANSFORMS["lines-to-arcs"].contract(source, {"tolerance": 0.01})

    assert prove_run(source.program, [done.program], contract, False, DIALECT).breach is None
    assert apart(source, done) <= 0.0102
    here = np.zeros(2)
    for line in body(done):
        words = {word[0]: float(word[1:]) for word in line.split()}
        end = np.array([words.get("X", here[0]), words.get("Y", here[1])])
        if "I" in words or "J" in words:
            centre = here + np.array([words.get("I", 0.0), words.get("J", 0.0)])
            radii = [np.linalg.norm(place - centre) for place in (here, end)]
            assert abs(radii[0] - radii[1]) <= 0.002
        here = end


def test_full_circle_of_lines_becomes_arcs_of_less_than_a_turn() -> None:
    source, done = recovered(polyline(2 * math.pi, count=100), 0.02)

    assert [line[:2] for line in body(done)] == ["G3", "G3"]
    assert apart(source, done) <= 0.02


@pytest.mark.parametrize(
    "change",
    [
        {11: "G1 X{x} Y{y} (knot)"},
        {11: "G1 X{x} Y{y} F500"},
        {11: "G1 X{x} Y{y} M8"},
        {11: "G0 X{x} Y{y}"},
        {11: "/G1 X{x} Y{y}"},
        {11: "(note)\nG1 X{x} Y{y}"},
        {11: "G4 P1\nG1 X{x} Y{y}"},
    ],
)
def test_what_says_more_than_a_move_is_a_border(change: dict[int, str]) -> None:
    lines = polyline(2.0)
    at, form = next(iter(change.items()))
    x, y = (word[1:] for word in lines[at].split()[1:3])
    lines[at] = form.format(x=x, y=y)
    source, done = recovered(lines, 0.05)

    assert arc_count(done) >= 1
    assert len(body(done)) >= 2
    for note in ("(knot)", "(note)", "M8", "G4 P1", "F500", "G0 X", "/G1"):
        assert "\n".join(text(source)).count(note) == "\n".join(text(done)).count(note)


@pytest.mark.parametrize(
    "lines",
    [
        ["G91", *polyline(2.0), "G90"],
        ["G18", *polyline(2.0)],
        polyline(2.0, count=3),
        [f"G1 X{at} Y0" for at in range(1, 30)],
        [f"G1 X{at} Y{at % 2}" for at in range(1, 30)],
    ],
    ids=["increments", "another plane", "few", "straight", "zigzag"],
)
def test_lines_that_stay_lines(lines: list[str]) -> None:
    source, done = recovered(lines)

    assert done.program.to_bytes() == source.program.to_bytes()


def test_motion_word_comes_back_to_lines_behind_an_arc() -> None:
    lines = [line.replace("G1 ", "") for line in polyline(2.0, count=40)]
    _, done = recovered([*lines, "X50 Y50", "X60"], 0.02)

    assert body(done)[1:] == ["G1 X50 Y50", "X60"]


def test_steps_that_rise_unevenly_are_no_helix() -> None:
    lines = polyline(2.0, count=40, rise=-4)
    lines[20] = lines[20].replace(lines[20].split()[3], "Z-3.2")
    _, done = recovered(lines, 0.02)

    assert "G1 " + lines[20][3:] in body(done)


def test_machine_that_reads_no_helix_keeps_the_lines_of_one() -> None:
    lines = "\n".join(polyline(2.0, count=60, rise=-1)) + "\n"
    source = on({"helix": False}, lines)

    assert through(source, "lines-to-arcs").program is source.program
    assert refused(on({"forms": ["radius"]}, lines), "lines-to-arcs").name == "arcs-not-read"


@pytest.mark.parametrize("tolerances", [(0.01, 0.0125), (0.004, 0.006)])
def test_there_and_back_again(tolerances: tuple[float, float]) -> None:
    """Arcs, lines, arcs: as many as there were, within both tolerances."""
    arcs = "G2 X20 Y0 I10 J0\nG3 X20 Y30 I0 J15\nG1 X0\nG2 X0 Y10 R25\n"
    source = on({}, arcs)
    lines = through(source, ("arcs-to-lines", {**ALL, "tolerance": tolerances[0]}))
    done = through(lines, ("lines-to-arcs", {"tolerance": tolerances[1]}))

    assert len(body(lines)) > 60
    assert [line[:2] for line in body(done)] == ["G2", "G3", "G1", "G2"]
    assert apart(source, done) <= sum(tolerances)
