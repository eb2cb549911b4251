"""What numbers and words mean: dwells, speeds, outputs."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plugins.alike import WRITING, run_of, sound, standard_job
from plugins.shop import JOBS, TRANSFORMS, job, refused, text, through
from reference.programs import programs

from headrace import EventKind, Finding, Job, JobRefused
from headrace.language import Dialect
from headrace.machine import Assumed
from headrace.plugins import Contract
from headrace.proof import Version, prove_run, prove_step
from headrace.proof.second.follower import Dialect as SecondDialect
from headrace_transforms.dwell_unit import needs_dwell_unit
from headrace_transforms.spindle_scale import needs_spindle_scale

SECONDS, MILLISECONDS = Assumed(dwell="seconds"), Assumed(dwell="milliseconds")
HEAD = "G21 G90 G94 G17\n"
FILES = sorted(path for path in JOBS.iterdir() if path.suffix == ".nc")


def dwells(job: Job) -> list[float]:
    """Seconds that a job waits, by the project's own reading."""
    return [float(str(event.value)) for event in job.trace.events_of(EventKind.DWELL)]


class TestDwellUnit:
    """RS274/NGC 3.5.4 counts seconds; milliseconds are common practice elsewhere."""

    def test_dwells_and_cycles_that_dwell(self) -> None:
        source = HEAD + (
            "M3 S900\nN5 g4 p1.5 (P2)\nG0 Z5\nG82 X1 Y1 Z-1 R2 P.25 F100\nX2\nX3 P 1 .5\n"
            "G89 X4 Z-1 R2 P0\nG81 X5\nG80\nG4P2\nM30\nG4 P9\n"
        )
        done = through(job(source, "bench", assumed=SECONDS), "dwell-unit")
        assert text(done)[1:] == [
            "M3 S900", "N5 g4 p1500 (P2)", "G0 Z5", "G82 X1 Y1 Z-1 R2 P250 F100", "X2", "X3 P1500",
            "G89 X4 Z-1 R2 P0", "G81 X5", "G80", "G4P2000", "M30", "G4 P9",
        ]  # fmt: skip
        assert dwells(done) == [1.5, 0.25, 0.25, 1.5, 0, 2]

    def test_the_other_way(self) -> None:
        source = job("G21\nG4 P1500\nG4 P2\nM30\n", "speed", assumed=MILLISECONDS)
        done = through(source, "dwell-unit")
        assert text(done) == ["G21", "G4 P1.5", "G4 P0.002", "M30"]
        assert done.dialect == Dialect.of(done.machine)

    def test_a_p_of_another_word_stays(self) -> None:
        """RS274/NGC 3.5.5 and 3.5.14: the P of G10 is a system, that of G64 a tolerance."""
        source = HEAD + "G64 P0.05\nG10 L2 P1 X5\nG4 P0.5\nM30\n"
        done = through(job(source, "speed", assumed=MILLISECONDS), "dwell-unit")
        assert text(done)[1:] == ["G64 P0.05", "G10 L2 P1 X5", "G4 P0.0005", "M30"]

    def test_where_all_is_well(self) -> None:
        source = job("G4 P1500\nM30\n")
        assert through(source, "dwell-unit").program is source.program
        assert needs_dwell_unit(source) is None

    def test_without_dwells_the_language_turns_all_the_same(self) -> None:
        source = job(HEAD + "G0 X1\nM30\n", "bench", assumed=SECONDS)
        assert needs_dwell_unit(source) == {}
        done = through(source, "dwell-unit")
        assert done.program is source.program
        assert needs_dwell_unit(done) is None

    @pytest.mark.parametrize("line", ["G4 P[1+1]", "G[2*2] P3"])
    def test_what_is_worked_out_is_refused(self, line: str) -> None:
        finding = refused(job(f"G21\n{line}\nM30\n", "speed", assumed=MILLISECONDS), "dwell-unit")
        assert (finding.name, finding.place.line) == ("numbers-not-plain", 2)

    def test_subprograms(self) -> None:
        """The P of a call is a number of a subprogram: common practice."""
        source = HEAD + "M98 P100\nM30\nO100\nG4 P2\nM99\n"
        done = through(job(source, "speed", assumed=MILLISECONDS), "dwell-unit")
        assert text(done)[1:] == ["M98 P100", "M30", "O100", "G4 P0.002", "M99"]
        drilled = HEAD + "S900 M3\nG0 Z5\nM98 P100\nM30\nO100\nG82 X1 Z-1 R1 P2 F60\nG80\nM99\n"
        finding = refused(job(drilled, "speed", assumed=MILLISECONDS), "dwell-unit")
        assert finding.name == "numbers-not-plain"
        assert "expand-calls" in finding.remedy
        done = through(job(drilled, "speed", assumed=MILLISECONDS), "expand-calls", "dwell-unit")
        assert dwells(done) == [0.002]

    @given(st.decimals("0", "99999", places=5, allow_nan=False), st.booleans())
    def test_every_time_stays_to_the_last_digit(self, time: Decimal, to_seconds: bool) -> None:
        """Against Python's decimal."""
        name, assumed = ("speed", MILLISECONDS) if to_seconds else ("bench", SECONDS)
        done = through(job(f"G4 P{time:f}\nM30\n", name, assumed=assumed), "dwell-unit")
        written = Decimal(text(done)[0].partition("P")[2])
        assert written * 1000 == time if to_seconds else written == time * 1000

    @given(programs())
    @settings(max_examples=60)
    def test_generated_programs(self, lines: list[str]) -> None:
        """The reference interpreter sees every dwell a thousand times longer, and nothing else."""
        source = standard_job(lines, dwell="milliseconds", parameters=False)
        if not sound(source) or any(set("#[") & set(line) for line in lines):
            return
        done = through(source, "dwell-unit")
        was, now = run_of(source), run_of(done)
        assert was.moves == now.moves
        assert len(was.events) == len(now.events)
        for old, new in zip(was.events, now.events, strict=True):
            if old.kind == "dwell":
                assert new.data == pytest.approx(1000 * float(str(old.data)), rel=1e-12)
            else:
                assert (old.kind, old.data) == (new.kind, new.data)
        proof = prove_run(source.program, [done.program], WRITING, False, SecondDialect({}))
        assert proof.breach is None

    def test_the_proof_sees_what_was_forgotten(self) -> None:
        """A turned language alone makes every dwell another one."""
        source = job("G4 P1.5\nM30\n", "bench", assumed=SECONDS)
        contract = TRANSFORMS["dwell-unit"].contract(source, {})
        turned = source.with_program(source.program, Dialect.of(source.machine))
        proof = prove_step(
            Version(source.program, source.trace), Version(source.program, turned.trace), contract
        )
        assert [breach.what for breach in proof.breaches] == ["dwell (was 1.5, is 0.0015)"]


