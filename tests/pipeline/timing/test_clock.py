"""The clock of jobs, read from their text, against sums by hand, closed forms of elementary
mechanics and geometry, and numbers that were worked out elsewhere from the same forms."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, pi, sqrt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pipeline.timing import plain
from plugins.shop import job, through

from headrace import Job
from headrace.language import EventKind
from headrace.language.trace import HOME, LINE, PROBE
from headrace.machine import Corners
from headrace.timing.clock import Clock, clock_of
from headrace.timing.planner import from_rest
from headrace.timing.times import times_of

AXIS = {"rapid": 6000, "feed": 9000, "acceleration": 250}
"""All three alike, and no slower than any feed of these jobs."""


def a_job(*lines: str, gains: Any = 250, **changes: Any) -> Job:
    """A job at a known place on the bench machine, with axes alike and no more bounds than the
    changes give; the first two moves are a rapid to the work zero and one straight down to it."""
    axes = {f"axes/{letter}/{key}": value for letter in "xyz" for key, value in AXIS.items()} | {
        f"axes/{letter}/acceleration": gains for letter in "xyz"
    }
    bounds = {"corners": {"deviation": 0.01}, "look-ahead": None, "line": {}, **changes}
    text = "\n".join(["G21 G90 G17", "G0 X0 Y0", "G0 Z0", *lines, "M2", ""])
    return job(text, changes={**axes, **bounds})


def clock(*lines: str, **changes: Any) -> Clock:
    return clock_of(a_job(*lines, **changes))


def cuts(*lines: str, **changes: Any) -> float:
    """The seconds of all moves but the two to the zero."""
    return float(clock(*lines, **changes).moving[2:].sum())


# --- single moves -------------------------------------------------------------------------------


def test_a_line_from_rest_to_rest() -> None:
    assert cuts("G1 X100 F3000") == pytest.approx(2.2)
    assert cuts("G1 X60 Y80 F3000", gains=250) < 2.2  # two axes together gain more
    assert cuts("G1 X100 F3000", gains=1e5) == pytest.approx(2.0005)


def test_two_axes_together() -> None:
    """Along a direction u an axis may gain a / |u| (the parts of a vector)."""
    gain = min(250 / 0.6, 250 / 0.8)

    assert cuts("G1 X60 Y80 F3000") == pytest.approx(100 / 50 + 50 / gain)


def test_an_axis_that_is_slower_than_the_feed() -> None:
    slow = {"axes/y/feed": 1200}

    assert cuts("G1 X60 Y80 F3000", **slow) == pytest.approx(100 / 25 + 25 / (250 / 0.8))
    assert cuts("G1 X100 F3000", **slow) == pytest.approx(2.2)


def test_naive_takes_every_move_at_full_feed() -> None:
    found = clock("G1 X100 F3000", "G1 X60 Y80 F600", "G0 X0 Y-60", "G4 P500")
    lengths = [100, hypot(40, 80)]

    assert found.least[2:4] == pytest.approx([lengths[0] / 50, lengths[1] / 10])
    assert found.least[4] == pytest.approx(max(60, 140) / 100)  # each axis at its own rapid


def test_inches_and_seconds() -> None:
    assert cuts("G20", "G1 X3.93700787 F118.11023622") == pytest.approx(2.2)


def test_inverse_time() -> None:
    """G93: F is one over the minutes of the move (RS274/NGC 3.5.19)."""
    found = clock("G93 G1 X100 F30", "X150 F2")

    assert found.least[2:] == pytest.approx([2.0, 30.0])
    assert found.moving[2] > 2.0


def test_moves_to_where_the_head_stands_take_no_time_and_no_corner() -> None:
    one = clock("G1 X50 F3000", "X100")
    other = clock("G1 X50 F3000", "X50", "X100")

    assert other.moving[3] == 0
    assert other.moving.sum() == pytest.approx(one.moving.sum())
    assert one.moving[2:].sum() == pytest.approx(2.2)
    assert not other.unknown[2:].any()


# --- arcs ---------------------------------------------------------------------------------------


def test_an_arc_goes_no_faster_than_its_bend_allows() -> None:
    """v^2 / R is at most a: with R 5 and a 250 that is 35.36 mm/s, 2121 mm/min; with R 10, 3000."""
    speed = sqrt(250 * 5)
    way = 2 * pi * 5

    assert speed * 60 == pytest.approx(2121, abs=0.5)
    assert cuts("G2 X0 Y0 I5 J0 F6000") == pytest.approx(way / speed + speed / 250)
    assert cuts("G2 X0 Y0 I10 J0 F3000") == pytest.approx(20 * pi / 50 + 50 / 250)


@pytest.mark.parametrize("turn", ["G2 X0 Y0 Z6 I3 J0", "G3 X0 Y0 Z6 I3 J0"])
def test_a_helix(turn: str) -> None:
    """One turn of radius 3 that rises by 6 is 19.78145 long; F counts along it (3.5.3)."""
    way = hypot(2 * pi * 3, 6)
    found = clock(f"{turn} F1200")

    assert way == pytest.approx(19.78145, abs=5e-6)
    assert found.least[2] == pytest.approx(way / 20)
    assert found.moving[2] > found.least[2]


def test_an_arc_that_a_line_goes_on_from_is_no_corner() -> None:
    """A half circle between two lines that touch it: nowhere slower than its bend asks."""
    found = clock("G1 X50 F1800", "G3 X50 Y20 I0 J10", "G1 X0")
    sharp = clock("G1 X50 F1800", "G2 X50 Y20 I0 J10", "G1 X0")

    whole = 100 + 10 * pi
    assert found.moving[2:].sum() == pytest.approx(whole / 30 + 30 / 250)
    assert sharp.moving[2:].sum() > found.moving[2:].sum() + 0.1


@pytest.mark.parametrize(
    ("plane", "arc"), [("G18", "G2 X0 Z20 I0 K10"), ("G19", "G3 Y0 Z20 J0 K10")]
)
def test_other_planes(plane: str, arc: str) -> None:
    along = "X" if plane == "G18" else "Y"
    found = clock(
        plane, f"G1 {along}40 F1800", arc.replace(f"{along}0", f"{along}40"), f"G1 {along}0"
    )
    other = clock("G17", "G1 X40 F1800", "G3 X40 Y20 I0 J10", "G1 X0")

    assert found.moving[2:] == pytest.approx(other.moving[2:])


# --- corners ------------------------------------------------------------------------------------


def zigzag(feed: float) -> list[str]:
    """Forty legs of 50 with steps of 3 between them, at right angles."""
    lines = [f"G1 F{feed:g}"]
    for leg in range(40):
        lines += [f"X{50 if leg % 2 == 0 else 0}", f"Y{3 * (leg + 1)}"]
    return lines


@pytest.mark.parametrize(
    ("feed", "gain", "ratio"),
    [(3000, 250, 1.303), (6000, 250, 2.040), (3000, 1000, 1.077), (1500, 250, 1.077)],
)
def test_a_zigzag(feed: float, gain: float, ratio: float) -> None:
    """The same way is 8 % to 104 % over the naive time, by feed and acceleration alone."""
    found = clock(*zigzag(feed), gains=gain)

    assert found.moving[2:].sum() / found.least[2:].sum() == pytest.approx(ratio, abs=6e-4)


def test_short_moves_that_turn_all_the_time() -> None:
    """Moves of 1 mm that turn by 20 degrees each, where F is 3000: their corners are taken at 764
    mm/min, and in all they take 3.03 times as long. That is where an axis gives all the
    acceleration; where two give it together it is less, down to the root of two."""
    angles = np.radians(20) * np.arange(360)
    places = np.cumsum(np.stack([np.cos(angles), np.sin(angles)]), axis=1).T
    found = clock("G1 F3000", *(f"X{x:.6f} Y{y:.6f}" for x, y in places))
    ratios = found.moving[102:302] / found.least[102:302]

    half = np.radians(10)
    corner = 250 * 0.01 * np.cos(half) / (1 - np.cos(half))
    peak = sqrt(corner + 250 * 1)
    assert sqrt(corner) * 60 == pytest.approx(764, abs=0.5)
    assert 2 * (peak - sqrt(corner)) / 250 / 0.02 == pytest.approx(3.03, abs=0.005)
    assert ratios.max() == pytest.approx(3.03, abs=0.03)
    assert ratios.min() > 3.03 / sqrt(2)


@pytest.mark.parametrize(
    ("rule", "speed"),
    [
        ({"deviation": 0.01}, sqrt(250 * 0.01 * sqrt(0.5) / (1 - sqrt(0.5)))),
        ({"speed-step": 600}, 10 / sqrt(2)),
        ({"full-stop": True}, 0.0),
    ],
)
def test_a_right_angle(rule: dict[str, Any], speed: float) -> None:
    found = clock("G1 X40 F3000", "Y40", corners=rule)
    leg = plain.seconds(40, 50, 250, 0, speed)

    assert found.moving[2:] == pytest.approx([leg, leg])


def test_exact_path_and_exact_stop() -> None:
    """G61 cuts no corner, G61.1 stops at the end of every move (RS274/NGC 3.5.14)."""
    legs = ("G1 X20 F3000", "X40", "Y40")
    line, corner = plain.seconds(40, 50, 250, 0, 0), cuts(*legs)

    assert cuts("G61", *legs) == pytest.approx(2 * line)
    assert corner < 2 * line
    assert cuts("G61.1", *legs) == pytest.approx(2 * plain.seconds(20, 50, 250, 0, 0) + line)
    assert cuts("G64", *legs) == cuts("G61", "G64", *legs) == corner
    assert cuts("G61", *legs, corners={"speed-step": 600}) == cuts(
        *legs, corners={"speed-step": 600}
    )
    only_first = clock("G61.1", *legs[:2], "G64", legs[2])
    assert only_first.moving[2] == pytest.approx(plain.seconds(20, 50, 250, 0, 0))


@pytest.mark.parametrize(
    "stop",
    ["M0", "M1", "G4 P10", "M3", "M5", "M8", "G92 X0", "T2 M6", "G28 Z0"],
)
def test_whatever_holds_the_machine_up_stops_it(stop: str) -> None:
    """Lines in one direction, and between them something that motion waits for (common
    practice)."""
    on, held = clock("G1 X50 F3000", "X100"), clock("G1 X50 F3000", stop, "G1 X100")
    lines = held.moving[2:] if stop != "G28 Z0" else held.moving[[2, 4]]
    way = 100 if stop == "G92 X0" else 50

    assert on.moving[2:].sum() == pytest.approx(2.2)
    assert lines == pytest.approx(from_rest(np.array([50.0, way]), 50.0, 250.0))


@pytest.mark.parametrize("line", ["(BEES)", "G17", "G21", "F3000", "", "G90"])
def test_what_does_not_hold_it_up(line: str) -> None:
    assert cuts("G1 X50 F3000", line, "G1 X100") == pytest.approx(2.2)


def test_look_ahead() -> None:
    """Of a straight way in pieces of 0.1 with three known behind each, sqrt(2 a 3 0.1) is kept."""
    pieces = [f"X{at / 10:g}" for at in range(1, 601)]
    found = clock("G1 F6000", *pieces, **{"look-ahead": 3})

    kept = sqrt(2 * 250 * 0.3)
    assert found.moving[300] == pytest.approx(plain.seconds(0.1, 100, 250, kept, kept))
    assert cuts("G1 F6000", *pieces) == pytest.approx(60 / 100 + 100 / 250)


def test_lines_in_a_second() -> None:
    """Pieces of 0.1 at 100 lines/s are 10 mm/s; a short one among long ones holds nothing up."""
    pieces = [f"X{at / 10:g}" for at in range(1, 201)]
    found = clock("G1 F6000", *pieces, line={"rate": 100})

    assert found.moving[50:150] == pytest.approx(0.01)
    few = ["G1 F3000", "X60", "X60.1", "X120"]
    assert cuts(*few, line={"rate": 100}) == pytest.approx(cuts(*few))
    hole = ["G83 X10 Y0 Z-3 R1 Q0.2 F600", "X20", "G80"]  # many short moves of few lines
    assert cuts(*hole, line={"rate": 20}) == pytest.approx(cuts(*hole))


# --- rapids -------------------------------------------------------------------------------------


def test_straight_rapids() -> None:
    """100 mm/s along each axis: 60 by 80 goes at 125 and gains 312.5."""
    assert cuts("G0 X60 Y80") == pytest.approx(100 / 125 + 125 / 312.5)


def test_rapids_of_each_axis_by_itself() -> None:
    """The slower one tells, by its own ramp, and nothing is rounded into the next."""
    found = clock("G0 X10 Y80", "G0 X20 Y160", rapids="each-axis")

    assert found.moving[2:] == pytest.approx([80 / 100 + 100 / 250] * 2)
    assert cuts("G0 X20 Y160") < found.moving[2:].sum()


def test_rapids_at_a_feed_of_their_own() -> None:
    assert cuts("G0 X100 F1500", **{"rapid-feed": "word"}) == pytest.approx(100 / 25 + 25 / 250)
    assert cuts("G0 X100 F1500") == pytest.approx(100 / 100 + 100 / 250)


# --- probing and homing -------------------------------------------------------------------------


def test_a_probe_goes_to_where_it_is_expected_to_touch() -> None:
    """The bit begins a gap above the highest place at which the plate's top may be, and may have
    to go down by all that thickness and stick-out vary."""
    framed = through(
        job("G21 G90\nG0 Z30\nG0 X100 Y100\nG1 Z-1 F300\nG1 X150\nG0 Z30\nM2\n"),
        "safe-start",
        "home",
        ("rereference-z", {"margin": 2}),
        "corner-zero",
        ("touch-off", {"gap": 3, "back-off": 2}),
    )
    found = clock_of(framed)
    first, second = np.flatnonzero(framed.trace.kind == PROBE)
    setup = framed.setup
    assert setup.tool.stick_out is not None
    assert setup.sheet.thickness is not None
    varies = (setup.tool.stick_out.most - setup.tool.stick_out.least) + (
        setup.sheet.thickness.most - setup.sheet.thickness.least
    )

    assert found.least[first] == pytest.approx(3 / 2 + 2 / 100)  # the gap, at 120 mm/min
    assert found.moving[first] == pytest.approx((3 + varies) / 2 + 2 / 100)
    assert found.moving[second] == pytest.approx(2 / 0.5 + 0.5 / 100)  # the back-off, at 30 mm/min
    assert not found.unknown.any()


def test_a_probe_to_nowhere_known_goes_as_far_as_it_aims() -> None:
    bare = job("G21 G90\nG0 Z0\nG38.2 Z-20 F120\nM2\n", setup_changes={"plate": {}})

    assert clock_of(bare).moving[1] == pytest.approx(20 / 2 + 2 / 100)


def test_homing_from_anywhere_takes_the_whole_travel_at_the_most() -> None:
    """Z first, then X and Y together: 85 and 620 mm at 20 mm/s, by 100 and 250 mm/s2."""
    found = clock_of(job("G28 Z0\nG28 X0 Y0\nM2\n"))

    assert found.moving == pytest.approx([85 / 20 + 20 / 100, 620 / 20 + 20 / 250])
    assert found.least.tolist() == [0, 0]
    assert not found.unknown.any()


def test_homing_from_a_known_place() -> None:
    found = clock_of(job("G28 Z0\nG28 X0 Y0\nG0 X100 Y40\nG28 X0 Y0\nM2\n"))

    assert found.moving[3] == found.least[3] == pytest.approx(100 / 20 + 20 / 250)


def test_homing_at_a_speed_that_is_not_described_is_not_known() -> None:
    found = clock_of(job("G28 Z0\nG28 X0 Y0\nM2\n", changes={"homing/feed": None}))

    assert found.unknown.tolist() == [True, True]
    assert found.moving.tolist() == [0, 0]


def test_ways_behind_a_touch_go_by_the_expected_place() -> None:
    """Up in machine coordinates, where a touch has made the zero: the plate's expected place."""
    lines = ["G21 G90", "G28 Z0", "G28 X0 Y0", "G0 Z-55", "G38.2 Z-80 F120", "G53 G0 Z-5", "M2", ""]
    found = clock_of(
        job("\n".join(lines), changes={"machine-moves": True, "probe/lowest-target": None})
    )
    known = through(job("\n".join(lines[:3] + lines[-2:])))
    setup, machine = known.setup, known.machine
    assert setup.tool.stick_out is not None
    assert setup.sheet.thickness is not None
    assert setup.plate.thickness is not None
    assert machine.bed is not None
    middle = (
        (setup.tool.stick_out.least + setup.tool.stick_out.most) / 2
        + (setup.sheet.thickness.least + setup.sheet.thickness.most) / 2
        + setup.plate.thickness
    )
    touch = -(machine.bed - middle)

    up = from_rest(np.array([-5 - touch]), 25.0, 100.0)[0]
    assert found.moving[4] == pytest.approx(up)


