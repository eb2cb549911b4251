"""How a job cuts: each kind with a case that gives it, the nearest that must not, and bounds.

Sums are on paper from the demo's descriptions: the sheet machine cuts plywood of 17.7 to 18.1 with
a bit of 8, X and Y at F9000 at the most; its clamps lie at X-20 to 60 and X660 to 740.
"""

from __future__ import annotations

from dataclasses import replace
from math import cos, hypot, pi, sin
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pipeline.rehearsal.outcomes import line_of

from headrace.findings import Finding, Severity
from headrace.machine import Span
from headrace.outcome import Outcome
from headrace.plugins.registry import load_registry
from headrace.recipe import Plan, load_plan
from headrace.rehearsal.cutting.inside import gap, inside
from headrace.run import prepare_job

RECIPES = Path(__file__).parents[3] / "recipes"
REGISTRY = load_registry()
BENCH = load_plan(RECIPES / "bench-lids.yaml", REGISTRY)
RELAY = load_plan(RECIPES / "relay-frames.yaml", REGISTRY)
SHEET = load_plan(RECIPES / "speed-floor-boards.yaml", REGISTRY)

HEAD = "G21 G90 G17 G94\nM3 S18000\nG4 P6\nG0 Z35\nG0 X100 Y100\nZ5\n"
END = "G0 Z35\nM5\nM30\n"

NAMES = (
    "lines-too-quick",
    "contour-at-plunge-feed",
    "plunge-at-contour-feed",
    "chips-too-thin",
    "chips-too-thick",
    "cut-in-loose-part",
    "tab-thin",
)


def changed(plan: Plan, rate: float | None = None, **setup: Any) -> Plan:
    """A plan with other fields: `sheet` and `tool` are mappings of their own fields."""
    for part in ("sheet", "tool"):
        if part in setup:
            setup[part] = replace(getattr(plan.setup, part), **setup[part])
    machine = replace(plan.machine, line_rate=rate)
    return replace(plan, machine=machine, setup=replace(plan.setup, **setup))


def run(lines: str, plan: Plan = SHEET) -> Outcome:
    """The lines between a heading of six lines, which goes to X100 Y100 Z5, and an end."""
    return prepare_job("job.nc", (HEAD + lines + "\n" + END).encode(), plan, REGISTRY)


def found(name: str, lines: str, plan: Plan = SHEET) -> Finding | None:
    return next((finding for finding in run(lines, plan).findings if finding.name == name), None)


@pytest.mark.parametrize(
    ("recipe", "job"),
    [
        ("bench-lids", "lid.nc"),
        ("bench-lids", "handhold.nc"),
        ("relay-frames", "frame-side.nc"),
        ("relay-frames", "entrance-reducer.nc"),
        ("speed-floor-boards", "floor-board.tap"),
        ("speed-window", "window.ngc"),
        ("speed-excluder", "queen-excluder.nc"),
    ],
)
def test_the_jobs_of_the_gallery_cut_as_they_should(recipe: str, job: str) -> None:
    plan = load_plan(RECIPES / f"{recipe}.yaml", REGISTRY)
    outcome = prepare_job(job, (RECIPES / "jobs" / job).read_bytes(), plan, REGISTRY)

    assert not outcome.refused
    assert [finding.name for finding in outcome.findings if finding.name in NAMES] == []


# --- lines a second ---------------------------------------------------------------------------


def short_moves(count: int, step: float, feed: float, z: float = -1.0) -> str:
    """So many moves of `step` mm to the right, along a row at X100 to X500."""
    text = [f"G1 Z{z:g} F600", f"F{feed:g}"]
    text += [f"X{100 + step * number:.4f}" for number in range(1, count + 1)]
    return "\n".join(text)


@pytest.mark.parametrize(
    ("feed", "lines"),
    [(1200, None), (1206, None), (1212, 101), (2400, 200)],
)
def test_lines_a_second(feed: float, lines: int | None) -> None:
    """F1200 is 20 mm a second, and so a hundred moves of 0.2 (elementary)."""
    finding = found("lines-too-quick", short_moves(600, 0.2, feed), changed(SHEET, rate=100))

    assert (finding is not None) == (lines is not None)
    if finding is not None:
        assert f"has {lines} lines, and this controller carries out 100" in finding.what
        assert finding.severity is Severity.WARN


