"""Steps that clean a job for its machine: optional-lines, safe-words, feed-limits, short-lines."""

from __future__ import annotations

import re
from decimal import Decimal
from math import hypot, radians, sin, tan
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plugins.shop import FILES, MACHINES, REGISTRY, job, refused, serious, taken, text, through
from reference.machine import run
from reference.programs import programs
from reference.records import Options

from headrace import Facet, Job, JobRefused, Line, State, replace
from headrace.language.modal import PLANES
from headrace.machine.assumed import Assumed
from headrace.plugins import Contract
from headrace.program import Cause
from headrace.proof import Version, prove_run, prove_step
from headrace.proof.second.follower import Dialect
from headrace.rehearsal import rehearse
from headrace.rehearsal.words.lines import comment_findings
from headrace.way import Way

RUN, LEFT_OUT = Assumed(optional_lines="run"), Assumed(optional_lines="leave-out")
HEAD = "G21 G90 G17 G94\nM3 S18000\n"
END = "G0 Z5\nM5\nM30\n"


def proved(source: Job, name: str, options: dict[str, Any]) -> Job | None:
    """The job behind a step that keeps its contract, and that the second reading finds to be the
    same as a whole; None where it is refused with help."""
    way = Way(source, REGISTRY, [])
    try:
        way.take(taken(name, options), 0)
    except JobRefused as refusal:
        found = refusal.findings
    else:
        found = ()
    assert all(finding.why and finding.remedy for finding in found)
    assert "contract-broken" not in {finding.name for finding in found}, found[0].what
    if found:
        return None
    whole = way._whole()
    assert whole.breach is None, whole.breach
    return way.job


class TestOptionalLines:
    """Lines that a switch leaves out (RS274/NGC 2.2.2, 3.3)."""

    SOURCE = HEAD + "/ N10 G1 X40 F100\n (A) /(B)\n/M8 (C)\nG1 Y5\n/M30\n" + END

    def test_they_run(self) -> None:
        done = through(job(self.SOURCE, "relay", assumed=RUN), "optional-lines")
        assert text(done)[2:7] == ["N10 G1 X40 F100", " (A) (B)", "M8 (C)", "G1 Y5", "M30"]
        assert not done.dialect.block_delete

    def test_they_are_left_out(self) -> None:
        done = through(job(self.SOURCE, "relay", assumed=LEFT_OUT), "optional-lines")
        assert text(done)[2:] == [" (A) (B)", "G1 Y5", "G0 Z5", "M5", "M30"]
        assert not done.dialect.block_delete, "the machine may run what has no slash"

    def test_nobody_says_what_they_are(self) -> None:
        for assumed in (None, Assumed()):
            finding = refused(job(self.SOURCE, "relay", assumed=assumed), "optional-lines")
            assert finding.name == "optional-undecided"
            assert "optional-lines: run" in finding.remedy
            assert finding.place.line == 3

    @pytest.mark.parametrize(("does", "kept"), [("run", True), ("left-out", False)])
    def test_the_machine_says_it(self, does: str, kept: bool) -> None:
        source = job(self.SOURCE, "relay", changes={"optional-lines": does}, assumed=Assumed())
        assert ("M8 (C)" in text(through(source, "optional-lines"))) is kept

    def test_a_job_without_them_passes(self) -> None:
        source = job(HEAD + "G0 X[6/2] (a/b)\n" + END, "speed")
        assert through(source, "optional-lines").program is source.program

    @settings(max_examples=60, deadline=None)
    @given(programs("all", longest=40, options=Options(block_delete=True)), st.booleans())
    def test_what_runs_stays(self, lines: list[str], left_out: bool) -> None:
        """Against an interpreter of the standard that leaves them out, or does not."""
        source = job("\n".join(lines), "speed", assumed=LEFT_OUT if left_out else RUN)
        if serious(source) or _unfit(lines, left_out):
            return
        done = proved(source, "optional-lines", {})
        assert done is not None
        assert not any(line.scan.block_delete for line in done.program if _reached(done, line))
        _same_moves(lines, Options(block_delete=left_out), text(done))

    def test_many(self) -> None:
        body = "".join(f"/G1 X{n % 97} Y{n % 89}\n" for n in range(5_000))
        source = job(HEAD + "G1 F900 X1\n" + body + END, "relay", assumed=RUN)
        assert source.trace
        assert not len(through(source, "optional-lines").program.lines_optional())


