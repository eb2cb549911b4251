"""Places instead of increments, and centres as the machine counts them: RS274/NGC 3.5.17 and
3.5.3, sums of Python's decimals, and the reference interpreter."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plugins.alike import require_alike, require_known, sound, standard_job, unframed
from plugins.shop import job, refused, text, through
from reference import Options, run
from reference.programs import programs

from headrace import Job, JobRefused
from headrace.language import Dialect
from headrace.machine import Assumed
from headrace_transforms.absolute import needs_absolute

ONLY: tuple[str, dict[str, Any]] = ("absolute", {"centres": "keep"})
START = ["G21 G90 G17 F100", "M3 S900"]
RENUMBERING = (10, 28, 30, 38.2, 54, 55, 56, 57, 58, 59, 59.1, 59.2, 59.3, 92, 92.1, 92.2, 92.3)
"""Behind these the second reading knows no place until one is stated."""
ABSOLUTE = {"arcs": {"centres": "absolute"}}

_WORD = re.compile(r"([A-Z])(-?[\d.]+)")


def written(*lines: str) -> list[str]:
    """What becomes of some lines, those before and behind them left out."""
    source = standard_job([*START, *lines, "M30"])
    assert sound(source)
    done = through(source, ONLY)
    require_alike(source, done)
    return text(done)[len(START) : -1]


# --- distances --------------------------------------------------------------------------------


def test_increments_count_from_the_last_place() -> None:
    """3.5.17: with G91 axis words are usually increments from the current values."""
    assert written("G0 X10 Y5 Z2", "G91 G1 X2.5", "Z-3.125", "G90 X1") == [
        "G0 X10 Y5 Z2", "G90 G1 X12.5", "Z-1.125", "G90 X1",
    ]  # fmt: skip


def test_offsets_of_arcs_stay_increments() -> None:
    """3.5.17: I, J and K always are, whichever distance mode is in force; 3.5.3.2: the sample
    from (7, 7) to (10, 16), centre (10, 11)."""
    found = written("G0 X7 Y7 Z0", "G91 G2 X3 Y9 I3 J4 Z9", "G3 X0 Y0 I-3 J4")
    assert found[1:] == ["G90 G2 X10 Y16 I3 J4 Z9", "G3 X10 Y16 I-3 J4"]


def test_zeros_and_dwells_are_no_increments() -> None:
    """3.5.18: G92 gives the numbers that the current point is to have."""
    found = written("G0 X10 Y5 Z2", "G91", "G92 X-1.5", "G4 P2", "G1 X1 F50", "(END)", "G90")
    assert found[1:] == ["G90", "G92 X-1.5", "G4 P2", "G1 X-0.5 F50", "(END)", "G90"]


def test_the_way_to_a_stored_point() -> None:
    """3.5.8: G28 goes by way of the programmed point, and the sums go on from the stored one,
    here at zero."""
    source = standard_job([*START, "G0 X10 Y5 Z2", "G91 G28 Z3", "G1 X1", "M30"])
    done = through(source, ONLY)
    require_alike(source, done, followed=False)
    assert text(done)[3:5] == ["G90 G28 Z5", "G1 X1"]


def test_words_that_only_name_axes_stay() -> None:
    """Where G28 runs to the switches its words say which axes, not how far."""
    source = job("G21 G90\nG0 X1 Y1 Z5\nG91 G28 Z0\nG1 X2 F100\nM30\n", "bench")
    assert text(through(source, ONLY))[2:4] == ["G90 G28 Z0", "G1 X3 F100"]


def test_all_else_on_a_line_stays() -> None:
    found = written("G0 X1 Y1 Z5", "n20  g91 (HIVE)", "N30 G1x.5 (SIDE) F90 M8", "g90")
    assert found[1:] == ["n20  g90 (HIVE)", "N30 G1x1.5 (SIDE) F90 M8", "g90"]


@st.composite
def increments(draw: st.DrawFn) -> list[dict[str, Decimal]]:
    """Steps along the axes, with up to six places each."""
    number = st.decimals(-50, 50, allow_nan=False, places=draw(st.integers(0, 6)))
    axes = st.sets(st.sampled_from("XYZAB"), min_size=1)
    return [
        {axis: draw(number) for axis in sorted(draw(axes))} for _ in range(draw(st.integers(1, 60)))
    ]


@settings(deadline=None, max_examples=60)
@given(increments(), st.sampled_from(["G21", "G20"]))
def test_places_are_exact_sums(steps: list[dict[str, Decimal]], unit: str) -> None:
    """Python's decimals add up exactly."""
    lines = [
        f"{unit} G90 G17 F100", "M3 S900", "G0 X0.5 Y-0.25 Z1 A3 B0", "G91 G1",
        *("".join(f"{axis}{value:f}" for axis, value in step.items()) for step in steps), "M30",
    ]  # fmt: skip
    source = standard_job(lines)
    done = through(source, ONLY)
    total = dict(zip("XYZAB", map(Decimal, ("0.5", "-0.25", "1", "3", "0")), strict=True))
    for step, found in zip(steps, text(done)[4:], strict=False):
        for axis, value in step.items():
            total[axis] += value
        assert {axis: Decimal(said) for axis, said in _WORD.findall(found)} == {
            axis: total[axis] for axis in step
        }


