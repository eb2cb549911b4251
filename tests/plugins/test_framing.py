"""What stands before and behind a job: modes, pauses, parking, the end."""

from __future__ import annotations

from typing import Any

import pytest
from plugins.shop import JOBS, Step, job, refused, serious, text, through

from headrace import EventKind

CUT = "G21\nG90\nM3 S18000\nG0 Z5\nG1 Z-3 F300\nG0 Z5\nM5\nM30\n"


class TestSafeStart:
    """Modes are stated before anything moves."""

    def test_all_modes(self) -> None:
        lines = text(through(job(CUT, "speed"), "safe-start"))
        assert lines[:2] == ["G21 G17 G90 G94 G40 G49 G80", "G54"]
        assert text(through(job(CUT), "safe-start"))[1] == "G21"

    def test_the_units_of_the_job(self) -> None:
        inch = job(CUT.replace("G21", "G20"))
        assert text(through(inch, "safe-start"))[0].startswith("G20 ")
        silent = job(CUT.replace("G21\n", ""), assume="inch")
        assert text(through(silent, "safe-start"))[0].startswith("G20 ")
        alone = job("", "speed", stand_alone=True)
        assert text(through(alone, "safe-start"))[0].startswith("G21 ")

    def test_the_modes_that_the_machine_describes(self) -> None:
        lines = text(through(job(CUT, changes={"modes": ["G64", "G40"]}), "safe-start"))
        assert lines[0] == "G21 G17 G90 G94 G64 G40"

    def test_short_lines(self) -> None:
        lines = text(through(job(CUT, changes={"line/length": 20}), "safe-start"))
        assert lines[:2] == ["G21 G17 G90 G94 G40", "G49"]

    def test_contradicting_units(self) -> None:
        finding = refused(job(CUT), ("safe-start", {"units": "inch"}))
        assert finding.name == "units-contradict"
        assert finding.place.line == 1

    def test_unknown_units(self) -> None:
        odd = job("G0 X1\n", changes={"power-up-units": None})
        assert refused(odd, "safe-start").name == "units-unknown"

    def test_everything_is_stated_for_the_interpreter(self) -> None:
        done = through(job(CUT, "speed"), "safe-start")
        # RS274/NGC table 4: plane, distance, feed mode, units, compensation, length, system
        assert done.state_at(2).stated >= {2, 3, 5, 6, 7, 8, 12}