def _unfit(lines: list[str], left_out: bool) -> bool:
    """Whether the reference interpreter refuses the program run in this way."""
    return run(lines, options=Options(block_delete=left_out)).error is not None


def _reached(job: Job, line: Line) -> bool:
    return line.index <= job.landmarks.end


def _wordy(line: Line) -> int:
    """How long a line is without its comments."""
    text = line.text
    for comment in reversed(line.comments):
        text = text[: comment.start] + text[comment.end :]
    return len(text.rstrip())


def _same_moves(old: list[str], options: Options, new: list[str]) -> None:
    first, second = run(old, options=options), run(new)
    assert second.error is None, second.error
    assert [move.end for move in first.moves] == [move.end for move in second.moves]
    assert [move.kind for move in first.moves] == [move.kind for move in second.moves]


CAM = "O1001 (LID)\nG21 G90 G17 G40 G49 G94\nT1\nG0 X0 Y0\nG43 H1 Z15 (SIDE)\nG64 P0.05\n"
CUT = "M3 S18000\nM8\nG1 X40 Z-1 F900\nG2 X50 Y10 R10\nM9\nG0 Z15\nM5\nM30\n"


class TestSafeWords:
    """Words that the machine does not know."""

    def test_nothing_goes_that_is_not_named(self) -> None:
        source = job(CAM.replace("G43 H1 ", "") + CUT, "relay")
        assert through(source, "safe-words").program is source.program

    def test_words_go_with_what_belongs_to_them(self) -> None:
        drop = ["G43", "G49", "G40", "G64", "T", "O"]
        done = through(job(CAM + CUT, "relay"), ("safe-words", {"drop": drop}))
        assert text(done)[:5] == ["(LID)", "G21 G90 G17 G94", "G0 X0 Y0", "Z15 (SIDE)", "M3 S18000"]
        assert not serious(done)

    def test_a_line_with_nothing_but_its_number_goes(self) -> None:
        lines = "N10 G64 P1\n/ N20 M8\nN30 M8 (A)\nN40 G64 X1 F9\n"
        done = through(job(HEAD + lines + END), ("safe-words", {"drop": ["G64", "M8"]}))
        assert text(done)[2:4] == ["N30 (A)", "N40 X1 F9"]

    def test_outputs_are_declared(self) -> None:
        done = through(job(HEAD + "M8\nG1 X1 F9\nM9\n" + END), ("safe-words", {"drop": ["M8"]}))
        assert "M8" not in text(done)
        assert "M9" in text(done)

    @pytest.mark.parametrize(
        ("word", "line"), [("G64", 6), ("M8", 8), ("G", 2), ("F", 9), ("G2", 10), ("O", 1)]
    )
    def test_words_are_refused_by_name(self, word: str, line: int) -> None:
        finding = refused(job(CAM + CUT, "relay"), ("safe-words", {"refuse": [word]}))
        assert finding.name == "word-unknown-here"
        assert finding.place.line == line

    def test_line_numbers_are_refused_by_their_letter(self) -> None:
        source = job(HEAD + "G1 X1 F9\nN30 X2\n" + END, "relay")
        assert refused(source, ("safe-words", {"refuse": ["N"]})).place.line == 4

    @pytest.mark.parametrize(
        ("source", "drop", "why"),
        [
            ("G43 H1 Z5", ["H"], "G43 needs H"),
            ("G43 Z5", ["G43"], "no H"),
            ("T1 M6", ["T"], "M6 needs T"),
            ("T1\nM6", ["T"], "the bit in"),
        ],
    )
    def test_what_others_need_stays(self, source: str, drop: list[str], why: str) -> None:
        finding = refused(job(HEAD + source + "\n" + END), ("safe-words", {"drop": drop}))
        assert finding.name == "word-needed"
        assert why in finding.what

    def test_a_shared_word_stays_with_its_other_user(self) -> None:
        done = through(job(HEAD + "G64 G4 P2\nG1 X1 F9\n" + END), ("safe-words", {"drop": ["G64"]}))
        assert text(done)[2] == "G4 P2"

    @pytest.mark.parametrize("drop", ["G17", "G21", "G90", "G94"])
    def test_a_mode_goes_only_where_it_changes_nothing(self, drop: str) -> None:
        """It is refused with the line that says what holds there; the proof stands behind it."""
        through(
            job("G21 G90 G17 G94 G80\nG1 X1 F9\nM30\n", "relay"), ("safe-words", {"drop": [drop]})
        )
        odd = {"G17": "G18", "G21": "G20", "G90": "G91", "G94": "G93"}
        source = job(f"G0 X0 Y0 Z5\n{odd[drop]}\n{drop}\nG1 F9 X3\nG2 X4 Y1 I1 F9\nM30\n", "relay")
        finding = refused(source, ("safe-words", {"drop": [drop]}))
        assert finding.name == "word-needed"
        assert finding.what == f"{drop} ends the {odd[drop]} of line 2 here"
        assert finding.place.line == 3

    def test_a_selection_of_the_zero_goes_by_another_step(self) -> None:
        source = job(HEAD + "G54\nG1 X1 F9\n" + END, "relay")
        finding = refused(source, ("safe-words", {"drop": ["G54"]}))
        assert finding.name == "word-needed"
        assert finding.what == "G54 says here what nothing before it has said"
        assert "`work-offset` with `to: none`" in finding.remedy
        done = through(source, ("work-offset", {"to": "none"}), ("safe-words", {"drop": ["G54"]}))
        assert "G54" not in text(done)
        twice = job(HEAD + "G54\nG1 X1 F9\nG54\nX2\n" + END, "relay")
        assert refused(twice, ("safe-words", {"drop": ["G54"]})).place.line == 3

    def test_a_length_stays_that_ends_another(self) -> None:
        source = job(HEAD + "G43 H2\nG0 Z5\nG49\nG0 Z9\n" + END, "relay")
        assert refused(source, ("safe-words", {"drop": ["G49"]})).place.line == 5

    def test_compensation_of_the_radius_never_goes(self) -> None:
        with pytest.raises(Exception, match="G41"):
            through(job(HEAD + "G41 D1\n" + END), ("safe-words", {"drop": ["G41"]}))

    def test_the_lines_of_steps_stay(self) -> None:
        steps = [("pause", {"at": "start", "text": "READY?"}), ("safe-words", {"drop": ["M0"]})]
        done = through(job(HEAD + "M0\nG1 X1 F9\n" + END), *steps)
        assert text(done).count("M0") == 1

    def test_codes_that_are_worked_out(self) -> None:
        source = job(HEAD + "G[60+4]\nG1 X1 F9\n" + END, "speed")
        finding = refused(source, ("safe-words", {"drop": ["G64"]}))
        assert finding.name == "numbers-not-plain"