def test_a_way_from_a_place_that_nobody_knows_is_counted() -> None:
    found = clock_of(job("G21 G90\nG0 X10\nG0 X20\nM2\n"))

    assert found.unknown.tolist() == [True, False]
    assert found.moving[0] == 0
    assert times_of(job("G21 G90\nG0 X10\nG0 X20\nM2\n")).unknown == 1


def test_increments_from_a_place_that_nobody_knows_are_counted() -> None:
    """They go somewhere, and nothing tells how far: they may not pass for moves to nowhere."""
    found = clock_of(job("G21 G91\nG1 X10 F600\nG1 Y5\nG90\nG1 X0 Y0\nG1 X10\nM2\n"))

    assert found.unknown.tolist() == [True, True, True, False]
    assert found.least[3] == pytest.approx(1.0)


def test_a_number_that_is_lost_by_a_choice_of_work_zero() -> None:
    """Behind a touch, G54 leaves Z without a number; it stands where it did."""
    lines = ["G21 G90", "G28 Z0", "G28 X0 Y0", "G0 Z-120", "G38.2 Z-170 F120",
             "G10 L2 P1 Z#5063", "G0 Z45", "G54", "G0 X30", "G0 X60", "M0", "G0 Z10", "M2",
             ""]  # fmt: skip
    found = clock_of(job("\n".join(lines), "speed"))
    gain = job("", "speed").machine.axes["z"]
    assert gain.acceleration is not None

    assert found.moving[7] == pytest.approx(
        from_rest(np.array([35.0]), gain.rapid / 60, gain.acceleration)[0]
    )