def test_the_feed_that_is_told_goes() -> None:
    plan = changed(SHEET, rate=100)
    finding = found("lines-too-quick", short_moves(600, 0.2, 2400), plan)

    assert finding is not None
    assert finding.remedy.startswith("F1200 or less goes smoothly here")
    assert line_of(finding) == 9
    assert "to line 208 " in finding.what
    assert found("lines-too-quick", short_moves(600, 0.2, 1200), plan) is None


@pytest.mark.parametrize(("feed", "noted"), [(2400, False), (2424, True)])
def test_without_the_field_it_is_asked_for_above_200(feed: float, noted: bool) -> None:
    outcome = run(short_moves(600, 0.2, feed))
    notes = [f for f in outcome.findings if "machine.line.rate" in f.what]

    assert [note.severity for note in notes] == ([Severity.NOTE] if noted else [])
    assert noted == any("keeps up with 202 lines" in note.what for note in notes)


def test_a_dwell_between_parts_two_seconds() -> None:
    rows = short_moves(60, 0.2, 3000).splitlines()
    plan = changed(SHEET, rate=50)

    assert found("lines-too-quick", "\n".join(rows), plan) is not None
    rows[32:32] = ["G4 P2", "G1"]
    assert found("lines-too-quick", "\n".join(rows), plan) is None


def test_moves_of_one_cycle_are_one_line() -> None:
    """A pecking cycle (RS274/NGC 3.5.16.4) makes many short moves of one line."""
    cycle = "G99 G83 X120 Y120 Z-10 R2 Q0.05 F2000\nG80"

    assert found("lines-too-quick", cycle, changed(SHEET, rate=3)) is None


def densest(ways: list[tuple[float, float]], feeds: list[float]) -> int:
    """The most moves that lie in one second, each as long as its way takes at its feed: tried from
    every move on, in the plainest way."""
    times = [hypot(x, y) * 60 / feed for (x, y), feed in zip(ways, feeds, strict=True)]
    most = 0
    for first in range(len(times)):
        total, number = 0.0, first
        while number < len(times) and total + times[number] <= 1.0 + 1e-9:
            total += times[number]
            number += 1
        most = max(most, number - first)
    return most


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(1, 60), st.integers(-60, 60), st.sampled_from([600, 1500, 4000])),
        min_size=20,
        max_size=200,
    ),
    st.integers(3, 60),
)
def test_the_densest_second_is_found(steps: list[tuple[int, int, int]], rate: int) -> None:
    def job(most: float) -> str:
        x, y, text = 10000, 20000, ["G1 Z-1 F30", "G4 P2", "G1"]
        for dx, dy, feed in steps:
            x, y = x + dx, y + dy
            text.append(f"X{x / 100:.2f} Y{y / 100:.2f} F{min(feed, most):g}")
        return "\n".join([*text, "G4 P2"])

    ways = [(dx / 100, dy / 100) for dx, dy, _ in steps]
    # the first way begins at X100 Y100
    ways[0] = (steps[0][0] / 100, 100 + steps[0][1] / 100)
    most = densest(ways, [feed for _, _, feed in steps])

    finding = found("lines-too-quick", job(9000), changed(SHEET, rate=rate))

    assert (finding is not None) == (most > rate)
    if finding is not None:
        assert f" has {most} lines" in finding.what
        slower = float(finding.remedy.split()[0].removeprefix("F"))
        assert found("lines-too-quick", job(slower), changed(SHEET, rate=rate)) is None


# --- feeds left over --------------------------------------------------------------------------


def contours(*feeds: tuple[str, str], cuts: int = 12) -> str:
    """Contours one beside the other: the words of each plunge, and of the first cut behind it."""
    text = []
    for number, (plunge, contour) in enumerate(feeds):
        y = 100 + 10 * number
        text += [f"G0 X100 Y{y}", "Z2", f"G1 Z-3{plunge}", f"X110{contour}"]
        text += [f"X{110 + 5 * cut}" for cut in range(1, cuts)]
        text += ["G0 Z5"]
    return "\n".join(text)


SOUND = (" F400", " F2400")