def outcome(source: Job, step: Any) -> Job | Finding:
    """The job behind a step, or why it was refused."""
    try:
        return through(source, step)
    except JobRefused as error:
        return error.findings[0]


NUMBERS = [[0, 0], [255, 24000]]


def counted(lines: str, numbers: Any = NUMBERS, **changes: Any) -> Job:
    fields = {"spindle/numbers": numbers, "spindle/range": [6000, 24000], **changes}
    return job(lines, "speed", changes=fields, assumed=Assumed())


class TestSpindleScale:
    """S as a number of the controller's own: common practice."""

    def test_the_nearest_number(self) -> None:
        source = counted(
            HEAD + "N1 s18000 M3 (S1)\nG0 Z5\nG1 X1 Z-1 F100 S 6 000\nM5 S0\nM30\nS7\n"
        )
        done = through(source, "spindle-scale")
        assert text(done)[1:] == [
            "N1 s191 M3 (S1)", "G0 Z5", "G1 X1 Z-1 F100 S64", "M5 S0", "M30", "S7",
        ]  # fmt: skip
        assert needs_spindle_scale(done) is None
        fine = through(source, ("spindle-scale", {"places": 2}))
        assert text(fine)[1] == "N1 s191.25 M3 (S1)"

    def test_never_outside_the_range(self) -> None:
        """32 would be nearer to 3000 than 31, and stands for 3011.8 rev/min: the range ends at
        3000."""
        source = counted("M3 S3000\nG1 X1 F100\nM30\n", **{"spindle/range": [1000, 3000]})
        assert text(through(source, "spindle-scale"))[0] == "M3 S31"
        tight = counted("M3 S3000\nG1 X1 F100\nM30\n", **{"spindle/range": [2990, 3000]})
        finding = refused(tight, "spindle-scale")
        assert finding.name == "speed-out-of-range"
        assert text(through(tight, ("spindle-scale", {"places": 1})))[0] == "M3 S31.8"

    @pytest.mark.parametrize("speed", ["S30000", "S500"])
    def test_a_speed_that_is_none_of_the_spindle(self, speed: str) -> None:
        finding = refused(counted(f"M3 {speed}\nG1 X1 F100\nM30\n"), "spindle-scale")
        assert (finding.name, finding.place.line) == ("speed-out-of-range", 1)

    def test_what_is_worked_out_is_refused(self) -> None:
        assert refused(counted("M3 S[2*9000]\nM30\n"), "spindle-scale").name == "numbers-not-plain"

    def test_s0_where_no_number_stands_for_rest(self) -> None:
        source = "M3 S6000\nG1 X1 F100\nM5 S0\nM30\n"
        done = through(counted(source, [[1, 6000], [10, 24000]]), "spindle-scale")
        assert text(done) == ["M3 S1", "G1 X1 F100", "M5", "M30"]
        lone = counted("S0\nM30\n", [[1, 6000], [10, 24000]])
        assert refused(lone, "spindle-scale").name == "speed-out-of-range"

    def test_behind_and_before_the_step_that_writes_an_s(self) -> None:
        source = counted(HEAD + "S18000 M3 G0 Z5\nG1 X1 F100 S12000\nS6000\nX2\nM5\nM30\n")
        behind = text(through(source, "spindle", "spindle-scale"))
        assert behind == text(through(source, "spindle-scale", "spindle"))
        assert behind[1:4] == ["M3 S191", "G4 P5", "G0 Z5"]

    @given(
        st.lists(st.tuples(st.integers(1, 400), st.integers(50, 9000)), min_size=1, max_size=6),
        st.lists(st.floats(0, 1), min_size=1, max_size=8),
        st.integers(0, 3),
    )
    @settings(max_examples=150)
    def test_within_the_bound(
        self, steps: list[tuple[int, int]], shares: list[float], places: int
    ) -> None:
        """Against numpy.interp: no speed is off by more than the contract says, and some are
        nearly."""
        scale = np.vstack([[0, 0], np.cumsum(steps, axis=0)]).astype(float)
        top = scale[-1, 1]
        speeds = [round(1 + share * (top - 1), 2) for share in shares]
        lines = "".join(f"S{speed:.2f}\nG1 X{at} F100\n" for at, speed in enumerate(speeds))
        source = counted(
            f"G0 X-1\nM3 S1\n{lines}M30\n", scale.tolist(), **{"spindle/range": [1, top]}
        )
        options = {"places": places}
        contract = TRANSFORMS["spindle-scale"].contract(source, options)
        done = outcome(source, ("spindle-scale", options))
        if isinstance(done, Finding):
            assert "no S of" in done.what
            return
        numbers = [float(line[1:]) for line in text(done) if line.startswith("S")]
        meant = np.interp(numbers, scale[:, 0], scale[:, 1])
        assert np.abs(meant - speeds).max() <= contract.speed_within + 1e-6
        slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(scale.tolist())]
        assert contract.speed_within <= max(slopes) * 10.0**-places * (1 + 1e-9)
        proof = prove_run(
            source.program, [done.program], contract, False, SecondDialect({}),
            SecondDialect({}, speeds=done.dialect.speeds),
        )  # fmt: skip
        assert proof.breach is None

    def test_the_proof_sees_a_number_that_is_off_by_one(self) -> None:
        source = counted("M3 S18000\nG1 X1 F100\nM30\n")
        contract = TRANSFORMS["spindle-scale"].contract(source, {})
        for number, right in (("190", False), ("191", True), ("192", False)):
            other = counted(f"M3 S{number}\nG1 X1 F100\nM30\n").program
            after = source.with_program(other, Dialect.of(source.machine))
            proof = prove_step(
                Version(source.program, source.trace), Version(other, after.trace), contract
            )
            assert (not proof.breaches) == right
            run = prove_run(
                source.program, [other], contract, False, SecondDialect({}),
                SecondDialect({}, speeds=after.dialect.speeds),
            )  # fmt: skip
            assert (run.breach is None) == right


