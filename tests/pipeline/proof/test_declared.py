"""A small part of `declared.py`, which tries by the thousand; and holes that once were there."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from headrace import replace
from headrace.language import interpret
from headrace.plugins import Contract
from headrace.proof import Version, prove_run, prove_step

from .declared import CASES, tried
from .test_tips import JOB, LED
from .test_tips import contract as tip
from .test_wraps import PER_MM
from .test_wraps import contract as wrap
from .trial import CAUSE, DIALECT, line_for_line, passes, program

SOME = 30


@pytest.mark.parametrize("name", CASES)
def test_what_comes_out_wrong_is_refused_and_what_is_right_is_not(name: str) -> None:
    found = list(tried(name, SOME, seed=7))

    assert [text for _, mistake, text in found if mistake] == []
    assert sum(sort not in ("none", "harmless") for sort, _, _ in found) >= SOME / 4
    assert sum(sort in ("none", "harmless") for sort, _, _ in found) >= SOME / 5


def from_nowhere(old: Sequence[str], new: Sequence[str], contract: Contract) -> bool:
    """Whether both proofs let it pass where nobody knows where the machine stands at first."""
    job = program(old)
    result = job.edited([replace(at, text) for at, text in enumerate(new)], CAUSE)
    versions = (Version(each, interpret(each)) for each in (job, result))
    step = prove_step(*versions, contract)
    return passes((step, prove_run(job, [result], contract, False, DIALECT)))


# --- round a blank

ROUND = ["G21 G90 G17 G94", "G0 X0 Y0 Z5", "G1 Z-1 F600", "G2 X20 Y0 I10 J0", "G0 Z5", "M30"]


@pytest.mark.parametrize("bow", ["X20 Y0 I10 J0", "X0 Y0 I5 J0", "X20 Y0 R-12"])
def test_an_arc_beside_the_axis_is_no_arc_of_the_surface(bow: str) -> None:
    """It begins and ends above the centre line, and in between the bit is beside it."""
    flat = [*ROUND[:3], f"G2 {bow}", *ROUND[4:]]
    new = [line.replace("Y0", "Y0 A0") if line.startswith("G0") else line for line in flat]
    left = [flat[0], "G0 X0 A0 Z5", *flat[2:]]

    assert not passes(line_for_line(flat, new, wrap()))
    assert line_for_line(flat, left, wrap())[0].breaches


STEPS = ["G21 G91 G17 G94", "G0 X0 Y0 Z5", "G1 Z-6 F600", "G1 Y5 X3", "G0 Z5", "M30"]


@pytest.mark.parametrize("extra", ["", " Y4"])
def test_increments_from_nowhere_hide_neither_a_feed_nor_a_way(extra: str) -> None:
    turn = f"G1 A{5 * PER_MM:.5f} X3{extra} F600"

    assert not from_nowhere(STEPS, [STEPS[0], "G0 X0 A0 Z5", STEPS[2], turn, *STEPS[4:]], wrap())


# --- a tip


def inserted(lines: Sequence[str | list[str]], at: int, text: str) -> list[str | list[str]]:
    return [*lines[:at], text, *lines[at:]]


def with_tool(at: int, number: int) -> bool:
    job = [str(line) for line in inserted(JOB, at, f"T{number} M6")]
    return passes(line_for_line(job, inserted(LED, at, f"T{number} M6"), tip()))


def test_another_blade_points_anywhere() -> None:
    """The first one may be called for; behind a second one nobody knows the direction."""
    assert with_tool(1, 4)
    assert not with_tool(8, 4)


def test_a_cut_from_an_unknown_height_pulls_no_blade_for_certain() -> None:
    job = ["G21 G90 G17 G94", "G0 X10 Y10", "G1 X30 Y10 Z-2 F900", "G0 Z5", "M30"]
    led = [job[0], "G0 X10.5 Y10", "G1 X30.5 Y10 Z-2 F900", *job[3:]]

    assert not from_nowhere(job, led, tip())


@pytest.mark.parametrize(("feed", "good"), [(300, True), (900, True), (1200, False)])
def test_down_again_no_faster_than_the_cut(feed: float, good: bool) -> None:
    led = [*LED]
    led[5] = ["G0 Z-0.4", "G3 X30 Y10.5 I-0.5 J0 F900", f"G1 Z-2 F{feed}", "G1 X30 Y20.5 F900"]

    assert passes(line_for_line(JOB, led, tip())) == good