def test_a_contour_at_the_feed_of_its_plunge() -> None:
    finding = found("contour-at-plunge-feed", contours(*[SOUND] * 5, (" F400", "")))

    assert line_of(finding) == 6 + 5 * 16 + 4
    assert finding is not None
    assert finding.remedy.startswith("state F2400 ")
    assert "behind 5 other plunges it goes at F2400" in finding.what


@pytest.mark.parametrize(
    "feeds",
    [
        [SOUND] * 6,
        [(" F400", "")] * 6,
        [SOUND] * 2 + [(" F400", "")],
        [SOUND] * 5 + [(" F400", " F400")],
        [(" F1700", " F2400")] * 5 + [(" F1700", "")],
        [SOUND] * 3 + [(" F400", "")] * 3,
    ],
    ids=["sound", "all", "too few", "stated", "hardly slower", "as many"],
)
def test_contours_that_may_be_meant(feeds: list[tuple[str, str]]) -> None:
    assert found("contour-at-plunge-feed", contours(*feeds)) is None


def test_a_plunge_at_the_feed_of_the_contours() -> None:
    finding = found("plunge-at-contour-feed", contours(*[SOUND] * 5, ("", "")))

    assert line_of(finding) == 6 + 5 * 16 + 3
    assert finding is not None
    assert finding.remedy.startswith("state F400 ")
    assert "5 other plunges go at F400" in finding.what


@pytest.mark.parametrize(
    "feeds",
    [
        [SOUND] * 6,
        [SOUND] * 2 + [("", "")],
        [SOUND] * 3 + [("", "")] * 2,
        [(" F1700", " F2400")] * 5 + [("", "")],
        [*[SOUND] * 5, ("\nG1 Z-3.5 F400", " F2400")],
    ],
    ids=["sound", "too few", "nearly as many", "hardly slower", "goes on slower"],
)
def test_plunges_that_may_be_meant(feeds: list[tuple[str, str]]) -> None:
    assert found("plunge-at-contour-feed", contours(*feeds)) is None


def test_down_behind_a_tab_is_no_plunge() -> None:
    tab = "X115\nG1 Z-1\nX118\nZ-3\nX120"

    assert found("plunge-at-contour-feed", contours(*[SOUND] * 5) + "\n" + SIDE + tab) is None
    deeper = tab.replace("Z-3\n", "Z-4\n")
    finding = found("plunge-at-contour-feed", contours(*[SOUND] * 5) + "\n" + SIDE + deeper)
    assert line_of(finding) == 6 + 5 * 16 + 8


SIDE = "G0 X100 Y200\nZ2\nG1 Z-3 F400\nX110 F2400\n"


def test_ramps_are_no_plunges() -> None:
    ramp = "G0 X100 Y200\nZ2\nG1 X130 Z-3 F2400\nX160"

    assert found("plunge-at-contour-feed", contours(*[SOUND] * 5) + "\n" + ramp) is None


# --- chips ------------------------------------------------------------------------------------


CHIPS: dict[str, Any] = {"teeth": 2, "chip": Span(0.1, 0.1)}


@pytest.mark.parametrize(("speed", "feed"), [(18000, 3600), (24000, 4800)])
def test_feed_from_chip(speed: int, feed: int) -> None:
    """vf = n z fz, the handbook's formula: 18000 x 2 x 0.1 = 3600; 24000 x 2 x 0.1 = 4800."""
    plan = changed(SHEET, tool=CHIPS)

    def told(feed: float) -> list[str]:
        lines = f"S{speed}\nG4 P6\nG1 Z-3 F400\nX300 F{feed:g}"
        return [f.name for f in run(lines, plan).findings if f.name.startswith("chips")]

    assert told(feed) == []
    assert told(feed * 0.99) == ["chips-too-thin"]
    assert told(feed * 1.01) == ["chips-too-thick"]


def test_the_right_feeds_are_told() -> None:
    plan = changed(SHEET, tool={"teeth": 2, "chip": Span(0.05, 0.15)})
    finding = found("chips-too-thin", "G1 Z-3 F400\nX300 F900", plan)

    assert line_of(finding) == 8
    assert finding is not None
    assert "F900 at 18000 rev/min takes 0.025 mm a tooth, less than 0.05" in finding.what
    assert finding.remedy == "F1800 to F5400 is right at this speed"


