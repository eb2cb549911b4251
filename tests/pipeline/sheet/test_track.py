"""Tracks, read by a reader of their own, against what the interpreter, the places on the sheet, the
pauses and the clock say, line by line."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import isnan
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pipeline.sheet.track_reading import (
    CUT,
    DWELL,
    END,
    HOME,
    PAUSE,
    PROBE,
    RAPID,
    STILL,
    Read,
    read,
)
from plugins.shop import job

from headrace.job import Job
from headrace.plugins.registry import load_registry
from headrace.recipe import load_plan
from headrace.rehearsal.space.lanes import ends_of
from headrace.rehearsal.space.stretches import stretches
from headrace.run import prepare_job
from headrace.sheet.pauses import pauses
from headrace.sheet.view.track import track_of
from headrace.timing.clock import Clock, clock_of

RECIPES = Path(__file__).parents[3] / "recipes"
MADE = {
    "lid": ("bench-lids", "lid.nc"),
    "handhold": ("bench-lids", "handhold.nc"),
    "window": ("bench-windows", "window.ngc"),
    "frame": ("relay-frames", "frame-side.nc"),
    "floor": ("speed-floor-boards", "floor-board.tap"),
    "feeder": ("speed-feeder-changes", "feeder-board.nc"),
    "excluder": ("speed-excluder", "queen-excluder.nc"),
    "inch": ("speed-window", "window.ngc"),
}
ROUNDED = 0.005
"""Places and times are told in hundredths (mm, s)."""
HOMED = "G21 G17 G90 G94\nG28 Z0\nG28 X0 Y0\nG92 Z56\nG0 X20 Y20\nG92 X0 Y0\n"
"""Numbers of X and Y count from the sheet's corner, Z 56 below the machine's, from there on."""


@cache
def made(name: str) -> Job:
    """A job of the gallery behind all steps of a recipe."""
    recipe, file = MADE[name]
    registry = load_registry()
    plan = load_plan(RECIPES / f"{recipe}.yaml", registry)
    outcome = prepare_job(file, (RECIPES / "jobs" / file).read_bytes(), plan, registry)
    assert outcome.job is not None
    return outcome.job


def tracked(made: Job) -> tuple[Read, Clock]:
    clock = clock_of(made)
    track = track_of(made, clock)
    assert track is not None
    return read(track), clock


def places(made: Job) -> tuple[np.ndarray, np.ndarray]:
    """Where each move ends on the sheet (m, 3), as the rehearsal has it; and whether that is other
    than where the next one begins, for numbers count anew there: behind a touch, or a new zero."""
    found: list[np.ndarray] = []
    anew: list[np.ndarray] = []
    for stretch in stretches(made):
        if found:
            begun = np.array([stretch.start.x, stretch.start.y, stretch.start.tip])
            anew[-1][-1] = not np.allclose(found[-1][-1], begun, 0, 0.01, equal_nan=True)
        _, ends = ends_of(stretch, np.arange(len(stretch)))
        for axis in (0, 1):
            if stretch.frame.sheet[axis] is None:
                ends[:, axis] = np.nan
        ends[:, 2] += np.nan if stretch.frame.tip is None else stretch.frame.tip.least
        found.append(ends)
        anew.append(np.zeros(len(stretch), np.bool_))
    return np.concatenate(found), np.concatenate(anew)


def assert_follows(made: Job) -> Read:
    """At each line that moves, its last move's end, its time, and its state where that is told."""
    track, clock = tracked(made)
    trace = made.trace
    ends, anew = places(made)
    assert track.lines == len(made.program)
    assert track.line == sorted(track.line)
    assert track.time == sorted(track.time)
    lines = trace.line + 1
    lasts = np.flatnonzero(np.append(np.diff(lines) != 0, True))
    settings_of = np.repeat(np.arange(len(trace.blocks)), [len(block) for block in trace.blocks])
    still = {event.line + 1 for event in trace.events}
    for row in lasts.tolist():
        place, time, point = track.at(int(lines[row]))
        state = track.state[point]
        for axis, (told, is_at) in enumerate(zip(place, ends[row], strict=True)):
            known = bool(state.known >> axis & 1)
            if not anew[row]:
                assert known == (not isnan(is_at))
                if known:
                    assert abs(told - is_at) <= track.within + 1e-9
        if lines[row] not in still:
            assert abs(time - clock.done[row]) <= track.within + 1e-9
            told_line = track.line[point]
            if track.kept == 2 or told_line == lines[row]:
                block = trace.blocks[settings_of[row]]
                kind = int(trace.kind[row])
                assert state.kind == {0: RAPID, 4: PROBE, 5: HOME}.get(kind, CUT)
                feed = float(trace.feed[row])
                expected = 0 if isnan(feed) or kind in (0, 5) else round(feed * 1000) + 1
                assert state.feed == expected
                assert state.inverse == block.setting.inverse_time
                assert state.bit == (0 if block.setting.tool is None else block.setting.tool + 1)
                if made.machine.spindle.control != "by-hand":
                    assert (
                        state.spindle
                        == {None: 0, "off": 1, "cw": 2, "ccw": 3}[block.setting.spindle]
                    )
                    speed = block.setting.speed
                    assert state.speed == (0 if speed is None else round(speed * 1000) + 1)
    waits = pauses(made, clock)
    assert [track.line[pause.at] for pause in track.pauses] == [pause.line for pause in waits]
    assert [pause.text for pause in track.pauses] == [" ".join(pause.shown) for pause in waits]
    assert [pause.optional for pause in track.pauses] == [pause.optional for pause in waits]
    for told, pause in zip(track.pauses, waits, strict=True):
        assert track.state[told.at].kind == PAUSE
        assert pause.after is not None
        assert abs(track.time[told.at] - pause.after) <= ROUNDED + 1e-9
    return track


