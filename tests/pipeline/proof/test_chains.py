"""One move against several: arcs and their chords, lines split and joined, arcs split.

The greatest distance between an arc of radius R and a chord over the angle t is the sagitta
R (1 - cos(t/2)) (elementary geometry); distances between curves are checked against Shapely.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, hausdorff_distance, segmentize

from headrace import Facet, before, delete, replace, rewrite
from headrace.language import State, interpret
from headrace.plugins import Contract
from headrace.proof import Version, prove_run, prove_step

from .trial import CAUSE, DIALECT, edited, line_for_line, passes, program, version

Floats = npt.NDArray[np.float64]
HEAD = ["G21 G90 G17 G94", "M3 S18000"]
TAIL = ["G0 Z5", "M30"]


def loose(within: float, *facets: Facet) -> Contract:
    return Contract(frozenset(facets), within=within)


def sagitta(radius: float, angle: float) -> float:
    return radius * (1 - math.cos(angle / 2))


def chords(
    radius: float, turn: float, count: int, *, clockwise: bool = False, rise: float = 0.0
) -> Floats:
    """The ends of equal chords of an arc about the origin that begins at (radius, 0, 0)."""
    part = np.linspace(0, 1, count + 1)[1:]
    angle = part * turn * (-1 if clockwise else 1)
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle), rise * part])


def said(points: Floats, code: str = "G1") -> list[str]:
    return [f"{code} X{x:.9f} Y{y:.9f} Z{z:.9f}" for x, y, z in points]


def arc_job(radius: float, turn: float, *, clockwise: bool = False, rise: float = 0.0) -> list[str]:
    (x, y, z), code = (
        chords(radius, turn, 1, clockwise=clockwise, rise=rise)[0],
        2 + (not clockwise),
    )
    if turn >= 2 * math.pi:
        x, y = radius, 0.0
    arc = f"G{code} X{x:.9f} Y{y:.9f} Z{z:.9f} I{-radius:.9f} J0"
    return [*HEAD, f"G0 X{radius:.9f} Y0 Z5", "G1 Z0 F600", arc, *TAIL]


def in_chords(job: list[str], points: Floats) -> list[str | list[str]]:
    return [*job[:4], said(points), *job[5:]]


@pytest.mark.parametrize(
    ("radius", "within", "count", "error"),
    [
        (25, 0.01, 112, 0.009834),
        (5, 0.01, 50, 0.009866),
        (25, 0.0238, 72, 0.02379),
        (100, 0.01, 223, None),
        (3, 0.002, 87, None),
        (3.175, 0.0127, 36, None),
    ],
)
def test_full_circle_in_chords_deviates_by_the_sagitta(
    radius: float, within: float, count: int, error: float | None
) -> None:
    """The least number of chords, and the error that is left (R 25 in 72: steps of 5 degrees)."""
    exact = sagitta(radius, 2 * math.pi / count)
    if error is not None:
        assert exact == pytest.approx(error, abs=6e-6)
    if count != 72:
        assert count == math.ceil(math.pi / math.acos(1 - within / radius))
    job = arc_job(radius, 2 * math.pi)

    proofs = line_for_line(job, in_chords(job, chords(radius, 2 * math.pi, count)), loose(within))

    assert passes(proofs), proofs
    for proof in proofs:
        assert proof.deviation == pytest.approx(exact, abs=1e-8)


@pytest.mark.parametrize(("radius", "within"), [(25, 0.01), (5, 0.01), (100, 0.01), (3, 0.002)])
def test_one_chord_too_few_is_caught(radius: float, within: float) -> None:
    few = math.ceil(math.pi / math.acos(1 - within / radius)) - 1
    job = arc_job(radius, 2 * math.pi)

    proofs = line_for_line(
        job, in_chords(job, chords(radius, 2 * math.pi, few)), loose(within, *Facet)
    )

    assert not passes(proofs)


@given(
    st.floats(2, 200),
    st.floats(0.2, 6.2),
    st.integers(4, 90),
    st.booleans(),
    st.sampled_from([0.0, -1.5, 4.0]),
)
@settings(max_examples=60, deadline=None)
def test_chords_of_arcs_and_helices(
    radius: float, turn: float, count: int, clockwise: bool, rise: float
) -> None:
    exact = sagitta(radius, turn / count)
    if exact < 1e-5:
        return
    job = arc_job(radius, turn, clockwise=clockwise, rise=rise)
    points = chords(radius, turn, count, clockwise=clockwise, rise=rise)
    # a chord of a helix is a little ahead of it, and then a little behind: along the curve
    slack = 1.02 * exact if rise == 0 else 1.02 * math.hypot(exact, abs(rise) / count / 4)

    proofs = line_for_line(job, in_chords(job, points), loose(slack))

    assert passes(proofs), proofs
    for proof in proofs:
        assert exact - 1e-7 <= proof.deviation <= slack
    assert not passes(line_for_line(job, in_chords(job, points), loose(exact * 0.9, *Facet)))


@given(st.floats(3, 80), st.floats(0.5, 5.5), st.integers(5, 40), st.floats(-0.4, 0.4))
@settings(max_examples=40, deadline=None)
def test_deviation_is_the_distance_that_shapely_measures(
    radius: float, turn: float, count: int, out: float
) -> None:
    """Vertices moved along the radius, ends kept; the measured deviation against the Hausdorff
    distance of finely drawn curves."""
    points = chords(radius, turn, count)
    grown = points.copy()
    grown[:-1, :2] *= (radius + out) / radius
    job = arc_job(radius, turn)
    fine = LineString([(radius, 0), *chords(radius, turn, 4000)[:, :2].tolist()])
    drawn = segmentize(LineString([(radius, 0), *grown[:, :2].tolist()]), 0.02)
    distance = hausdorff_distance(fine, drawn)

    proofs = line_for_line(job, in_chords(job, grown), loose(distance * 1.02 + 2e-4))

    assert passes(proofs), proofs
    for proof in proofs:
        assert proof.deviation == pytest.approx(distance, rel=0.02, abs=2e-4)
    less = loose(distance * 0.95, *Facet)
    if distance > 0.01:
        assert not passes(line_for_line(job, in_chords(job, grown), less))


@pytest.mark.parametrize("clockwise", [False, True])
@pytest.mark.parametrize("rise", [0.0, -2.0])
def test_chords_recovered_to_an_arc(clockwise: bool, rise: float) -> None:
    radius, turn, count = 25.0, 4.0, 60
    arc = arc_job(radius, turn, clockwise=clockwise, rise=rise)
    points = said(chords(radius, turn, count, clockwise=clockwise, rise=rise))
    job = [*arc[:4], *points, *arc[5:]]
    edits = [replace(4, arc[4]), *(delete(at) for at in range(5, 4 + count))]

    proofs = edited(job, edits, loose(0.02, Facet.SPELLING))

    assert passes(proofs), proofs
    for proof in proofs:
        assert proof.deviation >= sagitta(radius, turn / count) - 1e-8
    other = arc[4].replace("G2 ", "G9 ").replace("G3 ", "G2 ").replace("G9 ", "G3 ")
    assert not passes(edited(job, [replace(4, other), *edits[1:]], loose(0.02, *Facet)))


LINE_JOB = [*HEAD, "G0 X0 Y0 Z5", "G1 Z-2 F600", "G1 X90 Y30 Z-5", *TAIL]


def on_line(*parts: float, off: float = 0.0) -> list[str]:
    """Places along the line of the job, `off` to its left at all but the last."""
    way = np.array([90.0, 30.0, -3.0])
    left = np.array([-30.0, 90.0, 0.0]) / math.hypot(30, 90)
    points = np.array([np.array([0, 0, -2]) + way * part for part in parts])
    points[:-1] += left * off
    return said(points)


@pytest.mark.parametrize("parts", [(0.5, 1), (0.1, 0.2, 0.3, 1), tuple(np.linspace(0, 1, 200)[1:])])
def test_line_in_parts_passes(parts: tuple[float, ...]) -> None:
    new = [*LINE_JOB[:4], on_line(*parts), *LINE_JOB[5:]]

    proofs = line_for_line(LINE_JOB, new, loose(0.001))

    assert passes(proofs), proofs
    assert max(proof.deviation for proof in proofs) < 1e-6


@pytest.mark.parametrize("off", [0.004, 0.0099])
def test_line_in_parts_that_stray_deviates_by_as_much(off: float) -> None:
    new = [*LINE_JOB[:4], on_line(0.3, 0.6, 1, off=off), *LINE_JOB[5:]]

    proofs = line_for_line(LINE_JOB, new, loose(0.01))

    assert passes(proofs)
    for proof in proofs:
        assert proof.deviation == pytest.approx(off, abs=1e-8)
    assert not passes(line_for_line(LINE_JOB, new, loose(off - 0.001, *Facet)))


WRONG = {
    "back and forth": on_line(0.6, 0.3, 1),
    "beyond the end and back": on_line(0.5, 1.2, 1),
    "before the start": on_line(-0.1, 1),
    "the end first": on_line(1, 0.5, 1),
    "short of the end": on_line(0.5, 0.9),
    "beyond the end": on_line(0.5, 1.1),
    "a detour": [*on_line(0.5), "G1 X45 Y40 Z-3.5", *on_line(0.5, 1)],
    "a dip": [*on_line(0.5), "G1 Z-9", "G1 Z-3.5", *on_line(1)],
    "in part a rapid": ["G0" + on_line(0.5)[0][2:], *on_line(1)],
    "in part an arc": [*on_line(0.5), "G2 X90 Y30 Z-5 I22.5 J7.5"],
    "at another feed": [on_line(0.5)[0] + " F900", *on_line(1)],
    "without the spindle": ["M5", *on_line(0.5, 1)],
    "twice": [*on_line(1), *on_line(1)],
}


@pytest.mark.parametrize("name", WRONG)
def test_chain_that_is_no_line_is_caught(name: str) -> None:
    facets = set(Facet) - {Facet.FEED, Facet.SPINDLE}

    proofs = line_for_line(
        LINE_JOB, [*LINE_JOB[:4], WRONG[name], *LINE_JOB[5:]], loose(0.01, *facets)
    )

    assert not passes(proofs)


def test_lines_joined_pass_within_their_bow() -> None:
    """Three places on a bow of radius 500: the middle lies the sagitta off the chord."""
    points = chords(500, 0.02, 2)
    job = [*HEAD, "G0 X500 Y0 Z5", "G1 Z0 F600", *said(points), *TAIL]
    bow = sagitta(500, 0.02)
    edits = [replace(4, said(points)[1]), delete(5)]

    proofs = edited(job, edits, loose(bow * 1.01, Facet.SPELLING))

    assert passes(proofs), proofs
    for proof in proofs:
        assert proof.deviation == pytest.approx(bow, rel=1e-4)
    assert not passes(edited(job, edits, loose(bow * 0.98, *Facet)))


def test_errors_of_a_long_chain_of_joins_do_not_add_up() -> None:
    """Every pair of lines is joined within the tolerance, yet the path may not drift: each join
    ends where it ended."""
    count = 40
    points = np.column_stack([np.arange(1, count + 1.0), np.zeros(count), np.zeros(count)])
    job = [*HEAD, "G0 X0 Y0 Z5", "G1 Z0 F600", *said(points), *TAIL]
    drifted = points + np.column_stack(
        [np.zeros(count), np.arange(1, count + 1) * 0.004, np.zeros(count)]
    )
    new = [*job[:4], *said(drifted), *TAIL]

    assert not passes(line_for_line(job, new, loose(0.01, *Facet)))


ARC = arc_job(25, 4.0)
WRONG_CHORDS = {
    "the other way round": chords(25, 2 * math.pi - 4.0, 80, clockwise=True),
    "once more round": chords(25, 4.0 + 2 * math.pi, 300),
    "one left out": np.delete(chords(25, 4.0, 120), 60, axis=0),
    "two exchanged": chords(25, 4.0, 120)[[*range(50), 51, 50, *range(52, 120)]],
    "back and forth": chords(25, 4.0, 120)[[*range(60), *range(20, 120)]],
    "short of the end": chords(25, 4.0, 120)[:-1],
    "a larger radius": np.vstack([chords(25.02, 4.0, 120)[:-1], chords(25, 4.0, 1)]),
    "another height": chords(25, 4.0, 120, rise=-0.05),
    "straight across": chords(25, 4.0, 1),
}


@pytest.mark.parametrize("name", WRONG_CHORDS)
def test_chain_that_is_no_arc_is_caught(name: str) -> None:
    assert not passes(line_for_line(ARC, in_chords(ARC, WRONG_CHORDS[name]), loose(0.01, *Facet)))
    assert passes(line_for_line(ARC, in_chords(ARC, chords(25, 4.0, 120)), loose(0.01, *Facet)))


def split_arc(*turns: float, radius: float = 25.0, code: str = "G3") -> list[str]:
    """An arc about the origin in several, each with its own centre words."""
    lines, angle = [], 0.0
    for turn in turns:
        u, v = -radius * math.cos(angle), -radius * math.sin(angle)
        angle += turn
        x, y = radius * math.cos(angle), radius * math.sin(angle)
        lines.append(f"{code} X{x:.9f} Y{y:.9f} Z0 I{u:.9f} J{v:.9f}")
    return lines


@pytest.mark.parametrize("turns", [(2.0, 2.0), (0.5, 3.0, 0.5), (3.9, 0.1)])
def test_arc_in_several_arcs_passes(turns: tuple[float, ...]) -> None:
    proofs = line_for_line(ARC, [*ARC[:4], split_arc(*turns), *ARC[5:]], loose(0.001))

    assert passes(proofs), proofs
    assert max(proof.deviation for proof in proofs) < 1e-6


@pytest.mark.parametrize(
    "lines",
    [
        split_arc(2.0, 1.9),
        split_arc(2.0),
        split_arc(4.5, -0.5),
        split_arc(2.0, 2.0, radius=25.1),
        split_arc(2.0, 2.0, code="G2"),
        split_arc(2.0, 2.0, 2 * math.pi),
    ],
    ids=["short", "half", "there and back", "wider", "clockwise", "a turn more"],
)
def test_arc_in_wrong_arcs_is_caught(lines: list[str]) -> None:
    assert not passes(line_for_line(ARC, [*ARC[:4], lines, *ARC[5:]], loose(0.001, *Facet)))


@pytest.mark.parametrize("within", [0.0, 1e-7])
def test_without_a_tolerance_no_chain_stands_for_a_move(within: float) -> None:
    new = [*ARC[:4], said(chords(25, 4.0, 500)), *ARC[5:]]

    assert not passes(line_for_line(ARC, new, loose(within, *Facet)))


RINGS = 300
"""Arcs of a job that both proofs compare in bulk: more than they collect at once."""


def rings() -> tuple[list[str], list[list[str]]]:
    """Half circles in a row, and the chords of each."""
    lines, parts = [], []
    for ring in range(RINGS):
        x, radius = 20.0 * ring, 10.0
        points = chords(radius, math.pi, 40, clockwise=ring % 2 == 0)
        # from the left to the right: mirrored, and beside the one before
        points[:, 0] = x + radius - points[:, 0]
        points[:, 1] *= -1
        code = 3 if ring % 2 else 2
        lines.append(f"G{code} X{x + 20:.9f} Y0 Z0 I10 J0")
        parts.append(said(points))
    return lines, parts


RING_LINES, RING_PARTS = rings()
RING_HEAD = [*HEAD, "G0 X0 Y0 Z5", "G1 Z0 F600"]
RING_JOB = [*RING_HEAD, *RING_LINES, *TAIL]


def in_rings(at: int, parts: list[str]) -> list[str | list[str]]:
    """The job in chords, those of one arc exchanged."""
    return [*RING_HEAD, *RING_PARTS[:at], parts, *RING_PARTS[at + 1 :], *TAIL]


def test_many_arcs_in_chords_pass() -> None:
    exact = sagitta(10, math.pi / 40)

    proofs = line_for_line(RING_JOB, in_rings(0, RING_PARTS[0]), loose(0.01))

    assert passes(proofs), proofs
    for proof in proofs:
        assert proof.deviation == pytest.approx(exact, abs=1e-8)
        assert proof.moves == len(RING_JOB) - 3
    assert not passes(line_for_line(RING_JOB, in_rings(0, RING_PARTS[0]), loose(0.0075, *Facet)))


def moved(line: str, by: float) -> str:
    """A place a little higher up in Y."""
    x, y, z = line.split()[1:]
    return f"G1 {x} Y{float(y[1:]) + by:.9f} {z}"


CHEATS = {
    "one left out": lambda parts: [*parts[:20], *parts[21:]],
    "the last left out": lambda parts: parts[:-1],
    "two exchanged": lambda parts: [*parts[:20], parts[21], parts[20], *parts[22:]],
    "one off": lambda parts: [*parts[:20], moved(parts[20], 0.011), *parts[21:]],
    "one lower": lambda parts: [*parts[:20], f"{parts[20].split(' Z')[0]} Z-0.02", *parts[21:]],
    "the other way round": lambda parts: [moved(p, -2 * float(p.split()[2][1:])) for p in parts],
    "straight across": lambda parts: parts[-1:],
    "a rapid": lambda parts: [*parts[:20], "G0" + parts[20][2:], *parts[21:]],
    "another feed": lambda parts: [*parts[:20], parts[20] + " F601", *parts[21:]],
    "spindle off": lambda parts: [*parts[:20], "M5", *parts[20:]],
    "an axis turned": lambda parts: [*parts[:20], parts[20] + " A5", *parts[21:]],
    "minutes for a feed": lambda parts: [*[f"G93 {p} F600" for p in parts], "G94 F600"],
}  # fmt: skip


@pytest.mark.parametrize("ring", [0, 150, RINGS - 1])
@pytest.mark.parametrize("name", CHEATS)
def test_one_cheat_among_many_arcs_is_caught(name: str, ring: int) -> None:
    """Under the loosest contract that does not declare it."""
    facets = set(Facet) - {Facet.FEED, Facet.SPINDLE}
    new = in_rings(ring, CHEATS[name](RING_PARTS[ring]))

    proofs = line_for_line(RING_JOB, new, loose(0.01, *facets))

    assert not passes(proofs)
    assert proofs[0].breaches[0].place is not None
    assert abs(proofs[0].breaches[0].place.line - (len(RING_HEAD) + ring + 1)) <= 1


def test_lines_that_steps_added_do_not_hide_what_belongs_together() -> None:
    """Added lines have high ids, so that ids do not rise through the program."""
    old = program(RING_JOB).edited([before(4, "G0 X1", "G0 X0"), before(200, "G4 P1")], CAUSE)
    edits = [
        replace(at + len(RING_HEAD) + (at >= 0) * 2 + (at + len(RING_HEAD) >= 200), *parts)
        for at, parts in enumerate(RING_PARTS)
    ]
    good = old.edited(edits, CAUSE)
    bad = old.edited([*edits[:250], replace(edits[250].line, *RING_PARTS[250][:-2])], CAUSE)
    contract = loose(0.01)

    assert prove_step(version(old), version(good), contract).breaches == ()
    assert prove_step(version(old), version(bad), contract).breaches


def test_many_lines_made_arcs_pass() -> None:
    """A line that stands for many may be the last one of a stretch that is compared at once."""
    lines = [line for parts in RING_PARTS for line in parts]
    job = [*RING_HEAD, *lines, *TAIL]
    first = len(RING_HEAD)
    data = "".join(line + "\n" for line in RING_LINES).encode()
    kept = np.arange(first, first + len(lines), 40)
    new = program(job).edited([rewrite(first, first + len(lines), data, kept)], CAUSE)
    contract = loose(0.01, Facet.SPELLING)

    assert prove_step(version(program(job)), version(new), contract).breaches == ()
    whole = prove_run(program(job), [new], contract, False, DIALECT)
    assert whole.breach is None
    assert whole.deviation == pytest.approx(sagitta(10, math.pi / 40), abs=1e-8)
    assert not passes(edited(job, [rewrite(first, first + len(lines), data, kept)],
                             loose(0.0075, *Facet)))  # fmt: skip


def test_height_that_nobody_knows_stays_what_it_is() -> None:
    """A job that never names Z cuts arcs on some height; chords that do not name it either are on
    the same, and one that does is not."""
    job = ["G21 G90 G17 G94", "M3 S18000", "G1 X25 Y0 F600", "G3 X0 Y25 I-25 J0", "M30"]
    flat = [line.rsplit(" ", 1)[0] for line in said(chords(25, math.pi / 2, 40))]
    start = State(units="mm")
    for parts, fine in ((flat, True), ([*flat[:9], flat[9] + " Z-1", *flat[10:]], False)):
        old = program(job)
        new = old.edited([replace(3, *parts)], CAUSE)
        step = prove_step(*(Version(p, interpret(p, start=start)) for p in (old, new)),
                          loose(0.01, Facet.SPELLING))  # fmt: skip
        whole = prove_run(old, [new], loose(0.01), False, DIALECT)
        assert (not step.breaches, whole.breach is None) == (fine, fine)