@pytest.mark.parametrize(("slow", "told"), [(20, False), (23, True)])
def test_a_tenth_of_the_cut_may_lie_outside(slow: float, told: bool) -> None:
    """20 of 200 mm is a tenth."""
    plan = changed(SHEET, tool={"teeth": 2, "chip": Span(0.05, 0.15)})
    lines = f"G1 Z-3 F400\nX{100 + slow} F900\nX300 F3000"

    assert (found("chips-too-thin", lines, plan) is not None) == told


def test_ramps_count_and_plunges_do_not() -> None:
    plan = changed(SHEET, tool={"teeth": 2, "chip": Span(0.05, 0.15)})

    assert found("chips-too-thin", "G1 Z-14 F400\nX110 F3000", plan) is None
    assert found("chips-too-thin", "G1 X104 Z-14 F400\nX130 F3000", plan) is not None


def test_nothing_is_said_of_chips_without_the_chart() -> None:
    for tool in ({"teeth": 2}, {"chip": Span(0.05, 0.15)}, {}):
        outcome = run("G1 Z-3 F400\nX300 F100", changed(SHEET, tool=tool))
        assert [f for f in outcome.findings if "chip" in f.name or "chip" in f.what] == []


def test_a_relay_has_one_speed() -> None:
    plan = changed(RELAY, tool={"teeth": 2, "chip": Span(0.1, 0.1)})
    finding = found("chips-too-thin", "G1 Z-3 F400\nX300 F1800", plan)

    assert finding is not None
    assert finding.remedy == "F3600 to F3600 is right at this speed"


def test_by_hand_the_right_speeds_are_told() -> None:
    """1200 / (2 x 0.05) = 12000, 1200 / (2 x 0.15) = 4000."""
    plan = changed(BENCH, tool={"teeth": 2, "chip": Span(0.05, 0.15)})
    notes = [f for f in run("G1 Z-3 F400\nX300 F1200", plan).findings if "chips" in f.what]

    assert [(note.name, note.severity) for note in notes] == [("cannot-tell", Severity.NOTE)]
    assert "set 4000 to 12000 rev/min" in notes[0].remedy


# --- points in a loop -------------------------------------------------------------------------

numbers = st.integers(-50, 50)
corners = st.lists(st.tuples(numbers, numbers), min_size=3, max_size=12, unique=True)
points = st.lists(st.tuples(numbers, numbers), min_size=1, max_size=30)


@settings(max_examples=200, deadline=None)
@given(corners, points)
def test_points_inside_as_shapely_has_it(
    ring: list[tuple[int, int]], at: list[tuple[int, int]]
) -> None:
    polygon = shapely.Polygon(ring)
    line = np.array(ring, np.float64)
    first, last = line, np.roll(line, -1, axis=0)
    places = np.array(at, np.float64) + np.array([0.013, 0.017])
    spots = shapely.points(places)

    distances = gap(places, first, last)
    assert distances == pytest.approx(shapely.distance(spots, polygon.exterior), abs=1e-9)
    if polygon.is_valid:
        clear = distances > 1e-6
        assert (inside(places, first, last) == shapely.contains(polygon, spots))[clear].all()


def test_far_from_nothing() -> None:
    nothing = np.zeros((0, 2))

    assert gap(np.array([[1.0, 2.0]]), nothing, nothing).tolist() == [np.inf]
    assert inside(np.array([[1.0, 2.0]]), nothing, nothing).tolist() == [False]


# --- parts that come loose --------------------------------------------------------------------


def square(z: float, size: float = 60, tab: float | None = None) -> str:
    """Round a square from X200 Y200, down straight at its corner, with a tab in its first side."""
    far = 200 + size
    side = [f"X{far:g} F3000"]
    if tab is not None:
        side = ["X220 F3000", f"Z{tab:g} F800", "X230 F3000", f"Z{z:g} F800", f"X{far:g} F3000"]
    text = ["G0 X200 Y200", "Z2", f"G1 Z{z:g} F800", *side, f"Y{far:g}", "X200", "Y200", "G0 Z5"]
    return "\n".join(text)


def hole(x: float, y: float, z: float = -5) -> str:
    return f"G0 X{x:g} Y{y:g}\nZ2\nG1 Z{z:g} F800\nG0 Z5"


