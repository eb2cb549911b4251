"""Parameters and expressions as plain numbers: RS274/NGC 3.3.2 and 3.3.3, and its appendix C.2."""

from __future__ import annotations

import re
from fractions import Fraction
from math import factorial

import pytest
from hypothesis import given, settings
from plugins.alike import (
    NUMBERS_REFUSED,
    require_alike,
    require_known,
    sound,
    standard_job,
)
from plugins.shop import job, refused, text, through
from reference.examples import VALUES, Value
from reference.programs import programs

from headrace import JobRefused
from headrace_transforms.plain_numbers import needs_plain_numbers

START = ["G21 G90 G17 F100", "G0 X0 Y0 Z5"]


def written(*lines: str) -> list[str]:
    """What becomes of some lines, those before and behind them left out."""
    source = standard_job([*START, *lines, "M30"])
    assert sound(source)
    done = through(source, "plain-numbers")
    require_alike(source, done)
    return text(done)[len(START) : -1]


@pytest.mark.parametrize(
    "value", [value for value in VALUES if "[" in value.text or "#" in value.text],
    ids=lambda value: value.text,
)  # fmt: skip
def test_values_of_the_standard(value: Value) -> None:
    """Appendix C.2 and the examples of 3.3.2, with the digits that are printed there."""
    made = [f"#{index}={number!r}" for index, number in value.parameters.items()]
    (line,) = written(*made, f"X{value.text}")
    assert re.fullmatch(r"X-?\d+(\.\d{1,7})?", line)
    assert abs(float(line[1:]) - value.value) <= max(value.tolerance, 1e-7)


def test_settings_act_behind_their_line() -> None:
    """3.3.3: in `#3=6 G1 X#3` the old value counts; 3.3.6: the last of two settings wins."""
    assert written("#3=15", "#3=6 G1 X#3", "X#3", "#3=15 #3=4", "X#3") == ["G1 X15", "X6", "X4"]
    assert written("#1=2.0", "##1 = 0.375 ", "X #2") == ["X0.375"]


def test_all_else_on_a_line_stays() -> None:
    assert written("N7 #1=4 (CORNER)", "/n8  g[2/2] x #1Y[1 /2] ; in") == [
        "N7 (CORNER)", "/n8  G1 X4Y0.5 ; in",
    ]  # fmt: skip
    amid = through(standard_job([*START, "X[1 (half) /2]", "M30"]), "plain-numbers")
    assert text(amid)[2] == "X0.5(half)"
    assert written("#1=2", "M[1+7] T[#1] F[300/#1]") == ["M8 T2 F150"]


def test_a_job_without_any_passes_as_it_is() -> None:
    source = standard_job([*START, "G1 X1 (#1 [2])", "M30"])
    assert through(source, "plain-numbers").program is source.program


def test_increments_do_not_add_up_their_rounding() -> None:
    """Python's `fractions`: a thousand sevenths, each written with seven digits."""
    lines = written("#1=7", "G91", *["X[1/#1] Y[0-2/3]"] * 1000)
    steps = [line.split() for line in lines if line.startswith("X")]
    for axis, exact in ((0, Fraction(1000, 7)), (1, Fraction(-2000, 3))):
        total = sum(Fraction(step[axis][1:]) for step in steps)
        assert abs(total - exact) <= Fraction(1, 10**7)


def test_inches_have_a_digit_more() -> None:
    """A millionth of a millimetre is what the proof takes for the same."""
    assert written("G20", "X[1/3]", "G21", "X[1/3]")[1::2] == ["X0.33333333", "X0.3333333"]


def test_small_and_large_numbers_have_no_exponent() -> None:
    """3.3.2.1: numbers are digits, a sign and a point."""
    assert written(f"X[{factorial(12)}/1000] Y[1/30000] Z[0-0.00000001]") == [
        "X479001.6 Y0.0000333 Z0"
    ]


@pytest.mark.parametrize(
    ("lines", "name", "line"),
    [
        (["X#7"], "value-unknown", 3),
        (["#1=[#7+1]", "X#1"], "value-unknown", 3),
        (["X#5221"], "value-unknown", 3),
        (["G38.2 Z-5", "G0 X#5063"], "value-unknown", 4),
        (["G38.2 Z-5", "#1=[#5063+2]", "G0 X1", "Z#1"], "value-unknown", 6),
        (["#5161=3", "X1"], "word-unknown-here", 3),
        (["/#1=3", "X#1"], "switch-decides", 3),
    ],
)
def test_what_the_controller_alone_knows_is_refused(lines: list[str], name: str, line: int) -> None:
    """3.2.1: parameters outlive programs; 3.5.9.1: 5061 to 5066 are where a probe tripped."""
    told = refused(job("\n".join([*START, *lines, "M30"]), "speed"), "plain-numbers")
    assert (told.name, told.place.line) == (name, line)


def test_what_a_probe_found_may_stand_unused() -> None:
    source = job("\n".join([*START, "G38.2 Z-5", "#1=#5063", "G0 X1", "M30"]), "speed")
    assert text(through(source, "plain-numbers"))[3:5] == ["G0 X1", "M30"]


def test_a_line_that_runs_with_several_values() -> None:
    """A subprogram's line has one text: it must be written out first."""
    lines = [*START, "#31=1", "M98 P5", "#31=2", "M98 P5", "M30", "O5", "G1 X#31", "M99"]
    assert refused(standard_job(lines), "plain-numbers").name == "value-unknown"
    done = through(standard_job(lines), "expand-calls", "plain-numbers")
    assert text(done)[2:] == ["G1 X1", "G1 X2", "M30"]


def test_who_needs_it() -> None:
    lines = [*START, "X[1+1] (#)", "M30"]
    assert needs_plain_numbers(standard_job(lines, parameters=False)) == {}
    assert needs_plain_numbers(standard_job(lines, parameters=True)) is None
    assert needs_plain_numbers(standard_job([*START, "X1 (#1)", "M30"], parameters=False)) is None


@given(programs("all", longest=40))
@settings(max_examples=40, deadline=None)
def test_generated_programs_do_the_same(lines: list[str]) -> None:
    source = standard_job(lines)
    if not sound(source):
        return
    try:
        done = through(source, "plain-numbers")
    except JobRefused as error:
        require_known(error, *NUMBERS_REFUSED)
        return
    require_alike(source, done)
    bare = re.sub(rb"\([^()\n]*\)|;[^\n]*", b"", done.program.to_bytes())
    end = source.trace.ended_at
    if end is None:
        assert b"#" not in bare
        assert b"[" not in bare
