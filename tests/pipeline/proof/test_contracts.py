"""Maps of the path and tolerances: what a contract may say, and how it is held to.

Maps are done on the numbers with NumPy, as a transform would; a right one passes, a wrong one not.
"""

from __future__ import annotations

import math
import random
import re

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headrace import Facet, before, delete
from headrace.plugins import Contract
from headrace.plugins.contract import Affine
from headrace.program import Program, rewrite
from headrace.proof import prove_run

from .trial import CAUSE, DIALECT, edited, line_for_line, passes, program

Floats = npt.NDArray[np.float64]

JOB = [
    "G21 G90 G17 G94",
    "M3 S18000",
    "G0 X0 Y0 Z5",
    "G1 X0 Y0 Z-2 F600",
    "G1 X40 Y0 Z-2",
    "G2 X60 Y20 Z-2 I0 J20",
    "G3 X50 Y30 Z-3 I-10 J0",
    "G1 X-12.5 Y7.25 Z-3",
    "G3 X-12.5 Y7.25 Z-3 I5 J0",
    "G0 X-12.5 Y7.25 Z5",
    "M30",
]
"""Every place is stated on every line, so that lines map one by one."""

TURNED = "G2 X60 Y20 Z-2 I0 J20"


def rows(
    matrix: Floats | list[list[float]], shift: tuple[float, float, float]
) -> list[list[float]]:
    """Three rows of four numbers."""
    return np.column_stack([np.array(matrix, float), shift]).tolist()


