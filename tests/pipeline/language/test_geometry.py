"""Arcs against geometry that is not headrace's: Shapely, SciPy, NumPy, and values by hand.

The rules are those of RS274/NGC (NISTIR 6556) 3.5.3; the table values are elementary geometry, and
their formulas stand beside them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from shapely import LineString, Point, hausdorff_distance

from headrace.language import State, Trace, interpret
from headrace.language.arcs import FAULTS, TOLERANCE, ArcWords, solve
from headrace.language.modal import PLANES
from headrace.language.trace import CCW, CW
from headrace.program import Program

COUNTER = 1
CLOCK = -1


@dataclass(frozen=True)
class Arc:
    """The last move of a program, if it is an arc, with what it takes to draw it."""

    start: tuple[float, float]
    end: tuple[float, float]
    centre: tuple[float, float]
    turn: float
    rise: float
    way: int

    @property
    def radius(self) -> float:
        return math.hypot(self.start[0] - self.centre[0], self.start[1] - self.centre[1])

    def at(self, part: float) -> tuple[float, float]:
        """The place behind a part (0 to 1) of the turn."""
        u, v = self.start[0] - self.centre[0], self.start[1] - self.centre[1]
        angle = math.atan2(v, u) + self.way * self.turn * part
        radius = self.radius
        return self.centre[0] + radius * math.cos(angle), self.centre[1] + radius * math.sin(angle)

    def length(self) -> float:
        """By the chords of 256 and of 512 parts, extrapolated to endless many (Richardson): the
        two differ from the curve by multiples of the square of the part, and by its fourth power
        times less than 1e-9 of the length."""
        chords = []
        for count in (256, 512):
            points = np.array([self.at(part) for part in np.linspace(0, 1, count + 1)])
            steps = np.hypot(*np.diff(points, axis=0).T)
            chords.append(float(np.hypot(steps, self.rise / count).sum()))
        return (4 * chords[1] - chords[0]) / 3


def traced(*lines: str) -> Trace:
    """From the origin, in mm, at 1000 mm/min."""
    return interpret(Program.read("\n".join(["G21 G90 G17 F1000", *lines]).encode()), start=zero())


def zero() -> State:
    return State.at_zero()


def arc_of(*lines: str) -> Arc:
    trace = traced(*lines)
    assert not trace.findings, trace.findings[0].what
    block = trace.blocks[-1]
    first, second, across = PLANES[block.setting.plane]
    row = len(block) - 1
    assert block.arcs is not None
    assert block.arcs.rows[-1] == row
    return Arc(
        start=(float(block.starts(first)[row]), float(block.starts(second)[row])),
        end=(float(block.ends[first][row]), float(block.ends[second][row])),
        centre=(float(block.arcs.centre_u[-1]), float(block.arcs.centre_v[-1])),
        turn=float(block.arcs.turn[-1]),
        rise=float(block.ends[across][row] - block.starts(across)[row]),
        way={CW: CLOCK, CCW: COUNTER}[int(block.kind[row])],
    )


# --- values by hand ---------------------------------------------------------------------------


def test_the_sample_of_the_standard() -> None:
    """RS274/NGC 3.5.3.2, `G17 G2 X10 Y16 I3 J4 Z9` from (7, 7): radius 5 about (10, 11).

    By elementary geometry: the turn is 180 degrees less atan2(3, 4) in degrees, and the length
    5 times the turn in radians; with Z rising by 9 the helix is hypot(length, 9) long.
    """
    flat = arc_of("G0 X7 Y7", "G2 X10 Y16 I3 J4")

    assert flat.centre == pytest.approx((10, 11))
    assert flat.radius == pytest.approx(5)
    assert math.degrees(flat.turn) == pytest.approx(143.130, abs=5e-4)
    assert math.degrees(flat.turn) == pytest.approx(180 - math.degrees(math.atan2(3, 4)))
    assert flat.length() == pytest.approx(12.4905, abs=5e-5)
    helix = arc_of("G0 X7 Y7 Z0", "G17 G2 X10 Y16 I3 J4 Z9")
    assert helix.length() == pytest.approx(15.3952, abs=5e-5)
    assert helix.length() == pytest.approx(math.hypot(12.490457723982545, 9))


@pytest.mark.parametrize(
    ("radius", "centre", "degrees", "length"),
    [
        (20, (19.85507, -2.40338), 53.5764, 18.7017),
        (-20, (-9.85507, 17.40338), 306.4236, 106.9620),
    ],
)
def test_radius_form_by_hand(
    radius: float, centre: tuple[float, float], degrees: float, length: float
) -> None:
    """From (0, 0) to (10, 15): the centre lies sqrt(R^2 - (d/2)^2) off the middle of the chord d,
    to the right of the way for a clockwise arc and R > 0 (3.5.3.1; elementary geometry)."""
    arc = arc_of("G0 X0 Y0", f"G2 X10 Y15 R{radius}")

    assert arc.centre == pytest.approx(centre, abs=5e-6)
    assert math.degrees(arc.turn) == pytest.approx(degrees, abs=5e-5)
    assert arc.length() == pytest.approx(length, abs=5e-5)
    off = math.sqrt(20**2 - (math.hypot(10, 15) / 2) ** 2)
    assert math.dist(arc.centre, (5, 7.5)) == pytest.approx(off)


@pytest.mark.parametrize(("radius", "off"), [(10.0005, 0.1000), (10.001, 0.1414), (10.0, 0.0)])
def test_a_nearly_semicircular_radius_arc_wanders(radius: float, off: float) -> None:
    """Chord 20: sqrt(R^2 - 10^2) is 200 times a rounding of 0.0005, which is why 3.5.3.1 advises
    against radius arcs of 165 to 195 degrees."""
    arc = arc_of("G0 X0 Y0", f"G2 X20 Y0 R{radius}")

    assert arc.centre == pytest.approx((10, -off), abs=5e-5)


def test_a_radius_that_does_not_reach() -> None:
    """3.5.3.1: no circle of radius 9.9 goes through places 20 apart. What is short by no more than
    the 0.002 mm of 3.5.3.2 is read as a semicircle about the middle (common practice)."""
    near = arc_of("G0 X0 Y0", "G2 X20 Y0 R9.9999")
    assert near.centre == pytest.approx((10, 0))
    assert near.turn == pytest.approx(math.pi)

    trace = traced("G0 X0 Y0", "G2 X20 Y0 R9.99")
    assert [finding.name for finding in trace.findings] == ["arc-r-too-small"]
    assert "0.0100 mm" in trace.findings[0].what


@pytest.mark.parametrize(
    ("radius", "pitch", "length"), [(10, 2, 62.86368), (3, 6, 19.78145), (3, 1, None)]
)
def test_one_turn_of_a_helix(radius: float, pitch: float, length: float | None) -> None:
    """One turn is hypot(2 pi R, pitch) long (elementary geometry)."""
    arc = arc_of(f"G0 X{radius} Y0 Z0", f"G3 X{radius} Y0 Z-{pitch} I-{radius} J0")

    assert arc.turn == pytest.approx(math.tau)
    assert arc.length() == pytest.approx(math.hypot(math.tau * radius, pitch))
    if length is not None:
        assert arc.length() == pytest.approx(length, abs=5e-6)


def test_the_feed_of_a_helix_runs_along_it() -> None:
    """RS274/NGC 2.1.2.5 and 3.5.3: F is along the path. R 3, pitch 1, F 1000: the axis goes
    1000 * 1 / hypot(2 pi 3, 1) = 52.98 mm/min; R 3, pitch 6: the path is 1.04944 times its
    projection."""
    flat = arc_of("G0 X3 Y0 Z0", "G3 X3 Y0 Z-1 I-3 J0")
    steep = arc_of("G0 X3 Y0 Z0", "G3 X3 Y0 Z-6 I-3 J0")

    trace = traced("G0 X3 Y0 Z0", "G3 X3 Y0 Z-1 I-3 J0")
    minutes = flat.length() / float(trace.feed[-1])
    assert abs(flat.rise) / minutes == pytest.approx(52.98, abs=5e-3)
    assert steep.length() / (steep.radius * steep.turn) == pytest.approx(1.04944, abs=5e-6)


# --- against SciPy and Shapely ----------------------------------------------------------------

places = st.floats(-200, 200).map(lambda value: round(value, 3))
radii = st.floats(0.5, 400).map(lambda value: round(value, 3))
WAYS = {"G2": CLOCK, "G3": COUNTER}


@given(places, places, places, places, radii, st.sampled_from(["G2", "G3"]), st.booleans())
@settings(max_examples=200, deadline=None)
def test_radius_arcs_against_a_root_finder(
    x: float, y: float, to_x: float, to_y: float, size: float, word: str, long: bool
) -> None:
    """SciPy looks for the centre along the chord's bisector, where the distance to the start is
    the radius; the rest of 3.5.3.1 chooses between the two."""
    chord = math.hypot(to_x - x, to_y - y)
    assume(chord > 0.01)
    assume(size > chord / 2 + 0.01)
    radius = -size if long else size
    arc = arc_of(f"G0 X{x:.3f} Y{y:.3f}", f"{word} X{to_x:.3f} Y{to_y:.3f} R{radius:.3f}")

    normal = (-(to_y - y) / chord, (to_x - x) / chord)  # to the left of the way

    def off(shift: float) -> float:
        u = (x + to_x) / 2 + shift * normal[0]
        v = (y + to_y) / 2 + shift * normal[1]
        return math.hypot(u - x, v - y) - size

    far = float(brentq(off, 0, 2 * size + chord, xtol=1e-13))
    left = (word == "G3") != long
    shift = far if left else -far
    expected = (
        (x + to_x) / 2 + shift * normal[0],
        (y + to_y) / 2 + shift * normal[1],
    )
    slack = 1e-6 * max(1.0, size / max(far, 1e-3))
    assert arc.centre == pytest.approx(expected, abs=slack)
    assert (arc.turn > math.pi) == long
    assert arc.at(1.0) == pytest.approx((to_x, to_y), abs=1e-6)
    assert arc.length() == pytest.approx(size * arc.turn, rel=1e-7, abs=1e-8)


@given(
    places,
    places,
    radii,
    st.floats(0, math.tau),
    st.floats(0.02, math.tau - 0.02),
    st.sampled_from(["G2", "G3"]),
    st.sampled_from([17, 18, 19]),
)
@settings(max_examples=200, deadline=None)
def test_centre_arcs_against_a_polyline(
    u: float, v: float, radius: float, begun: float, turn: float, word: str, plane: int
) -> None:
    """The arc is drawn from what headrace solved, the polyline from the circle that the words were
    made of; Shapely measures how far they are apart. In every plane G3 turns from the first axis to
    the second, seen from the end of the axis across (3.5.3)."""
    way = WAYS[word]
    angles = begun + way * np.linspace(0, turn, 400)
    points = np.column_stack((u + radius * np.cos(angles), v + radius * np.sin(angles)))
    first, second, _ = ("XYZ"[axis] for axis in PLANES[plane])
    i, j = ("IJK"[axis] for axis in PLANES[plane][:2])
    (a, b), (c, d) = points[0], points[-1]
    arc = arc_of(
        f"G{plane}",
        f"G0 {first}{a:.9f} {second}{b:.9f}",
        f"{word} {first}{c:.9f} {second}{d:.9f} {i}{u - a:.9f} {j}{v - b:.9f}",
    )

    drawn = LineString([arc.at(part) for part in np.linspace(0, 1, 400)])
    assert hausdorff_distance(drawn, LineString(points)) < 1e-5
    assert arc.turn == pytest.approx(turn, abs=1e-6 + 1e-6 / radius)
    chords = float(np.hypot(*np.diff(points, axis=0).T).sum())
    assert arc.length() == pytest.approx(chords, rel=1e-4)
    assert arc.length() == pytest.approx(radius * turn, rel=1e-6, abs=1e-6)


@given(places, places, radii, st.floats(0, math.tau), st.sampled_from(["G2", "G3"]))
@settings(max_examples=80, deadline=None)
def test_whole_circles_against_a_buffer(
    u: float, v: float, radius: float, begun: float, word: str
) -> None:
    """An arc that ends where it begins is a whole circle (3.5.3.2): Shapely's circle about the
    centre, and its area by the shoelace formula of the drawn points."""
    x, y = u + radius * math.cos(begun), v + radius * math.sin(begun)
    arc = arc_of(f"G0 X{x:.9f} Y{y:.9f}", f"{word} X{x:.9f} I{u - x:.9f} J{v - y:.9f}")

    assert arc.turn == pytest.approx(math.tau)
    circle = Point(u, v).buffer(radius, quad_segs=128).exterior
    drawn = LineString([arc.at(part) for part in np.linspace(0, 1, 513)])
    # an inscribed polygon of n sides lies R * (1 - cos(pi/n)) inside its circle
    assert hausdorff_distance(drawn, circle) < radius * (1 - math.cos(math.pi / 512)) * 2 + 1e-6
    ring = np.array(drawn.coords)
    area = 0.5 * float(np.sum(ring[:-1, 0] * ring[1:, 1] - ring[1:, 0] * ring[:-1, 1]))
    assert area * WAYS[word] == pytest.approx(math.pi * radius**2, rel=1e-3)


@given(
    st.lists(st.tuples(places, places, radii, st.booleans()), min_size=30, max_size=60),
    st.booleans(),
)
@settings(max_examples=30, deadline=None)
def test_bulk_and_single_lines_agree(
    wanted: list[tuple[float, float, float, bool]], inches: bool
) -> None:
    """The same arcs in a run of plain lines, and each with a comment that keeps it out of bulk."""
    lines, x, y = [], 0.0, 0.0
    for to_x, to_y, size, clockwise in wanted:
        half = math.hypot(to_x - x, to_y - y) / 2
        if half < 0.01:
            continue
        word = "G2" if clockwise else "G3"
        lines.append(
            f"{word} X{to_x:.3f} Y{to_y:.3f} R{math.ceil(half * 10 + size) / 10 + 0.1:.1f}"
        )
        x, y = to_x, to_y
    assume(len(lines) >= 25)  # shorter runs are never read in bulk
    head = ["G20" if inches else "G21", "G0 X0 Y0"]
    filler = [f"(comb {at})" for at in range(400)]  # large texts only are read in bulk
    bulk = traced(*head, *lines, *filler)
    single = traced(*head, *(part for line in lines for part in (line + " M8", "M9")), *filler)

    assert not bulk.findings
    for axis in (0, 1):
        assert bulk.ends(axis) == pytest.approx(single.ends(axis), abs=1e-9)
    for name in ("centre_u", "centre_v", "turn"):
        first, second = (
            np.concatenate([getattr(b.arcs, name) for b in trace.blocks if b.arcs is not None])
            for trace in (bulk, single)
        )
        assert first == pytest.approx(second, rel=1e-9, abs=1e-9)


# --- the limits of the standard ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("unit", "radius", "off", "refused"),
    [
        ("G21", 10, 0.0019, False),
        ("G21", 10, 0.0021, True),
        ("G20", 1, 0.00019, False),
        ("G20", 1, 0.00021, True),
    ],
)
def test_how_far_the_radii_may_differ(unit: str, radius: float, off: float, refused: bool) -> None:
    """RS274/NGC 3.5.3.2: 0.0002 inch, or 0.002 mm."""
    trace = traced(unit, f"G0 X{radius} Y0", f"G3 X-{radius + off} Y0 I-{radius} J0")

    assert [f.name for f in trace.findings] == ["arc-radius-mismatch"] * refused
    assert TOLERANCE["inch"] == pytest.approx(0.0002 * 25.4)


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ("G2 Z1 I1 J1", "arc-no-axis"),
        ("G2 X1 Y1 I1 R1", "arc-mixed"),
        ("G2 X1 Y1 I1 K1", "arc-wrong-offset"),
        ("G2 X1 Y1", "arc-no-centre"),
        ("G2 X0 Y0 R5", "arc-r-full-circle"),
        ("G2 X9 Y0 R1", "arc-r-too-small"),
        ("G2 X0 Y0 I0 J0", "arc-zero-radius"),
        ("G2 X9 Y0 I1 J0", "arc-radius-mismatch"),
        ("G90.1 G2 X2 Y0 I1", "arc-no-centre"),
    ],
)
def test_each_fault_by_name(line: str, fault: str) -> None:
    """RS274/NGC 3.5.3, 3.5.3.1, 3.5.3.2; G90.1 is common practice, and then both are needed."""
    trace = traced("G0 X0 Y0 Z0", line)

    assert [finding.name for finding in trace.findings] == [fault]
    assert not any(len(block.arcs.rows) for block in trace.blocks if block.arcs is not None)


def test_an_arc_from_an_unknown_place() -> None:
    trace = interpret(Program.read(b"G21 F900\nG2 X1 Y1 I1 J0\n"))

    assert [finding.name for finding in trace.findings] == ["arc-start-unknown"]


def test_centres_in_absolute_numbers() -> None:
    """G90.1, common practice: the same arc as with offsets from its start."""
    offsets = arc_of("G0 X7 Y7", "G2 X10 Y16 I3 J4")
    absolute = arc_of("G90.1", "G0 X7 Y7", "G2 X10 Y16 I10 J11")

    assert absolute == offsets


def test_solving_many_at_once() -> None:
    """Each arc of an array is judged by itself."""
    nothing = np.full(4, np.nan)
    words = ArcWords(
        first=np.array([5.0, np.nan, np.nan, 0.0]),
        second=np.array([0.0, np.nan, np.nan, 0.0]),
        across=nothing,
        radius=np.array([np.nan, 5.0, -1.0, np.nan]),
        named=np.array([True, True, True, True]),
    )
    zeros = np.zeros(4)
    arcs = solve(
        (zeros, zeros),
        (np.array([10.0, 6.0, 10.0, 0.0]), zeros),
        words,
        np.array([False, True, True, False]),
        False,
        0.002,
    )

    assert [FAULTS[fault] for fault in arcs.fault] == ["", "", "arc-r-too-small", "arc-zero-radius"]
    assert (arcs.centre_u[0], arcs.turn[0]) == (5.0, pytest.approx(math.pi))
    assert (arcs.centre_u[1], arcs.centre_v[1]) == pytest.approx((3.0, -4.0))
    assert arcs.mismatch[2] == pytest.approx(4.0)