@pytest.mark.parametrize(
    ("line", "changes"),
    [
        ("G1 X100 F0." + "0" * 320 + "1", {}),
        ("G1 X100 F3000", {"axes/x/acceleration": 1e-320}),
    ],
)
def test_numbers_beyond_all_measure_are_not_known(line: str, changes: dict[str, Any]) -> None:
    found = clock("G1 Y50 F3000", line, "G1 Y0 F3000", **changes)

    assert np.isfinite(found.done).all()
    assert found.unknown[3]
    assert found.moving[3] == 0


def test_homing_at_the_panel_is_the_operators_time() -> None:
    changes = {"homing": {"by": "by-hand"}}
    framed = through(job("G21 G90\nG0 X10\nM2\n", changes=changes), "safe-start", "home")
    found = clock_of(framed)

    homed = framed.trace.kind == HOME

    assert homed.any()
    assert not found.moving[homed].any()
    assert not found.unknown[homed].any()


# --- when ---------------------------------------------------------------------------------------


def test_when_things_happen() -> None:
    work = a_job("G1 X100 F3000", "M0", "G4 P1500", "M3", "G1 X0", "G4 P250", "M5")
    found = clock_of(work)
    begun = float(found.moving[:2].sum())
    events = {event.line: event for event in work.trace.events}

    assert found.done == pytest.approx(
        begun + np.array([-found.moving[1], 0, 2.2, 2.2 + 1.5 + 2.2])
    )
    times = {line - 3: found.before(event) - begun for line, event in events.items() if line > 2}
    assert times == pytest.approx({1: 2.2, 2: 2.2, 3: 3.7, 5: 5.9, 6: 6.15, 7: 6.15})