class TestToolLengths:
    """G43 (RS274/NGC 3.5.11) where no table is, but each bit is touched off."""

    DROP = ("safe-words", {"drop": ["G43", "G49"]})

    def test_until_then_heights_count_from_elsewhere(self) -> None:
        source = job(HEAD + "G0 X0 Y0 Z5\nG43 H2\nG0 X5\nG1 Z-1 F9\nG49\nG0 X9\nM30\n", "relay")
        settings = [block.setting.length for block in source.trace.blocks]
        assert settings == [None, 2, None]
        heights = source.trace.ends(2)
        assert heights[0] == 5
        assert np.isnan(heights[1])
        assert heights[2] == -1
        assert np.isnan(heights[3])

    def test_h0_is_no_length(self) -> None:
        source = job(HEAD + "G0 Z5\nG43 H0\nG0 X5\nM30\n", "relay")
        assert not serious(source)
        assert source.trace.ends(2)[-1] == 5

    def test_one_bit(self) -> None:
        done = through(job(CAM + CUT, "relay"), self.DROP)
        assert not serious(done)
        assert proved(job(CAM + CUT, "relay"), *self.DROP) is not None

    def test_against_a_table_that_says_nothing_is_longer(self) -> None:
        """An interpreter of the standard with the length 0 for a bit that was touched off."""
        lines = (CAM.replace(" P0.05", "") + CUT).splitlines()[1:]
        done = text(through(job("\n".join(lines), "relay"), self.DROP))
        first = run(lines, options=Options(lengths={1: 0.0}))
        second = run(done)
        assert first.error is None
        assert len(first.moves) == len(second.moves) == 5
        assert [move.end for move in first.moves] == [move.end for move in second.moves]

    def test_two_bits_without_a_touch_between(self) -> None:
        source = HEAD + "G43 H1 Z5\nG1 Z-1 F9\nG43 H2 Z5\nG1 Z-1\n" + END
        finding = refused(job(source, "relay"), self.DROP)
        assert finding.name == "lengths-differ"
        assert "H2" in finding.what
        assert finding.place.line == 5

    def test_two_bits_each_with_its_zero(self) -> None:
        touched = "G43 H1 Z5\nG1 Z-1 F9\nM5\nT2 M6\nG92 Z10\nM3\nG43 H2 Z5\nG1 Z-1\n"
        assert proved(job(HEAD + touched + END, "bench"), *self.DROP) is not None

    def test_a_zero_from_before_the_change_is_none(self) -> None:
        touched = "G43 H1 Z5\nG1 Z-1 F9\nM5\nG92 Z10\nT2 M6\nM3\nG43 H2 Z5\nG1 Z-1\n"
        assert refused(job(HEAD + touched + END, "bench"), self.DROP).name == "lengths-differ"

    def test_heights_without_a_length_are_others(self) -> None:
        source = HEAD + "G43 H1 Z5\nG1 Z-1 F9\nG49\n" + END
        assert refused(job(source, "relay"), self.DROP).name == "lengths-differ"

    def test_machine_heights_are_the_same_with_any(self) -> None:
        source = HEAD + "G43 H1 Z5\nG1 Z-1 F9\nG49\nG53 G0 Z-3\nM5\nM30\n"
        assert proved(job(source, "relay"), *self.DROP) is not None

    def test_what_stays_is_never_the_same_job(self) -> None:
        """Without the facet of the tool both proofs see the length go."""
        old = job(HEAD + "G43 H1 Z5\nG1 Z-1 F9\n" + END, "relay")
        edits = [replace(2, "Z5")]
        moved = old.with_program(old.program.edited(edits, Cause("test", 1)))
        for facets, fine in ((("spelling",), False), (("spelling", "tool"), True)):
            contract = Contract(frozenset(Facet(facet) for facet in facets))
            step = prove_step(
                Version(old.program, old.trace), Version(moved.program, moved.trace), contract
            )
            whole = prove_run(old.program, [moved.program], contract, False, Dialect({}))
            assert (not step.breaches) is fine
            assert (whole.breach is None) is fine