def test_a_hole_in_what_is_cut_free() -> None:
    finding = found("cut-in-loose-part", square(-18.2) + "\n" + hole(230, 230))

    assert line_of(finding) == 6 + 8 + 3
    assert finding is not None
    assert finding.severity is Severity.WARN
    assert "inside the loop of lines 10 to 13" in finding.what


@pytest.mark.parametrize(
    "lines",
    [
        hole(230, 230) + "\n" + square(-18.2),
        square(-18.2, tab=-14) + "\n" + hole(230, 230),
        square(-17.6) + "\n" + hole(230, 230),
        square(-18.2) + "\n" + hole(300, 230),
        square(-18.2) + "\n" + hole(200, 200),
        square(-18.2) + "\n" + hole(200.04, 230),
        square(-18.2) + "\n" + square(-18.2),
        square(-18.2).replace("Y200\nG0", "Y210\nG0") + "\n" + hole(230, 230),
        square(-18.2, size=8) + "\n" + hole(204, 204),
    ],
    ids=[
        "before", "tab", "not through", "outside", "in its corner", "in its way", "again",
        "open", "no piece",
    ],
)  # fmt: skip
def test_what_still_holds(lines: str) -> None:
    assert found("cut-in-loose-part", lines) is None


@pytest.mark.parametrize(
    "lines",
    [
        square(-17.7) + "\n" + hole(230, 230),
        square(-18.2) + "\n" + hole(200.3, 230),
        square(-18.2, tab=-17.8) + "\n" + hole(230, 230),
        square(-18.2).replace("Y200\nG0", "Y200.01\nG0") + "\n" + hole(230, 230),
        square(-18.2, size=9) + "\n" + hole(204.5, 204.5),
        square(-18.2).replace("\nG0 Z5", "\nX230 Y230\nX235\nG0 Z5"),
    ],
    ids=["thin sheet", "beside its way", "tab gone", "closed", "small piece", "goes on inside"],
)
def test_what_does_not(lines: str) -> None:
    """17.7 is the thinnest sheet; a bit of 8 leaves nothing of 8, and 1 of 9."""
    assert found("cut-in-loose-part", lines) is not None


def test_a_lead_out_is_no_cut_in_a_loose_part() -> None:
    lead_out = square(-18.2).replace("\nG0 Z5", "\nX205 Y205\nX204\nG0 Z5")

    assert found("cut-in-loose-part", lead_out) is None


def test_a_lead_out_in_a_corner_that_points_inwards() -> None:
    """An L: its inner corner lies deep in the box around it, and yet on its outline."""
    text = "G0 X230 Y230\nZ2\nG1 Z-18.2 F800\nX200 F3000\nY200\nX260\nY260\nX230\nY230\n"

    assert found("cut-in-loose-part", text + "X225 Y225\nX224\nG0 Z5") is None
    assert found("cut-in-loose-part", text + "X215 Y215\nX216\nG0 Z5") is not None


def pocket(*sizes: float) -> str:
    """Squares round X230 Y230 through the sheet, one behind the other without lifting."""
    text = ["G0 X230 Y230", "Z2", "G1 Z-18.2 F800", "F3000"]
    for half in sizes:
        low, high = 230 - half, 230 + half
        text += [f"X{low:g} Y{low:g}", f"X{high:g}", f"Y{high:g}", f"X{low:g}", f"Y{low:g}"]
    return "\n".join([*text, "G0 Z5"])


def test_a_pocket_is_cleared_from_within() -> None:
    """Where the way before has cleared the piece inside, a last round cuts nothing loose."""
    again = "G0 X212 Y230\nZ2\nG1 Z-18.2 F800\nX210.2 F3000\nG0 Z5"

    assert found("cut-in-loose-part", pocket(5, 10, 15, 20) + "\n" + again) is None
    assert found("cut-in-loose-part", pocket(20) + "\n" + again) is not None
    assert found("cut-in-loose-part", pocket(20, 10)) is not None


def test_a_clamp_on_the_piece_holds_it() -> None:
    lines = square(-18.2) + "\n" + hole(245, 245)
    clamp = replace((SHEET.setup.clamps or ())[0], low=(230.0, 100.0), high=(235.0, 235.0), top=1.0)
    plan = changed(SHEET, clamps=(clamp,))

    assert found("cut-in-loose-part", lines, plan) is None
    beside = replace(clamp, low=(270.0, 100.0), high=(275.0, 235.0))
    assert found("cut-in-loose-part", lines, changed(SHEET, clamps=(beside,))) is not None


