"""Rapids by the corner and with their own F: RS274/NGC 2.1.2.5, 3.5.1 and table 8, NumPy, and the
reference interpreter. That Z goes first coming out and last going in is common practice."""

from __future__ import annotations

import random
from collections import Counter
from itertools import groupby
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pipeline.proof.sources import drilling_job, workshop_job
from plugins.alike import sound, standard_job, unframed
from plugins.shop import job, refused, text, through
from reference import Move, Options, Start, run
from reference.programs import random_program

from headrace import Job, JobRefused
from headrace.rehearsal.words.rapids import rapid_findings
from headrace_transforms.rapid_feed import needs_rapids_fed

WORD = {"rapid-feed": "word"}
START = ["G21 G90", "M3 S18000"]
RAPIDS = np.array([8000.0, 8000.0, 2500.0])
"""Of the relay machine, along X, Y and Z."""


def shop_job(*lines: str, **changes: Any) -> Job:
    return job("\n".join([*START, *lines, "M30", ""]), "relay", changes=changes)


def split(*lines: str) -> list[str]:
    """What becomes of some lines where G0 goes at its own speed, those around them left out."""
    return text(through(shop_job(*lines), "rapid-feed"))[2:-1]


def fed(*lines: str, **options: Any) -> list[str]:
    """What becomes of some lines where G0 goes at F, those around them left out."""
    return text(through(shop_job(*lines, **WORD), ("rapid-feed", options)))[2:-1]


# --- by the corner ----------------------------------------------------------------------------


def test_out_of_the_work_z_goes_first_and_into_it_last() -> None:
    assert split("G0 X0 Y0 Z5", "G0 X10 Y20 Z1", "X40 Z8") == [
        "G0 X0 Y0 Z5", "G0 X10 Y20", "G0 Z1", "Z8", "X40",
    ]  # fmt: skip


def test_increments_too() -> None:
    assert split("G0 X0 Y0 Z5", "G91 X10 Z-2 Y1", "G0 X1 Z3")[1:] == [
        "G91 X10 Y1", "Z-2", "G0 Z3", "G0 X1",
    ]  # fmt: skip


def test_all_else_stays_on_the_first_line_but_a_stop() -> None:
    """Table 8: what switches comes before the move of its line, a stop behind it."""
    assert split("G0 X0 Y0 Z5", "N8  G00X1Z9 M8 (OUT)", "/g0 x5 z2", "N9 G0 X7 Z20 M0 (LOOK)")[
        1:
    ] == ["N8  G00Z9 M8 (OUT)", "G00 X1", "/g0 x5", "/g0 z2", "N9 G0 Z20", "G0 X7 M0 (LOOK)"]


def test_what_is_no_slant_stays() -> None:
    lines = ["G0 X1 Y1 Z5", "G0 X3 Y4", "Z2", "X3 Y4 Z1", "G1 X9 Z0 F100", "G53 G0 X-5 Z-5"]
    source = shop_job(*lines)
    assert through(source, "rapid-feed").program is source.program
    source = shop_job("G0 X0 Y0 Z5", "G0 X10 Z1")
    assert through(source, ("rapid-feed", {"diagonals": "keep"})).program is source.program


def test_rapids_of_cycles_and_to_stored_points_stay() -> None:
    lines = ["G0 X0 Y0 Z9", "G81 X10 Z-1 R2 F100", "X20", "G80", "G28 X5 Z20"]
    source = standard_job(["G21 G90", "M3 S900", *lines, "M30"], **WORD)
    done = through(source, "rapid-feed")
    assert text(done)[2:-1] == ["G0 X0 Y0 Z9 F5000", "G81 X10 Z-1 R2 F100", *lines[2:]]


# --- F ----------------------------------------------------------------------------------------


def test_each_rapid_goes_as_fast_as_its_axes_can() -> None:
    """2.1.2.5: F counts along the way, so 3 and 4 along X and Y are 5: Y at 8000, F at 10000."""
    assert fed("G0 Z5", "G0 X0 Y0", "G0 X3 Y4", "G0 Y9") == [
        "G0 Z5 F2500", "G0 X0 Y0 F8000", "G0 X3 Y4 F10000", "G0 Y9 F8000",
    ]  # fmt: skip