def speeds(job: Job) -> np.ndarray[Any, np.dtype[np.float64]]:
    """How fast each cut drives X, Y, Z, goes down and goes at all, at its fastest (m, 5; mm/min):
    it is taken to bits. NaN where it goes nowhere or from an unknown place."""
    rows = []
    for block in job.trace.blocks:
        arcs = {}
        if (of := block.arcs) is not None:
            columns = zip(of.rows, of.centre_u, of.centre_v, of.turn, strict=True)
            arcs = {int(row): (u, v, turn) for row, u, v, turn in columns}
        for row in np.flatnonzero(block.cuts).tolist():
            start = np.array([block.starts(axis)[row] for axis in range(3)])
            end = np.array([block.ends[axis][row] for axis in range(3)])
            if row in arcs:
                first, second, across = PLANES[block.setting.plane]
                u, v, turn = arcs[row]
                radius = hypot(start[first] - u, start[second] - v)
                begun = np.arctan2(start[second] - v, start[first] - u)
                angle = begun + np.linspace(0, turn, 4001) * (-1 if block.kind[row] == 2 else 1)
                path = np.empty((len(angle), 3))
                path[:, first] = u + radius * np.cos(angle)
                path[:, second] = v + radius * np.sin(angle)
                path[:, across] = np.linspace(start[across], end[across], len(angle))
            else:
                path = np.array([start, end])
            steps = np.diff(path, axis=0)
            lengths = np.linalg.norm(steps, axis=1)
            feed = block.feed[row]
            if block.setting.inverse_time:
                feed *= lengths.sum()
            going = lengths > 0
            if not going.any():
                rows.append((np.nan,) * 5)  # nowhere, or nobody knows
                continue
            share = steps[going] / lengths[going, None]
            fast = np.abs(share).max(axis=0) * feed
            rows.append((*fast, max(0.0, -share[:, 2].min()) * feed, feed))
    return np.array(rows).reshape(-1, 5)