def test_events_on_one_line_come_in_their_order() -> None:
    """A dwell comes before a stop on the same line (RS274/NGC 3.8)."""
    work = a_job("G1 X100 F3000", "G4 P2000 M0", "G1 X0")
    found = clock_of(work)
    dwell, stop = list(work.trace.events_of(EventKind.DWELL, EventKind.STOP))

    assert found.before(stop) - found.before(dwell) == pytest.approx(2.0)


def test_a_factor_of_a_timed_run_stretches_motion_alone() -> None:
    lines = ("G1 X100 F3000", "G4 P1000", "G1 X0")
    run = {"timing": {"factor": 1.5, "planned": 600, "took": 900, "job": "lid.nc"}}
    one, other = clock(*lines), clock(*lines, **run)

    assert other.moving == pytest.approx(one.moving * 1.5)
    assert other.waits.tolist() == one.waits.tolist()
    work = job("G28 Z0\nG28 X0 Y0\nM2\n", changes=run)
    assert clock_of(work).moving[1] == pytest.approx(
        620 / 20 + 20 / 250
    )  # it goes at its own speed
    run["timing"]["factor"] = 0.2
    assert clock(*lines, **run).moving == pytest.approx(one.least)  # nothing is faster


@pytest.mark.parametrize("lacking", ["axes/z/acceleration", "corners"])
def test_without_a_description_all_is_full_feed(lacking: str) -> None:
    found = clock("G1 X100 F3000", "G1 Y3", **{lacking: None})

    assert not found.planned
    assert found.moving.tolist() == found.least.tolist()