REFUSALS = {
    "cycle-in-force", "numbers-not-plain", "place-unknown", "switch-decides", "mode-optional",
}  # fmt: skip


@settings(deadline=None, max_examples=120)
@given(programs(longest=40))
def test_generated_programs(lines: list[str]) -> None:
    """Of the whole language: the reference interpreter goes the same way, or the step refuses."""
    source = standard_job(["G0 X0 Y0 Z0 A0 B0 C0", *unframed(lines)])
    if not sound(source):
        return
    try:
        done = through(source, ONLY)
    except JobRefused as error:
        require_known(error, *REFUSALS)
        return
    require_alike(source, done, followed=not len(source.program.lines_with("G", *RENUMBERING)))
    assert not any(block.setting.incremental for block in done.trace.blocks)


def test_a_long_relief() -> None:
    """As many lines as make several sections, by NumPy's own sums of whole numbers."""
    rng = np.random.default_rng(7)
    steps = rng.integers(-900, 900, (60_000, 3))
    lines = [f"X{x / 1000:.3f}Y{y / 1000:.3f}Z{z / 1000:.3f}" for x, y, z in steps.tolist()]
    source = standard_job([*START, "G0 X0 Y0 Z0", "G91 G1", *lines, "M30"])
    found = text(through(source, ONLY))[len(START) + 2 : -1]
    places = [[float(number) for _, number in _WORD.findall(line)] for line in found]
    np.testing.assert_array_equal(np.rint(np.array(places) * 1000), np.cumsum(steps, axis=0))
    assert max(map(len, found)) < 40


@pytest.mark.parametrize(
    ("lines", "name", "line"),
    [
        (["G91", "G0 Z5", "X1 Y1"], "place-unknown", 3),
        (["G0 X1 Y1 Z5", "G91 G81 X1 Z-2 R-1 F100"], "cycle-in-force", 3),
        (["G0 X1 Y1 Z5", "G91 G1 X[1+1] F100"], "numbers-not-plain", 3),
        (["G0 X1 Y1 Z5", "G[90+1] G1 X2 F100"], "numbers-not-plain", 3),
        (["G0 X1 Y1 Z5", "/X2", "G91 G1 X1 F100"], "switch-decides", 3),
        (["G0 X1 Y1 Z5", "/G91", "G1 X1 F100"], "mode-optional", 3),
        (["G0 X1 Y1 Z5", "G91", "M98 P7", "M30", "O7", "G1 X1 F9", "M99"], "numbers-not-plain", 4),
    ],
    ids=["unknown", "cycle", "expression", "code", "optional", "optional mode", "call"],
)
def test_refusals(lines: list[str], name: str, line: int) -> None:
    finding = refused(job("\n".join(["G21 G90", *lines, "M30", ""]), "relay"), ONLY)
    assert (finding.name, finding.place.line) == (name, line)


def test_nothing_to_do() -> None:
    source = job("G21 G90\nG0 X1 Y1 Z5\nG2 X2 I.5 F100\nM30\n", "relay")
    assert through(source, "absolute").program is source.program
    assert needs_absolute(source) is None