class TestFeedLimits:
    """Feeds that no axis can follow: F_axis = F |d_axis| / L."""

    def cut(self, body: str, **options: float) -> list[str]:
        source = job(f"{HEAD}{body}\n{END}", "relay")
        return text(through(source, ("feed-limits", options)))[2:-3]

    def test_one_axis(self) -> None:
        assert self.cut("G0 Z5\nG1 Z0 F1500\nX40 F6000") == ["G0 Z5", "G1 Z0 F1500", "X40 F5000"]

    def test_the_jobs_feed_comes_back(self) -> None:
        lines = self.cut(
            "G0 X0 Y0 Z5\nG1 X9 F4000\nG1 Z-3\nG1 X40\nX50\nG0 Z5\nG1Z-3 (A)\nX0\nF30\nX1"
        )
        assert lines == [
            "G0 X0 Y0 Z5", "G1 X9 F4000", "G1 Z-3 F1500", "G1 X40 F4000", "X50", "G0 Z5",
            "G1Z-3F1500 (A)", "X0F4000", "F30", "X1",
        ]  # fmt: skip

    def test_only_what_needs_it(self) -> None:
        source = job(HEAD + "G0 X0 Y0 Z5\nG1 X40 Y40 Z-1 F7000\n" + END, "relay")
        assert 7000 * 40 / hypot(40, 40, 6) < 5000
        assert through(source, "feed-limits").program is source.program

    def test_a_ramp(self) -> None:
        """At 3 degrees and F2000 the bit sinks at 104.67 mm/min: geometry of the slope."""
        assert 2000 * sin(radians(3)) == pytest.approx(104.67, abs=0.005)
        run = 3 / tan(radians(3))
        body = f"G0 X0 Y0 Z0\nG1 X{run:.6f} Z-3 F2000"
        assert self.cut(body, plunge=105)[-1].endswith("F2000")
        assert self.cut(body, plunge=100)[-1].endswith("F1910")
        assert 1910 <= 100 / sin(radians(3)) < 1911

    def test_a_helix(self) -> None:
        """Radius 3, pitch 1, F1000 along it: 52.98 mm/min down."""
        body = "G0 X3 Y0 Z0\nG2 X3 Y0 Z-1 I-3 F1000"
        assert self.cut(body, plunge=52.99)[-1].endswith("F1000")
        assert self.cut(body, plunge=52.9)[-1].endswith("F998")

    def test_a_quarter_that_never_goes_along_an_axis(self) -> None:
        """From 30 to 60 degrees the tangent is along X by sin 60 at the most."""
        points = [(10 * np.cos(a), 10 * np.sin(a)) for a in np.radians([30, 60])]
        (x0, y0), (x1, y1) = points
        body = f"G0 X{x0:.9f} Y{y0:.9f} Z5\nG3 X{x1:.9f} Y{y1:.9f} R10 F6000"
        assert self.cut(body)[-1].endswith(f"F{int(5000 / sin(radians(60)))}")

    def test_inches(self) -> None:
        source = job("G20 G90\nG0 X0 Z1\nG1 X9 F250\nX10\nM30\n", "relay", assume="inch")
        assert text(through(source, "feed-limits"))[2] == "G1 X9 F196.85"

    def test_moves_a_minute(self) -> None:
        assert self.cut("G0 X0 Y0 Z5\nG93\nG1 X100 F60\nG1 X110 F60\nG94")[2:4] == [
            "G1 X100 F50", "G1 X110 F60",
        ]  # fmt: skip

    def test_a_cycle(self) -> None:
        assert self.cut("G0 X0 Y0 Z5\nG81 X1 Z-3 R2 F2000\nX5\nG80\nG1 X0")[1:] == [
            "G81 X1 Z-3 R2 F1500", "X5", "G80", "G1 X0 F2000",
        ]  # fmt: skip

    def test_a_line_that_a_switch_leaves_out(self) -> None:
        """What is slow must be so with and without it."""
        lines = self.cut("G0 X0 Y0 Z5\nG1 X1 F4000\n/Z4\nZ3\n/X3 F2000\nZ2")
        assert lines[2:] == ["/Z4F1500", "Z3F1500", "/X3 F2000", "Z2F1500"]

    def test_a_feed_that_is_worked_out(self) -> None:
        source = job("G21 G90 G94\n#1=9999\nG1 Z0 F#1\nM30\n", "speed")
        assert refused(source, "feed-limits").name == "numbers-not-plain"

    def test_subprograms(self) -> None:
        source = "G21 G90 G94\nG0 X0 Y0 Z5\nG1 X1 F9000\nM98 P1\nM30\nO1\nG1 Z0\nM99\n"
        finding = refused(job(source, "relay"), "feed-limits")
        assert "expand-calls" in finding.remedy

    def test_places_that_are_not_known(self) -> None:
        """The way from there may be along one axis alone."""
        assert self.cut("G1 X4 Z-4 F4000")[-1] == "G1 X4 Z-4 F1500"

    def test_the_chips_speak(self) -> None:
        """Chips of 4000 / (18000 x 2) = 0.11 mm; a cap of 700 leaves 0.019 mm."""
        setup = {"tool/chip": [0.05, 0.2], "tool/teeth": 2}
        body = HEAD + "G0 X0 Y0 Z5\nG1 Z-1 F600\nG1 X300 F4000\nY200\nX0\nY0\n" + END
        source = job(body, "relay", setup_changes=setup)
        slow = through(source, ("feed-limits", {"most": 700}))
        assert "chips-too-thin" not in {finding.name for finding in rehearse([], source)}
        assert "chips-too-thin" in {finding.name for finding in rehearse([], slow)}

    @pytest.mark.parametrize("options", [{}, {"plunge": 200}, {"most": 900.5, "plunge": 50}])
    @settings(max_examples=40, deadline=None)
    @given(lines=programs("all", longest=40))
    def test_no_axis_goes_faster(self, options: dict[str, float], lines: list[str]) -> None:
        """Each cut is taken to bits; what was slow enough keeps its feed."""
        changes = {
            f"axes/{axis}/feed": feed for axis, feed in zip("xyz", (40, 55, 25), strict=True)
        }
        source = job("\n".join(lines), "speed", changes=changes, start=State.at_zero())
        if serious(source):
            return
        done = proved(source, "feed-limits", options)
        if done is None:
            return
        before, after = speeds(source), speeds(done)
        assert len(before) == len(after)
        most, plunge = options.get("most", np.inf), options.get("plunge", np.inf)
        limits = np.array([40, 55, 25, plunge, most])
        known = ~np.isnan(after).any(axis=1)
        assert (after[known] <= limits * (1 + 1e-5) + 1e-6).all()
        over = (before > limits * (1 + 1e-5)).any(axis=1)
        shared = _several_moves(source)
        slower = after[:, 4] < before[:, 4] * (1 - 1e-9)
        assert not (slower & ~over & known & ~shared).any()
        again = through(done, ("feed-limits", options))
        assert again.program.to_bytes() == done.program.to_bytes()

    def test_fewest_words(self) -> None:
        """No line states the feed that is in force anyway, but where the job does so itself."""
        body = "".join(f"G1 X{n % 7} Z-{n % 3}\n" for n in range(200))
        lines = self.cut("G0 X0 Y0 Z5\nF4000\n" + body)
        held = None
        for line in lines:
            stated = re.search(r"F([\d.]+)", line)
            assert stated is None or stated[1] != held
            held = stated[1] if stated else held

    def test_many_lines_that_are_slow_enough_stay(self) -> None:
        places = np.cumsum(np.random.default_rng(7).normal(0, 1, (200_000, 3)), axis=0)
        body = "".join(f"G1 X{x:.3f} Y{y:.3f} Z{z:.3f}\n" for x, y, z in places.tolist())
        slow = job(HEAD + "G0 X0 Y0 Z5\nF1400\n" + body + END, "relay")
        assert through(slow, "feed-limits").program.to_bytes() == slow.program.to_bytes()