# --- whole jobs ---------------------------------------------------------------------------------

DEMO = Path(__file__).parents[3] / "recipes" / "jobs"


@pytest.mark.parametrize("name", ["lid.nc", "handhold.nc", "frame-side.nc", "window.ngc"])
def test_a_job_of_the_demo_by_the_plain_loop(name: str) -> None:
    """Lines only count, as arcs are planned in the same way; each move is taken by itself from the
    numbers of the trace."""
    work = job((DEMO / name).read_bytes())
    machine = replace(work.machine, line_rate=None, corners=Corners(full_stop=True))
    work = replace(work, machine=machine)
    found, trace = clock_of(work), work.trace
    axes = [machine.axes[letter] for letter in "xyz"]
    lines = np.flatnonzero(trace.kind == LINE)
    checked = 0
    for row in lines.tolist():
        ways = [abs(trace.ends(axis)[row] - trace.starts(axis)[row]) for axis in range(3)]
        way = float(np.linalg.norm(ways))
        if not way > 0:
            continue
        shares = [part / way for part in ways]
        gain = min(a.acceleration / u for a, u in zip(axes, shares, strict=True) if u)  # type: ignore[operator]
        limit = min(a.feed / 60 / u for a, u in zip(axes, shares, strict=True) if u)
        limit = min(limit, float(trace.feed[row]) / 60)
        assert found.moving[row] == pytest.approx(plain.seconds(way, limit, gain, 0, 0))
        checked += 1
    assert checked > 20