def test_no_faster_than_is_wanted() -> None:
    assert fed("G0 Z5", "G0 X0 Y0", feed=3000) == ["G0 Z5 F2500", "G0 X0 Y0 F3000"]
    assert fed("G0 Z5", words=False) == ["G0 Z5"]


def test_the_next_cut_says_its_own_feed_again() -> None:
    found = fed(
        "G0 X0 Y0 Z5 F900", "G1 Z-1", "G1 X9 F1200.", "X8", "G0 Z5", "N5 G1 X7 (BACK)", "X6",
        "G0 X0", "F700", "G1 X3",
    )  # fmt: skip
    assert found == [
        "G0 X0 Y0 Z5 F2500", "G1 Z-1 F900", "G1 X9 F1200.", "X8", "G0 Z5 F2500",
        "N5 G1 X7 F1200 (BACK)", "X6", "G0 X0 F8000", "F700", "G1 X3",
    ]  # fmt: skip


def test_inches() -> None:
    found = fed("G20 G0 Z1", "X1 Y1", "G1 Z-.1 F40")
    assert found == ["G20 G0 Z1 F98.42", "X1 Y1 F314.96", "G1 Z-.1 F40"]


def test_a_feed_that_a_switch_decides() -> None:
    """A cut that may be left out cannot give the next one its feed back."""
    lines = ["G0 X0 Y0 Z5", "G1 Z-1 F300", "G0 X9"]
    assert fed(*lines, "/G1 X8", "G1 X7", "X6")[3:] == ["/G1 X8 F300", "G1 X7 F300", "X6"]
    source = shop_job(*lines[:2], "/F900", "G0 X9", "G1 X7", **WORD)
    assert refused(source, "rapid-feed").name == "switch-decides"


@pytest.mark.parametrize(
    ("lines", "name"),
    [
        (["G0 X1", "G93 G1 X2 F3", "G0 X5"], "rapid-timed"),
        (["G0 X1", "F[100*3]", "G0 X2", "G1 X5"], "numbers-not-plain"),
        (["G0 X1", "M98 P7", "M30", "O7", "G0 X2", "M99"], "numbers-not-plain"),
    ],
    ids=["inverse time", "expression", "call"],
)
def test_refusals(lines: list[str], name: str) -> None:
    assert refused(shop_job(*lines, **WORD), "rapid-feed").name == name


def test_units_that_are_not_known() -> None:
    source = job("M3 S18000\nG0 X1\nG21\n", "relay", changes={**WORD, "power-up-units": None})
    assert refused(source, "rapid-feed").name == "units-unknown"


@settings(deadline=None, max_examples=40)
@given(st.integers(0, 2**32 - 1))
def test_no_axis_is_driven_beyond_its_rapid(seed: int) -> None:
    """NumPy: at F an axis goes at F times its share of the way; a little more is too much."""
    places = np.round(np.random.default_rng(seed).uniform(-300, 300, (20, 3)), 3)
    lines = [f"G0 X{x} Y{y} Z{z}" for x, y, z in places.tolist()]
    done = through(shop_job(*lines, **WORD), ("rapid-feed", {"diagonals": "keep"}))
    feeds = done.trace.feed[1:]
    ways = np.diff(places, axis=0)
    share = np.abs(ways) / np.linalg.norm(ways, axis=1)[:, None]
    assert (feeds[:, None] * share <= RAPIDS + 1e-6).all()
    assert ((feeds[:, None] + 1.001) * share >= RAPIDS - 1e-6).any(axis=1).all()


# --- the same way -----------------------------------------------------------------------------