@pytest.mark.parametrize("name", MADE)
def test_the_gallery(name: str) -> None:
    track = assert_follows(made(name))
    assert track.kept == 2
    # a job of so few moves is told move by move, but for points along arcs
    assert set((made(name).trace.line + 1).tolist()) <= set(track.line)


def test_a_lid_from_pause_to_pause() -> None:
    """The values that the set-up and the recipe give: plate 12.02 at X50 Y50 from the corner."""
    track, _ = tracked(made("lid"))
    texts = [pause.text for pause in track.pauses]
    assert texts[0].startswith("SPINDLE OFF")
    clip_on, clip_off, on = (
        next(pause for pause in track.pauses if pause.text.startswith(text))
        for text in ("PLATE ON", "CLIP OFF", "ON 16000")
    )
    touches = [at for at, state in enumerate(track.state) if state.kind == PROBE]
    assert len(touches) == 2
    assert clip_on.at < touches[0]
    assert touches[1] < clip_off.at
    # the bit stands on the plate behind each touch, and that is known to the hundredth
    assert [track.place[at] for at in touches] == [(50.0, 50.0, 12.02)] * 2
    assert [track.state[at].spread for at in touches] == [0, 0]
    # before it: a sheet of 17.6 to 18.1 under a bit that is 28 to 32 out, 4.5 in all
    assert track.state[clip_on.at].spread == 450
    # the router is off by hand until it is asked for, at 16000 as the lid has it, and on from then
    before, after = track.state[on.at], track.state[on.at + 1]
    assert (before.spindle, before.speed) == (5, 0)
    assert (after.spindle, after.speed) == (4, 16_000_001)
    assert track.state[-1].kind == END
    assert track.state[-1].spindle == 5


SMALL = st.integers(0, 4000).map(lambda number: number / 10)
LINES = st.one_of(
    st.builds("G1 X{} Y{} Z-{} F{}".format, SMALL, SMALL, st.integers(0, 9), st.integers(100, 900)),
    st.builds("G1 X{} Y{}".format, SMALL, SMALL),
    st.builds("G0 X{} Y{} Z{}".format, SMALL, SMALL, st.integers(5, 20)),
    st.builds("G2 X{0} Y{1} I{2} J-{2}".format, SMALL, SMALL, st.integers(1, 50)),
    st.builds("G91\nG3 X{0} Y{0} I{0} J0 F700\nG90".format, st.integers(1, 30)),
    st.builds("G81 X{} Y{} Z-3 R2 F200\nX{}\nG80".format, SMALL, SMALL, SMALL),
    st.sampled_from(
        ["M3 S12000", "S9000", "M5", "M0", "M1", "G4 P1.5", "(COMB)", "", "M4", "T2", "M6", "F450",
         "M3 S15000 G1 X3", "G93\nG1 X7 Y7 F30\nG94\nF600"]
    ),
)  # fmt: skip


@settings(max_examples=60)
@given(st.lists(LINES, max_size=40), st.booleans(), st.sampled_from(["bench", "relay", "speed"]))
def test_any_job(lines: list[str], homed: bool, machine: str) -> None:
    text = (HOMED if homed else "G21 G17 G90 G94\n") + "\n".join(["G0 X1 F300", *lines, "G0 Y1"])
    assert_follows(job(f"{text}\nM2\n", machine))