def test_circles_and_later_stretches() -> None:
    """A whole circle in one line (RS274/NGC 3.5.3), and words of the spindle in between."""
    circle = "G0 X230 Y200\nZ2\nG1 Z-18.2 F800\nG3 X230 Y200 I0 J30 F3000\nG0 Z5\n"

    for between in ("", "S17000\nG4 P6\n", "G17\nM5\nM3 S18000\nG4 P6\n"):
        finding = found("cut-in-loose-part", circle + between + hole(230, 258))
        assert finding is not None
        assert "the loop of line 10," in finding.what
        assert found("cut-in-loose-part", circle + between + hole(230, 261)) is None


def test_without_the_diameter_it_is_asked_for() -> None:
    plan = changed(SHEET, tool={"diameter": None})
    outcome = run(square(-18.2) + "\n" + hole(230, 230), plan)

    assert "cut-in-loose-part" not in [f.name for f in outcome.findings]
    assert [f for f in outcome.findings if "still holds: setup.tool.diameter" in f.what]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(15, 90), min_size=3, max_size=14),
    st.tuples(st.integers(-90, 90), st.integers(-90, 90)),
    st.booleans(),
)
def test_stars_and_holes_as_shapely_has_it(
    arms: list[int], at: tuple[int, int], backwards: bool
) -> None:
    places = [
        (
            round(300 + arm * cos(2 * pi * number / len(arms)), 3),
            round(250 + arm * sin(2 * pi * number / len(arms)), 3),
        )
        for number, arm in enumerate(arms)
    ]
    way = [*places, places[0]][:: -1 if backwards else 1]
    text = [f"G0 X{way[0][0]} Y{way[0][1]}", "Z2", "G1 Z-18.2 F800", "F3000"]
    text += [f"X{x} Y{y}" for x, y in way[1:]] + ["G0 Z5"]
    star = shapely.Polygon(places)
    spot = shapely.Point(300 + at[0], 250 + at[1])
    beside = spot.distance(star.exterior)
    left, front, right, back = star.bounds
    if min(right - left, back - front) <= 8 or abs(beside - 0.05) < 1e-3:
        return
    # a piece that is cut up into itself holds nothing to cut in either way
    finding = found("cut-in-loose-part", "\n".join(text) + "\n" + hole(spot.x, spot.y))

    assert (finding is not None) == (star.contains(spot) and beside > 0.05)


@pytest.mark.parametrize(
    ("tab", "what"),
    [
        (-14.0, None),
        (-17.29, None),
        (-17.3, "leaves 0.4 mm in a sheet of 17.7, and the sheets differ by 0.4"),
        (-17.6, "leaves 0.1 mm in a sheet"),
        (-17.7, "leaves nothing in a sheet"),
        (-17.9, "leaves nothing in a sheet"),
    ],
)
def test_thin_tabs(tab: float, what: str | None) -> None:
    """The sheet is 17.7 to 18.1 thick, so a tab at Z-17.3 is 0.4 to 0.8 high."""
    finding = found("tab-thin", square(-18.2, tab=tab))

    assert (finding is not None) == (what is not None)
    if finding is not None and what is not None:
        assert what in finding.what
        assert line_of(finding) == 11
        # the sheets differ by 0.4, and half a millimetre more: 17.7 - 0.9
        assert finding.remedy == "let the tabs end at Z-16.8 or higher"


def test_one_thick_tab_is_enough() -> None:
    lines = square(-18.2, tab=-17.8).replace("Y260\n", "Y230\nZ-14 F800\nY235\nZ-18.2\nY260\n")

    assert found("tab-thin", lines) is None
    assert found("cut-in-loose-part", lines + "\n" + hole(230, 230)) is None


def test_tabs_of_a_job_that_is_zeroed_on_the_bed() -> None:
    """With Z0 on the bed a tab is as high as its number says."""
    plan = changed(SHEET, sheet={"zero": "bed"})
    plan = replace(plan, steps=())
    lines = square(-0.2, tab=0.4).replace("Z2", "Z20").replace("Z5", "Z25")
    high = lines.replace("Z0.4", "Z0.5")

    assert found("tab-thin", lines, plan) is not None
    assert found("tab-thin", high, plan) is None
