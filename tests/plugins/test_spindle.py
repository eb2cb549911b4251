"""The spindle by what switches it: pauses, a relay, S."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plugins.shop import JOBS, job, machine, refused, serious, text, through

from headrace import EventKind, Job, JobRefused

CUT = "G21 G90\nS16000 M3\nG0 Z5\nG1 X10 Z-3 F300\nM5\nM30\n"


def only(job: Job, **options: Any) -> list[str]:
    named = {name.replace("_", "-"): value for name, value in options.items()}
    return text(through(job, ("spindle", named)))


class TestBySpeed:
    """S stays; waits are added."""

    def test_waits_behind_start_and_stop(self) -> None:
        assert only(job(CUT, "speed")) == [
            "G21 G90", "S16000 M3", "G4 P5", "G0 Z5", "G1 X10 Z-3 F300", "M5", "G4 P10", "M30",
        ]  # fmt: skip

    def test_waits_only_for_what_the_job_does_not(self) -> None:
        lines = only(job(CUT.replace("M3\n", "M3\nG4 P3.5\n"), "speed"))
        assert lines[1:4] == ["S16000 M3", "G4 P1.5", "G4 P3.5"]
        lines = only(job(CUT.replace("M3\n", "M3\nG4 P9\n"), "speed"))
        assert lines[1:3] == ["S16000 M3", "G4 P9"]

    def test_starts_before_the_move_of_the_line(self) -> None:
        """RS274/NGC table 8: spindle words act before the motion of their line."""
        source = CUT.replace("S16000 M3\nG0 Z5", "N7 S16000 M3 G0 Z5 (UP)")
        assert only(job(source, "speed"))[1:4] == ["M3 S16000", "G4 P5", "N7 G0 Z5 (UP)"]

    def test_waits_when_it_gets_faster_and_not_when_slower(self) -> None:
        source = CUT.replace("M5", "S18000\nG1 X20\nS9000\nG1 X30\nX40 S20000\nM5")
        assert only(job(source, "speed"))[4:11] == [
            "G1 X10 Z-3 F300", "S18000", "G4 P5", "G1 X20", "S9000", "G1 X30", "S20000",
        ]  # fmt: skip

    def test_the_recipes_times_count(self) -> None:
        lines = only(job(CUT, "speed"), run_up=8, run_down=0)
        assert "G4 P8" in lines
        assert lines[-2:] == ["M5", "M30"]

    def test_the_recipes_speed_where_the_job_has_none(self) -> None:
        lines = only(job(CUT.replace("S16000 ", ""), "speed"), speed=12000)
        assert lines[1:3] == ["M3 S12000", "G4 P5"]

    def test_stops_before_a_change_of_tools(self) -> None:
        source = CUT.replace("M5\n", "T2 M6\nM3\nG1 X20\nM5\n")
        assert only(job(source, "speed"))[5:11] == [
            "M5", "G4 P10", "T2 M6", "M3", "G4 P5", "G1 X20",
        ]  # fmt: skip

    @pytest.mark.parametrize("name", ["speed", "relay"])
    def test_a_stop_beside_the_end_is_waited_for_before_the_end(self, name: str) -> None:
        """RS274/NGC 3.6.1: behind M30 nothing acts, so a wait there would never come."""
        source = CUT.replace("S16000", "S18000").replace("M5\nM30", "N9 M5 M9 M30 (DONE)")
        wait = {"speed": "G4 P10", "relay": "G4 P12"}[name]
        assert only(job(source, name))[-3:] == ["M5", wait, "N9 M9 M30 (DONE)"]
        moving = CUT.replace("S16000", "S18000").replace("M5\nM30", "G0 Z9 M5 M30")
        assert only(job(moving, name))[-3:] == ["M5", wait, "G0 Z9 M30"]

    def test_s_of_zero_beside_a_stop(self) -> None:
        assert "M5 S0" in only(job(CUT.replace("M5", "M5 S0"), "speed"))


class TestRelay:
    """M3 and M5 stay; S becomes a comment."""

    def test_s_goes(self) -> None:
        lines = only(job(CUT.replace("16000", "18000"), "relay"))
        assert lines[1:4] == ["(SPEED 18000)", "M3", "G4 P3"]
        assert lines[-3:] == ["M5", "G4 P12", "M30"]
        assert "S" not in "".join(line for line in lines if not line.startswith("("))

    @pytest.mark.parametrize("speed", ["S16000", "S0", "S[15000+1000]"])
    def test_another_speed_is_not_looked_at(self, speed: str) -> None:
        lines = only(job(CUT.replace("S16000", speed), "relay"))
        assert lines[1:4] == ["(SPEED 18000)", "M3", "G4 P3"]
        later = only(job(CUT.replace("M5", "S15000\nG1 X20\nM5"), "relay"))
        assert "".join(later).count("SPEED") == 1
        assert "S1" not in "".join(line for line in later if not line.startswith("("))

    def test_the_step_may_not_state_another_one(self) -> None:
        source = CUT.replace("S16000 ", "")
        finding = refused(job(source, "relay"), ("spindle", {"speed": 16000}))
        assert finding.name == "speed-out-of-range"
        assert "18000 only" in finding.what
        assert finding.remedy == "give a `speed` of 18000"

    def test_one_with_a_dial_is_set_by_its_speed(self) -> None:
        changes = {"spindle/range": [10000, 20000]}
        finding = refused(job(CUT.replace("16000", "21000"), "relay", changes=changes), "spindle")
        assert finding.name == "speed-out-of-range"
        assert finding.remedy == "export the job with a speed of 10000 to 20000"
        assert finding.place.line == 2


class TestByHand:
    """Words become pauses."""

    def test_pauses_with_the_dial(self) -> None:
        done = through(job(CUT), "spindle")
        lines = text(done)
        assert lines[1:7] == [
            "(16000 LIES BETWEEN)", "(MARK 2 AT 12500)", "(AND MARK 3 AT 17000)",
            "(ON 16000 DIAL 3)", "M0", "G4 P2000",
        ]  # fmt: skip
        assert lines[-3:] == ["(SPINDLE OFF, WAIT)", "M0", "M30"]
        asked = [event.value for event in done.trace.events_of(EventKind.ASKS)]
        assert asked == ["spindle-on", "spindle-off"]

    def test_the_rest_of_the_line_stays(self) -> None:
        lines = only(job(CUT.replace("S16000 M3\nG0 Z5", "N70 S16000 M3 G0 Z5 ; up")))
        assert lines[lines.index("M0") + 2] == "N70 G0 Z5 ; up"

    def test_a_mark_of_the_dial_needs_no_more_words(self) -> None:
        assert only(job(CUT.replace("16000", "17000")))[1:3] == ["(ON 17000 DIAL 3)", "M0"]

    def test_another_mark_is_asked_for_and_the_same_is_not(self) -> None:
        source = CUT.replace("M5", "S16500\nG1 X20\nS22000\nG1 X30\nM5")
        lines = only(job(source))
        assert lines.count("M0") == 3
        assert "(SET 22000 DIAL 4)" in lines

    def test_asks_before_the_end_behind_the_last_move(self) -> None:
        """RS274/NGC table 8: M30 comes behind the motion of its line."""
        source = CUT.replace("M5\nM30", "G0 Z20 M30")
        assert only(job(source))[-4:] == ["G0 Z20", "(SPINDLE OFF, WAIT)", "M0", "M30"]

    def test_asks_before_a_change_of_tools(self) -> None:
        lines = only(job(CUT.replace("M5\n", "T2 M6\nM3\nG1 X20\nM5\n")))
        at = lines.index("T2 M6")
        assert lines[at - 2 : at] == ["(SPINDLE OFF, WAIT)", "M0"]
        assert "(ON 16000 DIAL 3)" in lines[at:]

    def test_a_stop_of_what_stands_asks_nothing(self) -> None:
        done = through(job(CUT), "home", "rereference-z", "corner-zero", "touch-off")
        asked = text(through(done, "spindle")).count("(SPINDLE OFF, WAIT)")
        assert asked == 2  # once before the clip, once at the end

    def test_a_dial_with_one_mark_is_named_beside(self) -> None:
        changes = {"spindle/dial": [["A", 15000]]}
        assert "(MARK A AT 15000)" in only(job(CUT, changes=changes))

    def test_without_a_dial(self) -> None:
        assert "(SPINDLE ON 16000)" in only(job(CUT, changes={"spindle/dial": []}))


class TestMissing:
    """Jobs that never start the spindle."""

    NONE = "G21 G90\nG0 Z5\nX10 Y10\nG1 Z-3 F300\nG0 Z5\nM30\n"

    def test_is_refused(self) -> None:
        finding = refused(job(self.NONE, "speed"), "spindle")
        assert finding.name == "spindle-missing"
        assert finding.place.line == 4
        assert "missing: start" in finding.remedy

    def test_or_started_before_the_first_move(self) -> None:
        options = {"speed": 12000, "missing": "start"}
        assert only(job(self.NONE, "speed"), **options)[1:4] == ["M3 S12000", "G4 P5", "G0 Z5"]
        assert only(job(self.NONE, "relay"), missing="start")[1:4] == [
            "(SPEED 18000)", "M3", "G4 P3",
        ]  # fmt: skip
        assert "(ON 12000 DIAL 2)" in only(job(self.NONE), **options)

    def test_a_move_above_the_sheet_is_no_cut(self) -> None:
        source = "G21 G90\nG0 Z5\nG1 X10 F300\nM3 S9000\nG1 Z-1\nM5\nG1 Z20\nM30\n"
        assert "M3 S9000" in only(job(source, "speed"))

    def test_a_cut_behind_the_stop(self) -> None:
        source = CUT.replace("M5\n", "M5\nG1 X50\n")
        finding = refused(job(source, "speed"), ("spindle", {"missing": "start"}))
        assert finding.name == "cut-at-rest"
        assert finding.place.line == 6

    def test_a_stop_between_the_added_start_and_the_cut(self) -> None:
        source = self.NONE.replace("G1 Z-3", "M5\nG1 Z-3")
        finding = refused(job(source, "speed"), ("spindle", {"missing": "start", "speed": 9000}))
        assert finding.name == "cut-at-rest"


class TestRefusals:
    """One input for each."""

    @pytest.mark.parametrize(
        ("name", "source", "options", "finding"),
        [
            ("speed", CUT.replace("16000", "30000"), {}, "speed-out-of-range"),
            ("speed", CUT.replace("S16000", "S0"), {}, "speed-out-of-range"),
            ("speed", CUT.replace("S16000 ", ""), {"speed": 99}, "speed-out-of-range"),
            ("speed", CUT.replace("S16000 ", ""), {}, "speed-unknown"),
            ("speed", "#1=9000\n" + CUT.replace("S16000", "S#1"), {}, "speed-unknown"),
            ("speed", CUT.replace("M3", "M4"), {}, "spindle-reverse"),
            ("bench", CUT.replace("M3", "M4"), {}, "spindle-reverse"),
            ("relay", CUT.replace("S16000 M3", "M4"), {}, "spindle-reverse"),
            ("speed", CUT.replace("S16", "/S16"), {}, "spindle-optional"),
            ("bench", CUT.replace("M3\n", "M3 T1 M6 X5 G0\n"), {}, "spindle-crowded"),
        ],
    )  # fmt: skip
    def test_refused(self, name: str, source: str, options: dict[str, Any], finding: str) -> None:
        assert refused(job(source, name), ("spindle", options)).name == finding

    def test_m4_where_it_turns_both_ways(self) -> None:
        source = CUT.replace("M3", "M4")
        lines = only(job(source, "speed", changes={"spindle/reverse": True}))
        assert lines[1:3] == ["S16000 M4", "G4 P5"]


SPINDLE_LINES = st.sampled_from(
    ["M3", "M3 S12000", "S15000", "M5", "G0 Z5", "G1 Z-1 F300", "G1 X9 F300", "T2 M6",
     "S20000 M3 G0 X1", "M5 G0 Z9", "G4 P1"]
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(st.lists(SPINDLE_LINES, max_size=12), st.sampled_from(["bench", "speed"]))
def test_every_cut_has_a_spindle_at_speed(lines: list[str], name: str) -> None:
    """Whatever the order of words: where the step goes through, no cut below the sheet's top finds
    the spindle off, and every start is waited for."""
    source = job("\n".join(["G21 G90 F300", "G0 X0 Y0 Z5", "S10000", *lines, "M30"]) + "\n", name)
    if serious(source):
        return
    try:
        done = through(source, "spindle")
    except JobRefused as error:
        if error.findings[0].name not in ("spindle-missing", "cut-at-rest"):
            raise
        return
    run_up = machine(name).spindle.run_up
    assert not serious(done)
    for block in done.trace.blocks:
        low = np.minimum(block.starts(2), block.ends[2]) <= 0
        sideways = block.ends[2] <= block.starts(2)
        if ((block.kind == 1) & low & sideways).any():
            assert block.setting.spindle == "cw"
    waits = {event.line: float(str(event.value)) for event in done.trace.events_of(EventKind.DWELL)}
    moves = {int(line) for line in done.trace.line}
    before = "off"
    for event in done.trace.events:
        told = {"spindle-on": "cw", "spindle-off": "off"}.get(str(event.value), event.value)
        if event.kind not in (EventKind.SPINDLE, EventKind.ASKS, EventKind.TOOL):
            continue
        now = "off" if event.kind is EventKind.TOOL else str(told)
        if now == "cw" and before != "cw":
            assert event.line not in moves
            waited, line = 0.0, event.line + 1
            while line < len(done.program) and line not in moves:
                if done.program[line].has("M"):
                    break
                waited += waits.get(line, 0.0)
                line += 1
            if line in moves:
                assert waited >= run_up - 1e-9
        before = now


@pytest.mark.parametrize("name", ["bench", "speed"])
def test_awkward_speeds(name: str) -> None:
    source = job((JOBS / "spindle-speeds.nc").read_bytes(), name)
    done = through(source, ("spindle", {"speed": 12000}))
    words = [word for line in done.program for word in line.words if word.letter == "S"]
    assert bool(words) == (name == "speed")