def around_z(degrees: float) -> Floats:
    """A turn about Z (textbook)."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])


def mapped(lines: list[str], affine: list[list[float]], places: int = 9) -> list[str]:
    """The lines with all numbers mapped; arcs change their side where the map mirrors XY."""
    matrix = np.array(affine)
    mirrors = np.linalg.det(matrix[:2, :2]) < 0
    found = []
    for line in lines:
        words = dict(re.findall(r"([XYZIJ])(-?[\d.]+)", line))
        if "X" not in words:
            found.append(line)
            continue
        place = matrix[:, :3] @ [float(words[a]) for a in "XYZ"] + matrix[:, 3]
        new = dict(zip("XYZ", place, strict=True))
        if "I" in words:
            centre = matrix[:, :3] @ [float(words["I"]), float(words["J"]), 0.0]
            new |= {"I": centre[0], "J": centre[1]}
        if mirrors:
            line = re.sub(r"^G([23])", lambda m: f"G{5 - int(m[1])}", line)
        head = re.match(r"G\d", line)
        feed = re.search(r"F\d+", line)
        assert head is not None
        said = " ".join(f"{letter}{value:.{places}f}" for letter, value in new.items())
        found.append(f"{head[0]} {said}" + (f" {feed[0]}" if feed else ""))
    return found


MAPS = {
    "shifted": rows(np.eye(3), (120, -35.5, 0)),
    "lifted": rows(np.eye(3), (0, 0, 1.25)),
    "turned by 90": rows(around_z(90), (10, 0, 0)),
    "turned by 180": rows(around_z(180), (0, 0, 0)),
    "turned by 30": rows(around_z(30), (0, 5, 0)),
    "mirrored in X": rows(np.diag([-1.0, 1, 1]), (580, 0, 0)),
    "mirrored in Y": rows(np.diag([1.0, -1, 1]), (0, 500, 0)),
    "X and Y exchanged": rows([[0, 1, 0], [1, 0, 0], [0, 0, 1]], (0, 0, 0)),
    "scaled": rows(np.diag([1.5, 1.5, 1]), (0, 0, 0)),
    "turned, scaled and shifted": rows(0.5 * around_z(-75) + np.diag([0, 0, 0.5]), (3, 2, 1)),
}
FEED = frozenset({Facet.FEED})


@pytest.mark.parametrize("name", MAPS)
def test_path_that_is_mapped_as_declared_passes(name: str) -> None:
    affine = MAPS[name]
    proofs = line_for_line(JOB, mapped(JOB, affine), Contract(affine=Affine.of(affine)))

    assert passes(proofs), proofs
    assert proofs[0].moves == proofs[1].moves == 8
    assert max(proofs[0].deviation, proofs[1].deviation) < 1e-6


@pytest.mark.parametrize("name", MAPS)
def test_map_that_is_not_declared_is_caught(name: str) -> None:
    assert not passes(line_for_line(JOB, mapped(JOB, MAPS[name]), Contract(frozenset(Facet))))


@pytest.mark.parametrize("name", MAPS)
@pytest.mark.parametrize("at", range(12))
def test_map_with_a_wrong_number_is_caught(name: str, at: int) -> None:
    wrong = [list(row) for row in MAPS[name]]
    wrong[at // 4][at % 4] += 0.001
    affine = Affine.of(wrong)

    proofs = line_for_line(JOB, mapped(JOB, MAPS[name]), Contract(frozenset(Facet), affine=affine))

    assert not passes(proofs)


@pytest.mark.parametrize("degrees", [30, 45, 0.2, 137])
def test_numbers_rounded_to_a_thousandth_need_a_tolerance(degrees: float) -> None:
    """Rounding three coordinates to 0.001 moves a place by 0.0005 sqrt(3) at the most."""
    affine = rows(around_z(degrees), (0, 0, 0))
    lines = [line for line in JOB if not line.startswith("G3 X-12.5")]
    rounded = mapped(lines, affine, places=3)
    exact = Contract(affine=Affine.of(affine))
    loose = Contract(affine=Affine.of(affine), within=0.002)

    assert not passes(line_for_line(lines, rounded, exact))
    proofs = line_for_line(lines, rounded, loose)
    assert passes(proofs), proofs
    for proof in proofs:
        assert 1e-5 < proof.deviation <= 0.0005 * math.sqrt(3) + 1e-9


def test_mirrored_arc_that_keeps_its_side_is_caught() -> None:
    affine = MAPS["mirrored in X"]
    lines = mapped(JOB, affine)
    at = JOB.index(TURNED)
    assert lines[at].startswith("G3")
    lines[at] = "G2" + lines[at][2:]

    proofs = line_for_line(JOB, lines, Contract(frozenset(Facet), affine=Affine.of(affine)))
    assert not passes(proofs)


def test_stretching_one_axis_makes_no_arc_of_an_arc() -> None:
    affine = rows(np.diag([2.0, 1, 1]), (0, 0, 0))

    assert not passes(line_for_line(JOB, mapped(JOB, affine), Contract(affine=Affine.of(affine))))


def test_lying_arc_that_is_tilted_is_no_arc_any_more() -> None:
    """A turn about X by 30 degrees lifts an XY arc out of every plane of the machine."""
    c, s = math.cos(math.pi / 6), math.sin(math.pi / 6)
    affine = rows([[1, 0, 0], [0, c, -s], [0, s, c]], (0, 0, 0))

    assert not passes(line_for_line(JOB, mapped(JOB, affine), Contract(affine=Affine.of(affine))))


@given(
    st.lists(st.floats(-3, 3).map(lambda v: round(v, 3)), min_size=9, max_size=9),
    st.lists(st.integers(-200, 200), min_size=3, max_size=3),
    st.randoms(use_true_random=False),
)
@settings(max_examples=40, deadline=None)
def test_straight_paths_may_be_mapped_by_anything_that_does_not_flatten(
    linear: list[float], shift: list[int], rng: random.Random
) -> None:
    matrix = np.array(linear).reshape(3, 3)
    if abs(np.linalg.det(matrix)) < 0.05:
        matrix = matrix + np.eye(3) * 7
    if abs(np.linalg.det(matrix)) < 0.05:
        return
    job = ["G21 G90 G94", "G0 X0 Y0 Z5"]
    job += [
        f"G1 X{rng.randint(-99, 99)} Y{rng.randint(-99, 99)} Z{rng.randint(-9, 0)} F600"
        for _ in range(12)
    ]
    affine = rows(matrix, (float(shift[0]), float(shift[1]), float(shift[2])))
    contract = Contract(affine=Affine.of(affine))

    assert passes(line_for_line(job, mapped(job, affine), contract))
    spoilt = mapped(job, affine)
    at = rng.randrange(2, len(job))
    spoilt[at] = re.sub(r"Y(-?[\d.]+)", lambda m: f"Y{float(m[1]) + 0.0001:.9f}", spoilt[at])
    assert not passes(line_for_line(job, spoilt, contract))


@pytest.mark.parametrize(
    "bad",
    [
        [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
        [[1, 0, 0, 0], [0, 1, 0, 0]],
        [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, float("nan"), 0]],
        [[1, 0, 0, float("inf")], [0, 1, 0, 0], [0, 0, 1, 0]],
        [[1, 0, 0, 0], [2, 0, 0, 0], [0, 0, 1, 0]],
        [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 0, 4]],
    ],
    ids=["3x3", "2x4", "nan", "infinite shift", "a plane", "no height"],
)
def test_what_is_no_map_of_space_is_refused(bad: list[list[float]]) -> None:
    with pytest.raises(ValueError, match="affine map"):
        Affine.of(bad)


def test_maps_one_behind_the_other_are_their_product() -> None:
    """The product of matrices in four coordinates (textbook)."""
    first, second = MAPS["turned by 30"], MAPS["turned, scaled and shifted"]

    joined = Affine.of(first).then(Affine.of(second)).matrix

    whole = np.vstack([second, [0, 0, 0, 1]]) @ np.vstack([first, [0, 0, 0, 1]])
    np.testing.assert_allclose(joined, whole[:3], atol=1e-12)


def test_two_steps_may_do_together_what_each_declared() -> None:
    half = Contract(FEED, affine=Affine.of(MAPS["scaled"]), within=0.01)
    moved = Contract(frozenset({Facet.SPINDLE}), True, Affine.of(MAPS["turned by 90"]), 0.002)

    both = half.then(moved)

    assert both.facets == {Facet.FEED, Facet.SPINDLE}
    assert both.adds_motion
    assert both.within == pytest.approx(0.012)
    assert both.affine is not None
    np.testing.assert_allclose(
        both.affine.matrix[:, :3], around_z(90) @ np.diag([1.5, 1.5, 1]), atol=1e-12
    )
    assert moved.then(half).within == pytest.approx(0.002 * 1.5 + 0.01)  # scaling scales errors


def test_contract_without_anything_behind_another_changes_nothing() -> None:
    one = Contract(FEED, True, Affine.of(MAPS["shifted"]), 0.5)

    assert one.then(Contract()) == Contract().then(one) == one


@pytest.mark.parametrize("name", MAPS)
def test_stretch_is_the_largest_singular_value(name: str) -> None:
    """What NumPy's singular values say."""
    values = np.linalg.svd(np.array(MAPS[name])[:, :3], compute_uv=False)

    assert Affine.of(MAPS[name]).stretch == pytest.approx(float(values.max()))


