"""Times against sums of the clock, and the band against what is common practice: a quarter without
a timed run, a tenth with one, and never below full feed."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pipeline.timing.test_clock import a_job
from plugins.shop import job

from headrace.program import Cause, Program, replace
from headrace.timing.clock import clock_of
from headrace.timing.times import ToolTime, times_of

RUN = {"timing": {"factor": 1.2, "planned": 600, "took": 720, "job": "lid.nc"}}
CORNERS = [line for at in range(1, 30) for line in (f"G1 X{at} F3000", f"Y{at}")]
PARTS = ("cutting", "rapids", "probing", "homing")


def test_the_parts_are_all_of_it() -> None:
    text = "\n".join(
        ["G21 G90", "G28 Z0", "G28 X0 Y0", "G0 X10", "G0 Z-10", "G38.2 Z-30 F60", "G92 Z0",
         "G4 P2000", "G1 X40 F600", "G2 X40 Y20 I0 J10", "G0 Z5", "M0", "M1",
         "T3 M6", "G1 X20", "M2", ""]
    )  # fmt: skip
    work = job(text)
    clock, times = clock_of(work), times_of(work)

    assert all(getattr(times, part) > 0 for part in PARTS)
    assert sum(getattr(times, part) for part in PARTS) == pytest.approx(clock.moving.sum())
    assert times.waiting == 2.0
    assert times.planned == pytest.approx(clock.done[-1])
    assert (times.pauses, times.tool_changes) == (2, 1)
    assert times == times_of(work, clock)
    assert [each.tool for each in times.tools] == [None, 3]
    assert sum(each.seconds for each in times.tools) == pytest.approx(clock.moving.sum())
    assert times.tools[1] == ToolTime(3, pytest.approx(clock.moving[-1]))
    assert times.naive == pytest.approx(clock.least.sum() + 2)


def test_a_bit_that_comes_back_counts_once() -> None:
    work = a_job("T1 M6", "G1 X10 F600", "T2 M6", "G1 X20", "T1 M6", "G1 X30")
    tools = times_of(work).tools

    assert [each.tool for each in tools] == [None, 1, 2]
    assert tools[1].seconds == pytest.approx(2 * tools[2].seconds)


def test_the_band_without_a_timed_run() -> None:
    times = times_of(a_job(*CORNERS, "G4 P10000"))
    motion = times.planned - 10

    assert not times.calibrated
    assert times.high == pytest.approx(10 + motion * 1.25)
    assert times.low == pytest.approx(10 + max(motion * 0.75, times.naive - 10))
    assert motion * 0.75 > times.naive - 10


def test_the_band_with_a_timed_run() -> None:
    one, other = times_of(a_job(*CORNERS)), times_of(a_job(*CORNERS, **RUN))

    assert other.calibrated
    assert other.planned == pytest.approx(one.planned * 1.2)
    assert other.naive == one.naive
    assert (other.low, other.high) == pytest.approx((other.planned * 0.9, other.planned * 1.1))


def test_nothing_is_faster_than_full_feed() -> None:
    """A long straight way: planned is hardly more, and a quarter less cannot be."""
    times = times_of(a_job("G1 X600 F600"))

    assert times.naive == pytest.approx(60)
    assert times.low == times.naive
    assert times.planned < 60.1


def test_what_may_take_no_time_is_no_part_of_the_least() -> None:
    """Homing may begin at the switches."""
    times = times_of(job("G28 Z0\nG28 X0 Y0\nM2\n"))

    assert times.homing > 30
    assert (times.low, times.naive) == (0, 0)
    assert times.high == pytest.approx(times.homing * 1.25)


@pytest.mark.parametrize("lacking", ["axes/x/acceleration", "corners"])
@pytest.mark.parametrize("run", [{}, RUN])
def test_no_band_where_the_description_does_not_tell(lacking: str, run: dict[str, Any]) -> None:
    times = times_of(a_job("G1 X100 F3000", **run, **{lacking: None}))

    assert (times.low, times.high, times.calibrated) == (None, None, False)
    assert times.planned == times.naive == pytest.approx(2.0)


@settings(max_examples=40)
@given(
    st.lists(st.tuples(st.integers(0, 300), st.integers(0, 300)), min_size=1, max_size=12),
    st.sampled_from([{"deviation": 0.02}, {"speed-step": 300}, {"full-stop": True}]),
    st.sampled_from([None, 0, 1, 5]),
    st.sampled_from([{}, RUN]),
)
def test_every_band_holds_what_is_planned(
    places: list[tuple[int, int]], corners: dict[str, Any], ahead: int | None, run: dict[str, Any]
) -> None:
    lines = ["G1 F2500", *(f"X{x} Y{y}" for x, y in places)]
    times = times_of(a_job(*lines, corners=corners, **{"look-ahead": ahead}, **run))

    assert times.low is not None
    assert times.high is not None
    assert times.naive <= times.low <= times.planned + 1e-9
    assert times.planned <= times.high


def test_an_empty_job_takes_no_time() -> None:
    times = times_of(job("(BEES)\nM2\n"))

    assert (times.planned, times.naive, times.low, times.high) == (0, 0, 0, 0)
    assert times.tools == ()


def test_a_pause_that_asks_for_a_bit_is_counted_once() -> None:
    program = Program.read(b"G21 G90\nM0\nG1 X20 F600\nM2\n", "p.nc")
    asked = program.edited([replace(1, "M0", asks="tool-2")], Cause("fit", 1))

    times = times_of(job("").with_program(asked))

    assert [each.tool for each in times.tools] == [2]
    assert (times.pauses, times.tool_changes) == (1, 0)