class TestPause:
    """Alone on its line, with its text where the machine shows it."""

    @pytest.mark.parametrize(
        ("name", "lines"),
        [
            ("bench", ["(EXTRACTION ON)", "M0"]),
            ("relay", ["M0 (EXTRACTION ON)"]),
            ("speed", ["(EXTRACTION ON)", "M0"]),
        ],
    )
    def test_the_machines_way(self, name: str, lines: list[str]) -> None:
        done = through(job(CUT, name), ("pause", {"at": "first-cut", "text": "Extraction on"}))
        at = text(done).index("G1 Z-3 F300")
        assert text(done)[at - len(lines) : at] == lines

    def test_semicolons_and_another_word(self) -> None:
        changes = {"comments": "semicolon", "pause/word": "M60"}
        done = through(job(CUT, changes=changes), ("pause", {"at": "start", "text": "hi"}))
        assert text(done)[:2] == ["; HI", "M60"]
        assert done.trace.events[0].kind is EventKind.STOP

    def test_no_text_where_there_are_no_comments(self) -> None:
        changes = {"comments": "none", "pause/text": "none"}
        done = through(job(CUT, changes=changes), ("pause", {"at": "start", "text": "hi"}))
        assert text(done)[:2] == ["M0", "G21"]

    def test_before_and_after_changes_of_tools(self) -> None:
        source = CUT.replace("M3", "T1 M6\nM3").replace("M5\n", "M5\nT2 M6\n")
        for at, shift in (("tool-change-before", -1), ("tool-change-after", 2)):
            done = through(job(source), ("pause", {"at": at, "text": "POWER OFF?"}))
            lines = text(done)
            for change in ("T1 M6", "T2 M6"):
                assert lines[lines.index(change) + shift] == "M0"

    def test_at_the_end_behind_the_last_move(self) -> None:
        source = CUT.replace("M5\nM30", "M5\nG0 X0 M30")
        done = through(job(source), ("pause", {"at": "end", "text": "brush"}))
        assert text(done)[-4:] == ["G0 X0", "(BRUSH)", "M0", "M30"]
        done = through(job(CUT), ("pause", {"at": "end", "text": "brush"}))
        assert text(done)[-4:] == ["M5", "(BRUSH)", "M0", "M30"]

    def test_accents_are_dropped(self) -> None:
        done = through(job(CUT), ("pause", {"at": "start", "text": "Bürste à gauche"}))
        assert text(done)[0] == "(BURSTE A GAUCHE)"

    @pytest.mark.parametrize(
        ("options", "changes", "source", "name"),
        [
            ({"at": "start", "text": "A TEXT OF MORE THAN TWENTY"}, {}, CUT, "text-too-long"),
            ({"at": "start", "text": "CLIP (BLACK)"}, {}, CUT, "text-unwritable"),
            ({"at": "start", "text": "5 µ"}, {}, CUT, "text-unwritable"),
            ({"at": "start", "text": "HI"}, {"comments": "none"}, CUT, "pause-unshown"),
            ({"at": "first-cut", "text": "HI"}, {}, "G21\nG0 X1\nM30\n", "no-cut"),
            (
                {"at": "tool-change-after", "text": "HI"},
                {},
                CUT.replace("G0 Z5\nM5", "G0 Z5 T2 M6\nM5"),
                "pause-behind-move",
            ),
        ],
    )
    def test_refusals(
        self, options: dict[str, Any], changes: dict[str, Any], source: str, name: str
    ) -> None:
        finding = refused(job(source, changes=changes), ("pause", options))
        assert finding.name == name

    def test_a_long_text_is_told_by_how_much(self) -> None:
        finding = refused(job(CUT), ("pause", {"at": "start", "text": "LOOK AT THE VACUUM GAUGE"}))
        assert "4 characters too long" in finding.what
        assert "'LOOK AT THE VACUUM G'" in finding.what
        assert "shorter" in finding.remedy

    def test_a_display_too_narrow_for_a_steps_own_text(self) -> None:
        narrow = job(CUT, changes={"pause/width": 4})
        finding = refused(narrow, "home", "rereference-z", "corner-zero", "touch-off")
        assert finding.name == "text-too-long"
        assert "`pause: {width}`" in finding.remedy