def test_who_needs_it() -> None:
    lines = "G21 G90\nG0 X1 Y1 Z5\nG91 G1 X1 F100\nM30\n"
    assert needs_absolute(job(lines, "relay")) is None
    lacking = job(lines, "relay", changes={"distances": ["absolute"]})
    assert needs_absolute(lacking) == {"distances": "absolute", "centres": "keep"}


# --- centres ----------------------------------------------------------------------------------


def centred(lines: list[str], absolute: bool, assumed: str) -> Job:
    """Lines as a job whose arcs are counted as is assumed, on a machine that may count them
    otherwise."""
    source = "\n".join(["G21 G90 G17", "M3 S18000", *lines, "M30", ""])
    changes = ABSOLUTE if absolute else {}
    return job(source, "relay", changes=changes, assumed=Assumed(centres=assumed))


def test_the_sample_of_the_standard_by_its_centre() -> None:
    """3.5.3.2: from (7, 7), I3 J4 is a centre at (10, 11)."""
    arc = "G17 G2 X10 Y16 I3 J4 Z9 F100"
    done = through(centred(["G0 X7 Y7 Z5", arc], True, "increments"), "absolute")
    assert text(done)[3] == "G17 G2 X10 Y16 I10 J11 Z9 F100"
    assert done.dialect == Dialect.of(done.machine)
    back = through(centred(["G0 X7 Y7 Z5", text(done)[3]], False, "absolute"), "absolute")
    assert text(back)[3] == arc


def test_offsets_that_are_not_said_are_added() -> None:
    """By the samples of appendix C a missing offset counts as zero; a missing place does not."""
    lines = ["G0 X10 Y20 Z5", "G2 X20 I5 F100 (SIDE)", "G18 G2 X22 K0 I1 ; deep", "G3 X0 R20"]
    done = through(centred(lines, True, "increments"), "absolute")
    assert text(done)[3:6] == [
        "G2 X20 I15 F100 J20 (SIDE)", "G18 G2 X22 K5 I21 ; deep", "G3 X0 R20",
    ]  # fmt: skip


def test_words_for_centres_stay_where_the_machine_has_them() -> None:
    lines = ["G0 X10 Y20 Z5", "G90.1", "G2 X20 I15 J20 F100", "G91.1 G2 X30 I5 J0"]
    done = through(centred(lines, False, "increments"), "absolute")
    assert text(done)[2:5] == ["G0 X10 Y20 Z5", "G2 X20 I5 J0 F100", "G2 X30 I5 J0"]
    knows = job("\n".join(["G21 G90", *lines, "M30", ""]), "relay", changes={"modes": ["G91.1"]})
    assert text(through(knows, "absolute"))[1:5] == [
        "G0 X10 Y20 Z5", "G91.1", "G2 X20 I5 J0 F100", "G91.1 G2 X30 I5 J0",
    ]  # fmt: skip
    assert needs_absolute(knows) == {"distances": "keep", "centres": "machine"}


@settings(deadline=None, max_examples=150)
@given(programs(longest=40, options=Options(centre_codes=True)))
def test_generated_arcs_there_and_back(lines: list[str]) -> None:
    """The reference interpreter reads the result as a machine does that counts centres as places:
    the same arcs."""
    source = standard_job(unframed(lines), arcs={"centres": "absolute"})
    if not sound(source):
        return
    try:
        done = through(source, ("absolute", {"distances": "keep"}))
    except JobRefused:
        return
    assert done.dialect.absolute_centres
    options = Options(centre_codes=True)
    was = run([line.text for line in source.program], options=options)
    now = run(["G90.1", *(line.text for line in done.program)], options=options)
    assert was.error is None
    assert now.error is None
    arcs = [[move for move in each.moves if move.centre is not None] for each in (was, now)]
    assert len(arcs[0]) == len(arcs[1])
    for first, second in zip(*arcs, strict=True):
        np.testing.assert_allclose((*first.end, first.turn), (*second.end, second.turn), atol=1e-6)
        np.testing.assert_allclose(first.centre or (), second.centre or (), atol=1e-6)