@settings(max_examples=6)
@given(st.integers(0, 2**32), st.sampled_from([0.001, 0.05, 0.4]), st.sampled_from([5000, 12_000]))
def test_long_jobs_are_thinned(chance: int, rough: float, count: int) -> None:
    random = np.random.default_rng(chance)
    bends = np.repeat(random.normal(0, 0.2, (count // 50, 2)), 50, axis=0)
    way = np.clip(200 + np.cumsum(bends + random.normal(0, rough, (count, 2)), axis=0), 0, 560)
    heights = np.minimum(0, np.cumsum(random.normal(0, rough / 5, count)))
    moves = "\n".join(
        f"X{x:.3f} Y{y:.3f} Z{z:.3f}"
        for (x, y), z in zip(way, np.maximum(heights, -15), strict=True)
    )
    track = assert_follows(job(f"{HOMED}G1 F1200\n{moves}\nM2\n", "bench"))
    assert track.kept == 2
    assert len(track.line) <= 30_000
    assert track.within <= 0.05 or len(track.line) * 2 > 10_000


def test_feeds_that_always_change_are_told_where_there_is_a_point() -> None:
    moves = "\n".join(f"X{at / 100:.2f} F{500 + at % 7}" for at in range(41_000))
    track = assert_follows(job(f"{HOMED}G1 F300\n{moves}\nM2\n", "bench"))
    assert track.kept == 1


def test_too_many_changes_leave_the_pauses() -> None:
    pecks = "\n".join(f"G0 X{at % 400} Z2\nG1 Z-1 F300" for at in range(21_000))
    track, _ = tracked(job(f"{HOMED}{pecks}\nM0\nG0 Z5\nM2\n", "bench"))
    assert track.kept == 0
    assert len(track.pauses) == 1
    assert track.line[track.pauses[0].at] == HOMED.count("\n") + 42_001
    assert track.state[-1].kind == END


def test_more_pauses_than_a_track_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("headrace.sheet.view.track._FORCED", 40)
    for waits, told in ((20, True), (50, False)):
        made = job(HOMED + "G1 X1 F300\n" + "M0\n" * waits + "M2\n", "bench")
        track = track_of(made, clock_of(made))
        assert (track is not None) is told


def test_a_job_that_moves_nothing_has_none() -> None:
    made = job("G21\nM0\nM2\n", "bench")
    assert track_of(made, clock_of(made)) is None


def test_a_relief_stays_small() -> None:
    namespace: dict[str, object] = {}
    source = RECIPES / "jobs" / "hive_relief.py"
    exec(compile(source.read_text("utf-8"), str(source), "exec"), namespace)
    lines = "\n".join(line.rstrip() for line in namespace["relief"](120_000))  # type: ignore[operator]
    made = job(lines, "bench")
    clock = clock_of(made)
    track = track_of(made, clock)
    assert track is not None
    assert len(track) <= 150_000
    told = read(track)
    ends, _ = places(made)
    at = np.array(told.line)
    rows = np.flatnonzero(~np.isnan(ends).any(axis=1))
    # one move a line here, so lines are what goes evenly
    for axis in range(3):
        values = np.array([place[axis] for place in told.place])
        unique = np.append(np.diff(at) != 0, True)
        between = np.interp(made.trace.line[rows] + 1, at[unique], values[unique])
        assert np.abs(between - ends[rows, axis]).max() <= told.within + 1e-9


def test_a_dwell_takes_its_time_on_its_line() -> None:
    # this controller reads milliseconds
    track, _ = tracked(job(f"{HOMED}G1 X5 F300\n\n\nG4 P2000\n\nG1 X9\nM2\n", "bench"))
    line = HOMED.count("\n") + 4
    place, time, point = track.at(line)
    assert track.state[point].kind == DWELL
    _, earlier, waiting = track.at(line - 1)
    assert track.state[waiting].kind == CUT
    assert time - earlier == pytest.approx(2.0, abs=2 * ROUNDED)
    # the blank line behind it does nothing, and stands where it stood
    assert track.at(line + 1)[0] == place
    assert track.state[track.at(line + 1)[2]].kind == STILL


def test_what_is_not_known_is_not_told() -> None:
    # not homed: no place on the sheet is known along Z, nor along X before the corner is set
    track, _ = tracked(job("G21 G90\nG0 X5\nG0 Z5\nG92 X0\nG1 X3 F300\nM2\n", "bench"))
    assert all(not state.known & 2 for state in track.state[:1])
    made = job("G21 G90\nG28 Z0\nG0 Z-5\nM2\n", "bench", setup_changes={"sheet/thickness": None})
    track, _ = tracked(made)
    assert all(not state.known & 4 for state in track.state)


def test_rapids_that_leave_the_straight_way_are_told() -> None:
    straight = job(f"{HOMED}G0 X9 Y5\nM2\n", "bench", changes={"rapids": "straight"})
    assert not tracked(straight)[0].crooked
    free = replace(straight, machine=replace(straight.machine, rapids=None))
    assert tracked(free)[0].crooked


@pytest.mark.parametrize("name", ["lid", "excluder"])
def test_the_same_job_gives_the_same_text(name: str) -> None:
    first = track_of(made(name), clock_of(made(name)))
    made.cache_clear()
    assert track_of(made(name), clock_of(made(name))) == first