class TestPark:
    """Up, still, away, and one end."""

    def test_by_machine_moves(self) -> None:
        done = through(job(CUT, "speed"), "safe-start", "home", "corner-zero", "touch-off", "park")
        assert text(done)[-7:] == [
            "M5", "G90", "G53 G0 Z-5", "M9", "G53 G0 X650 Y2480", "M30", "%",
        ]  # fmt: skip

    def test_a_spindle_that_turns_is_stopped_above_the_work(self) -> None:
        source = CUT.replace("M5\n", "").replace("Z5", "Z-20")
        done = through(job(source, "relay"), "home", "park")
        assert text(done)[-7:] == [
            "G90", "G53 G0 Z-5", "M5", "G4 P12", "M9", "G53 G0 X-410 Y-5", "M30",
        ]  # fmt: skip

    def test_lifts_before_a_hand_reaches_for_the_switch(self) -> None:
        # common practice: nobody's hand goes to a router whose bit is in the cut
        source = "G21 G90\nM3 S17000\nG0 Z5\nG1 Z-2 F300\nX90\nM30\n"
        steps: list[str | Step] = ["home", "rereference-z", "corner-zero", "touch-off", "spindle"]
        assert text(through(job(source), *steps, "park"))[-7:] == [
            "X90", "G90", "G0 Z55.9", "(SPINDLE OFF, WAIT)", "M0", "G0 X-15 Y530", "M2",
        ]  # fmt: skip

    def test_by_the_numbers_that_are_known(self) -> None:
        steps: list[str | Step] = ["home", "rereference-z", "corner-zero", "touch-off", "spindle"]
        lines = text(through(job(CUT), *steps, "park"))
        # the sheet's top is at least 108 - 32 - 18.1 = 57.9 below the top; 2 less is the park place
        assert lines[-6:] == [
            "G90", "G0 Z55.9", "(SPINDLE OFF, WAIT)", "M0", "G0 X-15 Y530", "M2",
        ]  # fmt: skip

    def test_stays_where_no_number_is_known(self) -> None:
        lines = text(through(job(CUT), "park"))
        assert lines[-4:] == [
            "(HEAD STAYS HERE:)",
            "(PARKING PLACE HAS NO)",
            "(KNOWN NUMBERS)",
            "M2",
        ]
        assert "G0 Z55.9" in lines
        assert not any(line.startswith("G0 X") for line in lines)

    @pytest.mark.parametrize(
        ("source", "end"),
        [
            ("G21\nG0 X1\nM30\n", ["M2"]),
            ("G21\nG0 X1\nN9 M30 (END)\n", ["N9 M2 (END)"]),
            ("G21\nG0 X1 M30\n", ["M2"]),
            ("G21\nG0 X1\n", ["M2"]),
            ("G21\nG0 X1", ["M2"]),
            ("G21\nG0 X1\n/M30\n", ["M2"]),
            ("%\nG21\nG0 X1\nM30\n%\n", ["M2"]),
            ("%\nG21\nG0 X1\n%\n", ["M2"]),
            ("G21\nG0 X1\nM30\nG0 Z-9\n", ["M2", "G0 Z-9"]),
            ("", ["M2"]),
        ],
    )
    def test_one_end_word_of_the_machine(self, source: str, end: list[str]) -> None:
        done = through(job(source), "park")
        lines = text(done)
        assert lines[-len(end) :] == end
        assert "%" not in lines
        assert done.trace.ended_at == len(lines) - len(end)
        if "X1" in source:
            assert any(line.startswith("G0 X1") for line in lines)

    @pytest.mark.parametrize(
        "source",
        ["G21\nG0 X1\nM30\n", "%\nG21\nG0 X1\n%\n", "%\nG21\nM30\n%\n", "", "G21 M30", "%\n%\n"],
    )
    def test_the_percent_frame(self, source: str) -> None:
        lines = text(through(job(source, "speed"), "home", "park"))
        assert lines[0] == lines[-1] == "%"
        assert lines.count("%") == 2
        assert lines[-2] == "M30"

    def test_a_mark_at_the_very_beginning_goes_before_the_frame(self) -> None:
        done = through(job((JOBS / "bom.nc").read_bytes(), "speed"), "home", "park")
        data = done.program.to_bytes()
        assert data.startswith(b"%\n")
        assert b"\xef\xbb\xbf" not in data

    def test_increments_are_left_first(self) -> None:
        source = "G21 G91\nG1 X1 F100\nM30\n"
        done = through(job(source, "relay"), "home", "park")
        assert not serious(done)
        assert "G90" in text(done)

    @pytest.mark.parametrize(("decimals", "written"), [(3, "25.591"), (4, "25.5906")])
    def test_no_more_places_than_the_machine_reads(self, decimals: int, written: str) -> None:
        """650 mm are 25.590551... inches."""
        inch = job(
            CUT.replace("G21", "G20"), "relay", changes={"decimals": decimals, "park/x": -650}
        )
        assert f"X-{written} " in "\n".join(text(through(inch, "home", "park")))

    def test_refusals(self) -> None:
        far = job(CUT, changes={"park/x": 700})
        assert refused(far, "home", "park").name == "out-of-travel"
        low = job(CUT, changes={"park/z": -40})
        finding = refused(low, "home", "park")
        assert finding.name == "park-too-low"
        # 57.9 less the safe height of 25
        assert "at least -32.9" in finding.remedy
        # 57.9 less 2, however high the machine's top is
        low = job(CUT, setup_changes={"safe-height": 70})
        finding = refused(low, "home", "park")
        assert finding.name == "park-too-low"
        assert "ends at Z0" in finding.remedy
        assert "safe-height may be 55.9" in finding.remedy
        unknown = job(CUT, setup_changes={"sheet/thickness": None})
        assert refused(unknown, "park").name == "not-described"
        unit = job("G0 X1\n", changes={"power-up-units": None})
        assert refused(unit, "park").name == "units-unknown"


def test_between_files_the_router_may_have_been_switched_on() -> None:
    """What the file before knew of the head and of a hand's switch is forgotten."""
    from headrace.run import _between_files

    first = through(job("", stand_alone=True), "home", "rereference-z", "corner-zero", "park")
    later = job("", stand_alone=True, start=_between_files(first.trace.end))
    done = through(later, ("home", {"axes": ["z"]}), "rereference-z", "touch-off", "park")
    lines = text(done)
    assert lines.index("(SPINDLE OFF, WAIT)") < lines.index("(PLATE ON, CLIP ON)")
    assert "G0 X50 Y50" in lines
    assert not serious(done)