@pytest.mark.parametrize(
    ("contract", "text"),
    [
        (Contract(), "same cut path; changes nothing else"),
        (Contract(FEED), "same cut path; may change feed"),
        (
            Contract(frozenset({Facet.SPINDLE, Facet.COMMENTS}), adds_motion=True),
            "same cut path; motion added outside the job's own; may change comments, spindle",
        ),
        (Contract(within=0.01), "cut path within 0.01 mm; changes nothing else"),
        (
            Contract(affine=Affine.of(MAPS["shifted"])),
            "cut path shifted by X+120 Y-35.5 Z+0; changes nothing else",
        ),
        (
            Contract(affine=Affine.of(MAPS["X and Y exchanged"]), within=0.5),
            "cut path mapped to (1y, 1x, 1z); cut path within 0.5 mm; changes nothing else",
        ),
    ],
)
def test_contract_is_said_in_words(contract: Contract, text: str) -> None:
    assert str(contract) == text


TWO_PARTS = [
    "G21 G90 G94",
    "G0 Z5",
    "G0 X10 Y10",
    "G1 Z-2 F600",
    "X40",
    "G0 Z5",
    "G0 X100 Y10",
    "G1 Z-2",
    "X140",
    "G0 Z5",
    "M30",
]


def _parts(first: int, second: int, *lead: str) -> list[Program]:
    """The job in two files: lines up to `first`, and from `second` on behind some added ones."""
    source = program(TWO_PARTS)
    end = len(TWO_PARTS)
    one = source.edited([*(delete(at) for at in range(first, end)), before(end, "M30")], CAUSE)
    two = source.edited([*(delete(at) for at in range(second)), before(second, *lead)], CAUSE)
    return [one, two]


_AGAIN = ("G21 G90 G94 F600", "G0 Z5")


def _split_proof(results: list[Program], *, adds_motion: bool = True) -> str | None:
    contract = Contract(frozenset(Facet), adds_motion)
    breach = prove_run(program(TWO_PARTS), results, contract, False, DIALECT).breach
    return None if breach is None else str(breach)


def test_job_split_into_two_files_passes() -> None:
    assert _split_proof(_parts(6, 6, *_AGAIN)) is None


@pytest.mark.parametrize(
    ("first", "second", "lead"),
    [
        (5, 6, _AGAIN),
        (6, 7, (*_AGAIN, "G0 X99 Y10")),
        (7, 6, _AGAIN),
        (6, 6, ("G20 G90 G94 F600", "G0 Z5")),
        (6, 6, ("G21 G91 G94 F600", "G0 Z5")),
        (6, 7, _AGAIN),
    ],
    ids=["a move lost", "another place", "a move twice", "inch", "increments", "place unknown"],
)
def test_split_that_loses_or_changes_something_is_caught(
    first: int, second: int, lead: tuple[str, ...]
) -> None:
    assert _split_proof(_parts(first, second, *lead)) is not None


def test_files_in_the_wrong_order_are_caught() -> None:
    assert _split_proof(_parts(6, 6, *_AGAIN)[::-1]) is not None


def test_file_that_is_missing_is_caught() -> None:
    assert _split_proof(_parts(6, 6, *_AGAIN)[:1]) is not None


def test_lines_in_another_order_by_a_rewritten_stretch_are_caught() -> None:
    kept = np.array([0, 1, 2, 4, 3, 5, 6, 7, 8, 9, 10])
    data = "".join(TWO_PARTS[at] + "\n" for at in kept.tolist()).encode()

    proofs = edited(
        TWO_PARTS, [rewrite(0, len(kept), data, kept)], Contract(frozenset(Facet), True)
    )

    assert not passes(proofs)