def test_steps_write_what_the_job_counts() -> None:
    """A dwell that `spindle` adds is in the job's unit, and turned with all others."""
    source = HEAD + "S18000 M3\nG0 Z5\nG1 X1 Z-1 F100\nM5\nM30\n"
    in_seconds = through(job(source, "bench", assumed=SECONDS), "spindle")
    assert "G4 P2" in text(in_seconds)
    turned = through(in_seconds, "dwell-unit")
    assert "G4 P2000" in text(turned)
    assert text(turned) == text(through(job(source, "bench"), "spindle"))


WIRED = {
    "outputs": {"M64": "extraction", "M66": "vacuum"},
    "outputs-off": {"M64": "M65", "M66": "M67"},
    "hold-down": "M66",
}
CUT = HEAD + "S18000 M3\nM8\nG0 Z5\nG1 X1 Z-1 F100\nG0 Z5\nM9\nM5\nM30\n"


def wired(lines: str = CUT, changes: dict[str, Any] | None = None) -> Job:
    return job(lines, "speed", changes=WIRED if changes is None else changes)


class TestOutputs:
    """M7, M8 and M9: RS274/NGC 3.6.4; what is wired to which word is the workshop's own."""

    def test_the_machines_words(self) -> None:
        done = through(wired(), ("outputs", {"means": {"M8": "extraction"}}))
        assert text(done)[2:] == [
            "M64", "G0 Z5", "G1 X1 Z-1 F100", "G0 Z5", "M65", "M5", "M30",
        ]  # fmt: skip

    def test_as_the_machine_file_says(self) -> None:
        """What the machine has the job's own word for stays as it is."""
        source = job(CUT, "speed")
        assert through(source, "outputs").program is source.program

    def test_nothing_is_guessed_or_dropped_silently(self) -> None:
        finding = refused(wired(), "outputs")
        assert (finding.name, finding.place.line) == ("output-missing", 3)
        finding = refused(wired(), ("outputs", {"means": {"M8": "air blast"}}))
        assert "extraction, vacuum" in finding.remedy
        done = through(wired(), ("outputs", {"drop": ["M8"]}))
        assert text(done)[2:] == ["G0 Z5", "G1 X1 Z-1 F100", "G0 Z5", "M5", "M30"]
        off = {"outputs": {"M64": "extraction"}, "outputs-off": None, "hold-down": None}
        finding = refused(wired(changes=off), ("outputs", {"means": {"M8": "extraction"}}))
        assert finding.name == "not-described"
        assert "outputs-off" in finding.remedy

    def test_what_the_end_leaves_on_goes_off_before_it(self) -> None:
        """RS274/NGC 3.6.1: the end takes M7 and M8 back, and knows nothing of other words."""
        source = CUT.replace("M9\n", "")
        done = through(wired(source), ("outputs", {"means": {"M8": "extraction"}}))
        assert text(done)[-2:] == ["M65", "M30"]
        held = through(wired(source), ("outputs", {"means": {"M8": "vacuum"}}))
        assert "M67" not in text(held)

    def test_one_word_for_several(self) -> None:
        source = CUT.replace("M8\n", "M7\nM8\n").replace("M9\n", "N40 M9 G0 X0 (ALL)\n")
        means = {"M7": "extraction", "M8": "vacuum"}
        done = through(wired(source), ("outputs", {"means": means}))
        assert text(done)[-5:] == ["G0 Z5", "M67", "N40 M65 G0 X0 (ALL)", "M5", "M30"]

    def test_m9_before_anything_is_on_lets_no_sheet_go(self) -> None:
        source = CUT.replace("S18000", "M9\nS18000")
        means = {"M7": "vacuum", "M8": "extraction"}
        done = through(wired(source), ("outputs", {"means": means}))
        assert text(done)[1] == "M65"

    def test_subprograms(self) -> None:
        """Common practice: M98 calls what stands behind the end."""
        source = HEAD + "S900 M3\nM98 P100\nM5\nM30\nO100\nM8\nG1 X1 F100\nM9\nM99\n"
        step = ("outputs", {"means": {"M8": "extraction"}})
        finding = refused(wired(source), step)
        assert (finding.name, finding.place.line) == ("numbers-not-plain", 7)
        done = through(wired(source), "expand-calls", step)
        assert text(done)[2:] == ["M64", "G1 X1 F100", "M65", "M5", "M30"]

    def test_before_the_spindle_and_behind_it(self) -> None:
        options = {"means": {"M8": "extraction"}, "before-spindle": ["extraction", "vacuum"],
                   "wait": 2, "after-spindle": 4}  # fmt: skip
        done = through(wired(), "spindle", ("outputs", options))
        assert text(done)[1:] == [
            "M64", "M66", "G4 P2", "S18000 M3", "G4 P5", "M64", "G0 Z5", "G1 X1 Z-1 F100", "G0 Z5",
            "M5", "G4 P10", "M65", "M67", "M30",
        ]  # fmt: skip
        done = through(wired(), "spindle", ("outputs", {**options, "after-spindle": 14}))
        assert text(done)[-6:] == ["M5", "G4 P10", "G4 P4", "M65", "M67", "M30"]

    def test_what_holds_the_sheet_waits_until_the_spindle_stands(self) -> None:
        options = {"drop": ["M8"], "before-spindle": ["vacuum"], "after-spindle": 1}
        done = through(wired(), ("outputs", options))
        assert text(done)[-4:] == ["M5", "G4 P10", "M67", "M30"]
        turning = wired(CUT.replace("M5\n", ""))
        assert refused(turning, ("outputs", options)).name == "spindle-turning"

    def test_before_a_router_that_a_hand_switches(self) -> None:
        fields = {"outputs": {"M8": "extraction"}}
        source = job(CUT.replace("M8\n", "").replace("M9\n", ""), changes=fields)
        options = {"before-spindle": ["extraction"], "after-spindle": 3}
        done = text(through(source, "spindle", ("outputs", options)))
        asked = next(at for at, line in enumerate(done) if "LIES BETWEEN" in line)
        assert done[asked - 1] == "M8"
        assert done[-4:] == ["M0", "G4 P3000", "M9", "M30"]

    @given(st.lists(st.sampled_from(["M7", "M8", "M9", "G1 X1", "G1 X2"]), max_size=12))
    @settings(max_examples=80)
    def test_the_same_things_run_at_every_cut(self, lines: list[str]) -> None:
        """Each cut is looked at by the names of what runs there, read word by word."""
        means = {"M7": "vacuum", "M8": "extraction"}
        source = HEAD + "F100\nS900 M3\n" + "".join(line + "\n" for line in lines) + "M5\nM30\n"
        done = text(through(wired(source), ("outputs", {"means": means})))
        on = {"M64": "extraction", "M66": "vacuum"}
        off = {"M65": {"extraction"}, "M67": {"vacuum"}}
        assert running(done, on, off) == running(source.splitlines(), means, {"M9": {*on.values()}})
        assert not {"M7", "M8", "M9"} & set(done)


