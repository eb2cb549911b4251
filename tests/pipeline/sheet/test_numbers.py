"""Numbers for the operator: of the demo's lid by hand, of the trade's worked examples, and of the
whole gallery against a second interpreter and Shapely."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pipeline.sheet.gathered import BENCH, RECIPES, RELAY, alone, every, files, gallery
from reference import Options, Start, run
from reference.arcs import PLANE_AXES
from reference.records import Move
from shapely.geometry import LineString, MultiLineString, MultiPoint

from headrace.machine import Span
from headrace.sheet.facts import FileFacts, Reach

Floats = npt.NDArray[np.float64]

HEAD = "G21 G90 G94 G17\nM3 S18000\nG0 Z30\n"
END = "G0 Z30\nM5\nM30\n"


def near(span: Span | None, least: float, most: float, by: float = 1e-6) -> bool:
    return span == Span(pytest.approx(least, abs=by), pytest.approx(most, abs=by))


def reach(facts: FileFacts, axis: str) -> Reach:
    return next(reach for reach in facts.reaches if reach.axis == axis)


# --- the lid, by hand from recipes/jobs/lid.nc and its set-up -----------------------------------


def test_how_far_the_lid_is_cut() -> None:
    """Four vents, each six times a plunge of 3.05 and a circle of radius 2.5. Around the outside,
    six passes of 482 and 406 twice with corners of radius 15; to each of them two ramps of 60 that
    fall 1.525; six tabs in the last two passes, at whose ends the bit goes down again: from -14.3
    to -15.25 and to -18.3. Going up cuts nothing."""
    (use,) = files("bench-lids")[0].tools
    vents = 4 * 6 * (3.05 + 2 * math.pi * 2.5)
    passes = 6 * (2 * 482 + 2 * 406 + 2 * math.pi * 15)
    ramps = 6 * 2 * math.hypot(60, 1.525)
    tabs = 6 * (15.25 - 14.3) + 6 * (18.3 - 14.3)

    assert use.cut == pytest.approx(vents + passes + ramps + tabs, abs=1e-4)


def test_the_feeds_of_the_lid_by_what_they_are_for() -> None:
    (use,) = files("bench-lids")[0].tools

    assert use.feeds == Span(900, 1800)  # F900 in the vents, F1800 around
    assert use.plunges == Span(250, 400)  # F250 into the vents, F400 behind the tabs
    assert use.ramps == Span(400, 400)
    assert (use.speeds, use.dial) == ((16000,), "3")  # N70 S16000; mark 3 is 17000, mark 2 12500
    assert use.chip is None  # nothing tells how many teeth it has
    assert use.first_line == 47  # G1 Z-3.050 F250: the line as kept/lids/LID.NC has it


def test_the_depth_of_the_lid() -> None:
    """Z-18.3 in a sheet of 17.6 to 18.1 goes 0.2 to 0.7 into the spoilboard."""
    depth = files("bench-lids")[0].depth

    assert depth.deepest == Span(18.3, 18.3)
    assert depth.thickness == Span(17.6, 18.1)
    assert near(depth.left, -0.7, -0.2)
    assert (depth.spoilboard, depth.allowed) == (15, None)


def test_the_reaches_of_the_lid() -> None:
    """The sheet's corner lies at X20 Y20 and the parking place at X5 Y550 of a travel of 620 and
    560. The top of the sheet is 108 - 32 - 18.1 to 108 - 28 - 17.6 below the top of Z, which is
    57.9 to 62.4; Z55.9 lifts to 2 below it, Z-18.3 goes to 80.7 below it, of 85."""
    facts = files("bench-lids")[0]
    x, y, z = (reach(facts, axis) for axis in "XYZ")

    assert near(x.cuts, 32, 544)
    assert near(y.cuts, 32, 468)
    assert near(z.cuts, -18.3, 0)
    assert (x.stock, y.stock, z.stock) == (Span(0, 580), Span(0, 500), Span(-18.1, 0))
    assert near(x.machine, 5, 20 + 544)
    assert near(y.machine, 20, 550)
    assert near(z.machine, -80.7, -2)
    assert (x.spare, y.spare, z.spare) == pytest.approx((5, 560 - 550, 2))


# --- the trade's worked examples ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("unit", "speed", "teeth", "feed", "chip"),
    [
        (1, 18000, 2, 3600, 0.1),
        (1, 24000, 2, 4800, 0.1),
        (25.4, 16000, 2, 200, 0.00625),
        (25.4, 14000, 2, 300, 300 / 14000 / 2),
        (25.4, 21000, 1, 42, 0.002),
    ],
)
def test_chips_are_the_feed_by_speed_and_teeth(
    unit: float, speed: float, teeth: int, feed: float, chip: float
) -> None:
    """fz = vf / (n z): feed charts of cutter shops (3600 mm/min at 18000 with two teeth of 0.1;
    200 in/min at 16000 with two teeth, printed as 0.006 in; 42 in/min at 21000 with one tooth of
    0.002 in)."""
    units = "G21" if unit == 1 else "G20"
    facts = alone(
        f"{units} G90 G94 G17\nM3 S{speed}\nG0 Z1\nG0 X0 Y0\nG1 Z-0.1 F20\nX2 F{feed}\n{END}",
        changes=[f"setup.tool.teeth={teeth}", "setup.tool.diameter=6"],
    )
    (use,) = facts.tools

    assert near(use.chip, chip * unit, chip * unit)
    assert near(use.feeds, feed * unit, feed * unit)


def test_a_ramp_of_three_degrees() -> None:
    """3 deep at 3 degrees: 57.24 along X and 57.32 along the path (elementary geometry)."""
    way = 3 / math.tan(math.radians(3))
    facts = alone(f"{HEAD}G0 X0 Y0\nZ0\nG1 X{way:.6f} Z-3 F2000\n{END}")
    (use,) = facts.tools

    assert use.cut == pytest.approx(57.32, abs=0.005)
    assert use.ramps == Span(2000, 2000)
    assert (use.feeds, use.plunges) == (None, None)


def test_arcs_and_helices_by_their_length() -> None:
    """RS274/NGC 3.5.3's example: G2 from (7, 7) to (10, 16) around (10, 11), 143.13 degrees of
    radius 5, which is 12.4905 long; falling by 9 on the way it is 15.3952 long."""
    flat = alone(f"{HEAD}G0 X7 Y7\nG1 Z-1 F600\nG2 X10 Y16 I3 J4\n{END}")
    falling = alone(f"{HEAD}G0 X7 Y7\nZ0\nG2 X10 Y16 I3 J4 Z-9 F600\n{END}")

    assert flat.tools[0].cut == pytest.approx(1 + 12.4905, abs=1e-4)
    assert falling.tools[0].cut == pytest.approx(15.3952, abs=1e-4)
    assert near(reach(flat, "X").cuts, 5, 10)  # it passes (5, 11), the circle's leftmost place


def test_only_what_lies_in_the_sheet_is_cut() -> None:
    """From 1 above to 3 below a slope of 4 lies in the sheet for three quarters of its way."""
    facts = alone(f"{HEAD}G0 X0 Y0\nZ1\nG1 X30 Z-3 F600\nX40\nZ1\nX0\n{END}")

    assert facts.tools[0].cut == pytest.approx(0.75 * math.hypot(30, 4) + 10)


def test_the_bottom_of_an_upright_arc_is_found() -> None:
    """A half circle of radius 5 in XZ that begins and ends at Z0 reaches Z-5."""
    facts = alone(f"{HEAD}G18\nG0 X10 Y0\nZ0\nG3 X0 Z0 I-5 K0 F600\nG17\n{END}")

    assert facts.depth.deepest == Span(5, 5)
    assert facts.tools[0].cut == pytest.approx(5 * math.pi, abs=1e-5)


def test_a_hand_sets_the_speed_that_the_last_pause_asked_for() -> None:
    text = "(ON {0} DIAL {1})\nM0\nG4 P2000\nG0 X{2} Y0\nG1 Z-1 F600\nX{3}\nG0 Z30\n"
    job = text.format(12500, 2, 0, 10) + text.format(17000, 3, 20, 30)
    facts = alone(f"G21 G90 G94 G17\nG0 Z30\n{job}M2\n", BENCH)

    assert facts.tools[0].speeds == (12500, 17000)
    assert facts.tools[0].dial == "2, 3"


def test_a_number_that_no_bit_has_is_not_described() -> None:
    """A table would tell of it; the bit that the set-up describes is another one."""
    facts = alone(f"T1 M6\n{HEAD}G0 X0 Y0\nG1 Z-1 F300\nX5\n{END}", changes=[
        "setup.tool.number=1", "setup.tool.diameter=6",
    ])  # fmt: skip
    other = gallery("clean-text")[1][0][1]

    assert [(use.number, use.diameter) for use in facts.tools] == [(1, 6)]
    assert [(use.number, use.diameter, use.stick_out) for use in other.tools] == [(1, None, None)]


def test_what_is_not_described_is_left_open() -> None:
    facts = alone(f"{HEAD}G0 X10 Y10\nG1 Z-2 F300\nX50 F1200\n{END}")

    assert reach(facts, "X").stock is None
    assert reach(facts, "X").machine is None
    assert reach(facts, "Z").spare is None
    assert facts.depth.left is None
    assert facts.depth.thickness is None


# --- the gallery, against a second interpreter and Shapely ---------------------------------------


def chords(move: Move) -> Floats:
    """The places along a move (k, 3), arcs in 2000 chords, by the sine and cosine alone."""
    start, end = np.array(move.start[:3]), np.array(move.end[:3])
    if move.centre is None:
        return np.stack([start, end])
    first, second, across = PLANE_AXES[move.plane]
    u, v = start[first] - move.centre[0], start[second] - move.centre[1]
    share = np.linspace(0, 1, 2001)
    angle = (-1 if move.kind == "cw" else 1) * move.turn * share
    found = np.empty((len(share), 3))
    found[:, first] = move.centre[0] + u * np.cos(angle) - v * np.sin(angle)
    found[:, second] = move.centre[1] + u * np.sin(angle) + v * np.cos(angle)
    found[:, across] = start[across] + (end - start)[across] * share
    return found


def cuts_in_sheet(job: str) -> list[Move]:
    """The moves at feed of a job of the gallery that end in the sheet or begin there, but for
    those straight up: by the interpreter that was written from the standard alone."""
    text = (RECIPES / "jobs" / job).read_text("ascii").splitlines()
    run_ = run(text, start=Start(), options=Options(slots=9))
    assert run_.error is None
    return [
        move
        for move in run_.moves
        if move.kind in ("feed", "cw", "ccw")
        and min(move.start[2], move.end[2]) < 0
        and not (move.start[:2] == move.end[:2] and move.turn == 0 and move.end[2] > move.start[2])
    ]


WHOLE = [
    ("bench-lids", 0, "lid.nc", 1e-4),
    ("bench-lids", 1, "handhold.nc", 1e-4),
    ("relay-frames", 0, "frame-side.nc", 1e-3),
    ("relay-frames", 1, "entrance-reducer.nc", 1e-4),
    ("speed-floor-boards", 0, "floor-board.tap", 1e-4),
    ("speed-feeder-changes", 0, "feeder-board.nc", 1e-4),
    ("speed-window", 0, "window.ngc", 1e-3),
    ("bench-windows", 0, "window.ngc", 0.3),  # arcs in chords, which are shorter
    ("clean-text", 0, "floor-board.tap", 1e-4),
]


@pytest.mark.parametrize(("recipe", "number", "job", "by"), WHOLE)
def test_the_gallery_as_shapely_measures_it(recipe: str, number: int, job: str, by: float) -> None:
    facts = files(recipe)[number]
    moves = cuts_in_sheet(job)
    flat = MultiLineString([LineString(chords(move)[:, :2]) for move in moves])
    low_x, low_y, high_x, high_y = flat.bounds
    deepest = -min(chords(move)[:, 2].min() for move in moves)

    assert near(reach(facts, "X").cuts, low_x, high_x, by)
    assert near(reach(facts, "Y").cuts, low_y, high_y, by)
    assert near(facts.depth.deepest, deepest, deepest, by)
    assert sum(use.cut for use in facts.tools) == pytest.approx(
        sum(in_sheet(chords(move)) for move in moves), abs=max(by, 0.01)
    )


def in_sheet(places: Floats) -> float:
    """How long a way is below Z0, piece by piece."""
    heights = np.sort(np.stack([places[:-1, 2], places[1:, 2]]), axis=0)
    deep = np.clip(heights[1], None, 0) - heights[0]
    rise = heights[1] - heights[0]
    share = np.where(rise > 0, np.clip(deep, 0, None) / np.where(rise > 0, rise, 1), heights[0] < 0)
    return float((share * np.linalg.norm(np.diff(places, axis=0), axis=1)).sum())


def test_the_parts_of_a_split_job_cut_what_the_whole_one_does() -> None:
    (whole,) = files("speed-feeder-changes")
    parts = [use for part in files("speed-feeder-boards") for use in part.tools]

    assert [use.number for use in whole.tools] == [use.number for use in parts] == [1, 2]
    for use, other in zip(whole.tools, parts, strict=True):
        assert (use.cut, use.feeds, use.chip) == (other.cut, other.feeds, other.chip)


def test_spare_is_the_least_of_what_is_left() -> None:
    for _, _, facts in every():
        for found in facts.reaches:
            if found.machine is None:
                assert found.spare is None
                continue
            low = found.machine.least - found.travel.least
            high = found.travel.most - found.machine.most
            assert found.spare == pytest.approx(min(low, high))
            assert found.spare >= 0  # the rehearsal has passed it


# --- any way at all ------------------------------------------------------------------------------

PLACE = st.tuples(*[st.integers(0, 4000).map(lambda tenths: tenths / 10)] * 2)
PIECE = st.one_of(
    st.tuples(st.just("line"), PLACE),
    st.tuples(st.sampled_from(["G2", "G3"]), st.tuples(st.floats(-50, 50), st.floats(1, 50))),
)


@given(PLACE, st.lists(PIECE, min_size=1, max_size=8), st.integers(1, 170))
@settings(max_examples=40)
def test_cuts_reach_as_far_as_shapely_says(
    begin: tuple[float, float], pieces: list[tuple[str, tuple[float, float]]], deep: int
) -> None:
    """Lines and half circles, drawn here in chords."""
    lines = [f"G0 X{begin[0]} Y{begin[1]}", f"G1 Z{-deep / 10} F600"]
    path = [np.array([begin])]
    for kind, (x, y) in pieces:
        here = path[-1][-1]
        if kind == "line":
            lines.append(f"G1 X{x} Y{y}")
            path.append(np.array([[x, y]]))
            continue
        spoke = np.round([x, y], 3)  # to the middle; the half circle ends on its other side
        end = here + 2 * spoke
        lines.append(f"{kind} X{end[0]:.6f} Y{end[1]:.6f} I{spoke[0]:.3f} J{spoke[1]:.3f}")
        turn = np.linspace(0, math.pi, 2001) * (-1 if kind == "G2" else 1)
        wave = np.stack([np.cos(turn), np.sin(turn)])
        turned = np.array([[-spoke[0], spoke[1]], [-spoke[1], -spoke[0]]]) @ wave
        path.append(here + spoke + turned.T)
    low_x, low_y, high_x, high_y = MultiPoint(np.concatenate(path)).bounds

    facts = alone(HEAD + "\n".join(lines) + f"\n{END}")

    assert near(reach(facts, "X").cuts, low_x, high_x, 1e-3)
    assert near(reach(facts, "Y").cuts, low_y, high_y, 1e-3)
    assert near(facts.depth.deepest, deep / 10, deep / 10)
    ways = np.concatenate([[np.zeros(2)], np.diff(np.concatenate(path), axis=0)])
    way = float(np.linalg.norm(ways, axis=1).sum())
    assert sum(use.cut for use in facts.tools) == pytest.approx(way + deep / 10, rel=1e-5)


def test_a_job_that_is_zeroed_on_the_bed() -> None:
    """Z0 is the bed under a sheet of 11.8 to 12.2: Z-0.2 is 12 to 12.4 below the top, and 0.2 into
    the spoilboard whatever the sheet; from Z20 down the way begins to cut at 12.2."""
    facts = alone(
        f"{HEAD}G0 X50 Y50\nG0 Z20\nG1 Z-0.2 F300\nX60\n{END}",
        setup="feeder-12",
        changes=["setup.sheet.zero=bed", "setup.tool.diameter=6", "setup.tools=[]"],
    )

    assert near(facts.depth.deepest, 12, 12.4)
    assert near(facts.depth.left, -0.2, -0.2)
    assert near(reach(facts, "Z").cuts, -12.4, 0)
    assert facts.tools[0].cut == pytest.approx(12.4 + 10)
    assert "Zero in Z: the bed; this file does not set it." in facts.modes


def test_nothing_is_to_spare_where_one_place_is_not_known() -> None:
    """Homed, X lies between -700 and -600 of the machine; counted from a zero that the file has not
    set, and whose place is not described, it might be anywhere."""
    known = "G28\nG53 G0 Z-5\nG53 G0 X-700 Y-500\nG53 G0 X-600\n"
    sure = alone(f"G21 G90 G94 G17\n{known}M30\n", RELAY)
    unsure = alone(f"G21 G90 G94 G17\nG0 X10\n{known}M30\n", RELAY)

    assert reach(sure, "X").machine == Span(-700, -600)
    assert reach(sure, "X").spare == 120  # of a travel from -820 to 0
    assert (reach(unsure, "X").machine, reach(unsure, "X").spare) == (None, None)