def require_same_way(before: Job, after: Job) -> None:
    """By the reference interpreter: every cut as it was, feed included; rapids that stand in the
    place of one lead to the same end, and never down before across or across before up."""
    options = Options(centre_codes=True)
    was, now = (
        run([line.text for line in each.program], start=Start(), options=options)
        for each in (before, after)
    )
    assert was.error is None
    assert now.error is None
    ids = [line.id for line in after.program]
    grouped = [list(moves) for _, moves in groupby(now.moves, lambda move: ids[move.line])]
    single = Counter(move.line for move in was.moves)
    behind = iter(
        move
        for moves in grouped
        for move in (joined(moves) if single[ids[moves[0].line]] == 1 else moves)
    )
    for first in was.moves:
        second = next(behind)
        assert (first.kind, first.feed, first.tool) == (second.kind, second.feed, second.tool)
        np.testing.assert_allclose(first.end, second.end, atol=1e-6)
        np.testing.assert_allclose(first.start, second.start, atol=1e-6)
    assert next(behind, None) is None
    assert [e.kind for e in was.events] == [e.kind for e in now.events]


def joined(moves: list[Move]) -> list[Move]:
    """The moves of one line, two rapids by the corner made one."""
    if len(moves) != 2 or {move.kind for move in moves} != {"rapid"}:
        return moves
    first, second = moves
    if first.start[2] == first.end[2]:
        assert second.end[2] < second.start[2]
        assert (*second.start[:2], *second.start[3:]) == (*second.end[:2], *second.end[3:])
    else:
        assert first.end[2] > first.start[2]
        assert (*first.start[:2], *first.start[3:]) == (*first.end[:2], *first.end[3:])
        assert second.start[2] == second.end[2]
    return [Move(**{**{n: getattr(second, n) for n in Move.__slots__}, "start": first.start})]


@settings(deadline=None, max_examples=120)
@given(st.integers(0, 2**32 - 1), st.sampled_from(["shop", "holes", "all"]), st.booleans())
def test_generated_programs(seed: int, kind: str, words: bool) -> None:
    rng = random.Random(seed)
    if kind == "all":
        lines = ["G0 X0 Y0 Z0 A0 B0 C0", *unframed(random_program(rng, 30))]
    else:
        lines = workshop_job(rng) if kind == "shop" else drilling_job(rng)
    source = standard_job(lines)
    if not sound(source):
        return
    try:
        done = through(source, ("rapid-feed", {"words": words}))
    except JobRefused as error:
        assert kind == "all"
        names = {finding.name for finding in error.findings}
        assert names <= {"rapid-timed", "numbers-not-plain", "switch-decides"}
        return
    require_same_way(source, done)


# --- the rehearsal ----------------------------------------------------------------------------


def test_a_rapid_at_the_feed_of_a_cut_is_told() -> None:
    lines = ["F2000", "G0 Z5", "G1 X5 F300", "G0 Z9", "G0 X0", "F2000", "X1"]
    (finding,) = rapid_findings(shop_job(*lines, **WORD))
    assert finding.name == "rapid-at-feed"
    assert finding.place is not None
    assert finding.place.line == 6
    assert "F300" in finding.what
    assert "one more" in finding.what
    assert not list(rapid_findings(shop_job(*lines)))
    done = through(shop_job(*lines, **WORD), "rapid-feed")
    assert not list(rapid_findings(done))


def test_a_rapid_without_any_feed_is_told() -> None:
    (finding,) = rapid_findings(shop_job("G0 Z5", **WORD))
    assert "none is stated" in finding.what


def test_rapids_of_steps_get_their_feed_as_well() -> None:
    """Homing, zeros, the touch and the parking: all that moves, and the step behind them."""
    lines = ["G0 Z30", "G0 X20 Y20", "G1 Z-2 F300", "X60 F900", "G0 Z30", "M5"]
    steps = ["safe-start", "home", "corner-zero", "touch-off", "spindle", "park"]
    before = through(shop_job(*lines, **WORD), *steps)
    assert list(rapid_findings(before))
    done = through(before, "rapid-feed")
    assert not list(rapid_findings(done))
    for line in done.program:
        if line.has("G", 0) and not line.has("G", 28) and any(map(line.has, "XYZ")):
            assert line.has("F")


def test_who_needs_it() -> None:
    assert needs_rapids_fed(shop_job("G0 Z5", **WORD)) == {}
    assert needs_rapids_fed(shop_job("G0 Z5")) is None
    assert needs_rapids_fed(shop_job("G1 Z5 F100", **WORD)) is None