def running(lines: list[str], on: dict[str, str], off: dict[str, set[str]]) -> list[set[str]]:
    """What runs at each cut of lines that have one M word each at the most."""
    now: set[str] = set()
    found = []
    for line in lines:
        if line in on:
            now = now | {on[line]}
        now = now - off.get(line, set())
        if line.startswith("G1"):
            found.append(now)
    return found


def test_an_output_of_its_own_goes_off_by_its_own_word() -> None:
    source = wired(HEAD + "F100\nM64\nG1 X1\nM65\nG1 X2\nM30\n")
    assert [block.setting.outputs for block in source.trace.blocks] == [
        ((64, True),), ((64, False),),
    ]  # fmt: skip
    other = wired(HEAD + "F100\nM64\nG1 X1\nG1 X2\nM65\nM30\n")
    proof = prove_run(
        source.program, [other.program], Contract(), False,
        SecondDialect(source.dialect.outputs, off=source.dialect.switched_off),
    )  # fmt: skip
    assert proof.breach is not None


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_awkward_files(path: Path) -> None:
    """Every file comes out in the machine's own language, each line in its place; and what is
    done once is not done again."""
    source = job(
        path.read_bytes(), "speed", changes={**WIRED, "spindle/numbers": [[0, 0], [255, 24000]],
        "spindle/range": [1, 24000]}, assume="mm", assumed=Assumed(dwell="milliseconds"),
    )  # fmt: skip
    options = {"means": {"M7": "vacuum", "M8": "extraction"}}
    for step in ("dwell-unit", ("spindle-scale", {"places": 2}), ("outputs", options)):
        done = outcome(source, step)
        if isinstance(done, Finding):
            assert done.name in ("numbers-not-plain", "speed-out-of-range")
            return
        own = done.program.own(np.arange(len(done.program)))
        assert [line.id for line in done.program if own[line.index]] == [
            line.id for line in source.program
        ]
        source = done
    assert source.dialect == Dialect.of(source.machine, "mm")
    for step in ("dwell-unit", ("spindle-scale", {"places": 2}), ("outputs", options)):
        assert through(source, step).program is source.program