def _several_moves(job: Job) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Which cuts share their line with others."""
    lines = np.concatenate([block.line[block.cuts] for block in job.trace.blocks] or [np.zeros(0)])
    _, which, count = np.unique(lines, return_inverse=True, return_counts=True)
    return count[which] > 1


class TestShortLines:
    """Lines that the machine would cut off."""

    def short(self, line: str, most: int, **changes: Any) -> list[str]:
        changed_machine = {"line/length": most, **changes}
        source = job(f"{line}\n", "relay", changes=changed_machine)
        return text(through(source, "short-lines"))

    @pytest.mark.parametrize(
        ("line", "most", "new"),
        [
            ("N10 G01 X010.500 Y02.000", 40, "N10 G01 X010.500 Y02.000"),
            ("N10 G01 X010.500 Y02.000", 22, "N10G01X010.500Y02.000"),
            ("N10 G01 X010.500 Y02.000", 20, "N10G1X10.5Y2"),
            ("N10 G01 X010.500 Y+2.12345678", 20, "G1X10.5Y2.12345678"),
            ("/N10 G01 X010.500 Y+2.1234567", 20, "/G1X10.5Y2.1234567"),
            ("G01 X.5000 Y-0.000 Z000 (A B)", 20, "G01X.5000Y-0.000Z000(A B)"),
            ("G01 X.5000 Y-0.000 Z000000.00(A B)", 20, "G1X0.5Y0Z0(A B)"),
        ],
    )
    def test_as_much_as_is_needed(self, line: str, most: int, new: str) -> None:
        assert self.short(line, most) == [new]

    def test_the_point_stays_where_it_is_needed(self) -> None:
        odd = {"decimal-point": "required"}
        assert self.short("G01 X10.0000 Y2.0000", 20, **odd) == ["G01 X10.0000 Y2.0000"]
        assert self.short("G01 X10.00000 Y20.00000", 20, **odd) == ["G1X10.Y20."]

    def test_the_order_of_execution(self) -> None:
        """RS274/NGC table 8: F, S, M3, M8, path control, then motion, then the stop."""
        line = "M0 G1 X10.123 Y2.123 Z5.123 M8 S18000 M3 G64 P0.1 F1200"
        assert self.short(line, 30) == ["F1200S18000M3M8G64P0.1", "G1X10.123Y2.123Z5.123", "M0"]

    @pytest.mark.parametrize(
        "line",
        [
            "G1 X1.12345 Y2.12345 Z3.12345 F100",
            "/G1 X1.12345 F100 S18000 M3",
            "G1 X[1.12345+1.5] F100 S18000 M3",
        ],
    )
    def test_what_cannot_be_split(self, line: str) -> None:
        source = job(f"{line}\n", "relay", changes={"line/length": 20})
        assert refused(source, "short-lines").name == "line-unsplittable"

    def test_comments_are_another_steps(self) -> None:
        source = job("(THE LONG SIDE OF THE LID)\n", "relay", changes={"line/length": 20})
        assert through(source, "short-lines").program is source.program
        assert text(through(source, ("comments", {}), "short-lines")) == ["(THE LONG SIDE OF..)"]
        crowded = "G1 X1.12345 Y2.12345 Z3.12345 F9 (SIDE)\n"
        source = job(crowded, "relay", changes={"line/length": 20})
        assert refused(source, "short-lines").name == "line-no-room"

    def test_what_stands_behind_the_end_is_left_alone(self) -> None:
        source = job("M30\n" + "X1 " * 40 + "\n", "relay")
        assert through(source, "short-lines").program is source.program

    def test_numbers_that_must_stay(self) -> None:
        odd = {"line/length": 20, "line/numbers": "required"}
        source = job("N10 G1 X1.12345 Y2.12345\n", "relay", changes=odd)
        assert refused(source, "short-lines").name == "line-unsplittable"

    @settings(max_examples=80, deadline=None)
    @given(programs("all", longest=30), st.integers(20, 45))
    def test_what_runs_stays(self, lines: list[str], most: int) -> None:
        """Against an interpreter of the standard; no line is longer, and short ones stay."""
        source = job("\n".join(lines), "speed", changes={"line/length": most})
        if serious(source) or run(lines).error is not None:
            return
        done = proved(source, "short-lines", {})
        if done is None:
            return
        assert all(_wordy(line) <= most for line in done.program if _reached(done, line))
        kept = [line.text for line in done.program if line.cause is None]
        last = source.landmarks.end
        assert kept == [n.text for n in source.program if _wordy(n) <= most or n.index > last]
        _same_moves(lines, Options(), text(done))

    @given(st.decimals(-99999, 99999, places=6, allow_nan=False))
    def test_numbers_say_the_same(self, number: Decimal) -> None:
        """Against Python's own decimal."""
        spelt = f"{number:+012.6f}"
        new = self.short(f"G0 X{spelt} Y1.0000000000000", 20)[0]
        found = re.search(r"X([-+.\d]+)", new)
        assert found
        assert Decimal(found[1]) == number


class TestComments:
    """The comments of each machine of the workshop."""

    @pytest.mark.parametrize("name", MACHINES)
    @pytest.mark.parametrize("style", ["parentheses", "semicolon", "both", "none"])
    def test_each_style_is_read_behind_it(self, name: str, style: str) -> None:
        source = job(
            "(LID)\nG21 G90 ; mm\n; alone\nG0 X1 (A) Y2 ; B\n(MSG, LOOK)\nM30 (END)\n",
            name,
            changes={"comments": style},
        )
        done = through(source, "comments")
        assert not list(comment_findings(done))
        assert [line.words for line in done.program if line.words]
        words = [[word.code for word in line.words] for line in done.program if line.words]
        assert words == [["G21", "G90"], ["G0", "X1", "Y2"], ["M30"]]
        said = " ".join(comment.text for line in done.program for comment in line.comments)
        if style != "none":
            assert all(part in said for part in ("LID", "mm", "alone", "A", "B", "LOOK", "END"))


EVERYTHING = ["G40", "G43", "G49", "G61", "G64", "M7", "M8", "M9", "M48", "M49", "H", "D", "O", "T"]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
@pytest.mark.parametrize("name", MACHINES)
def test_awkward_files(path: Any, name: str) -> None:
    """With their options, too: the contract holds, or the job is refused with help."""
    for step, options in (
        ("safe-words", {"drop": EVERYTHING}),
        ("feed-limits", {"most": 500, "plunge": 100}),
    ):
        proved(job(path.read_bytes(), name, assume="mm"), step, options)
    proved(
        job(path.read_bytes(), name, assume="mm", changes={"line/length": 24}), "short-lines", {}
    )
    for assumed in (RUN, LEFT_OUT):
        proved(job(path.read_bytes(), name, assume="mm", assumed=assumed), "optional-lines", {})
