"""Tool changes by hand, on a gantry that is nothing but arithmetic and on the described machine."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plugins.plate import Plate
from plugins.shop import (
    MACHINES,
    RECIPES,
    SETUPS,
    document,
    job,
    refused,
    serious,
    text,
    through,
)

from headrace import EventKind, Facet, Job, JobRefused, Severity, delete, replace
from headrace.intake import with_first_tool
from headrace.machine.asking import question
from headrace.plugins.contract import Contract
from headrace.program import Cause
from headrace.proof import Version, prove_run, prove_step
from headrace.proof.second.follower import Dialect as SecondDialect
from headrace.rehearsal import rehearse
from headrace.rehearsal.alone import with_bits_asked_for
from headrace.way import second_dialect
from headrace_transforms.tool_change import needs_tool_change

FEEDER = (RECIPES / "jobs" / "feeder-board.nc").read_text().replace("G90 G54", "G90")
WAY = {
    "bench": ["safe-start", "home", "rereference-z", "corner-zero", "touch-off"],
    "relay": ["safe-start", "home", "corner-zero", "touch-off"],
    "speed": ["safe-start", "home", "corner-zero", "touch-off"],
}
TOOLS = [
    {"number": 1, "kind": "END MILL 12", "stick-out": {"least": 30, "most": 34}, "diameter": 12,
     "flute": 22},
    {"number": 2, "kind": "UPCUT 6", "stick-out": {"least": 26, "most": 31}, "diameter": 6,
     "flute": 20},
]  # fmt: skip
READS_ALL: dict[str, Any] = {"arcs": None, "cycles": None, "decimals": None}
"""What the language has, so that only the bits are changed here."""

BAR = {"name": "bar", "from": [-60, 300], "to": [600, 310], "top": 20}
"""A clamp behind the sheet: the way to each machine's parking place goes over it."""
SETUP: dict[str, Any] = {
    "tools": TOOLS,
    "tool": None,
    "sheet/thickness": {"least": 11.8, "most": 12.2},
    "sheet/size": [360, 300],
    "safe-height": 25,
    "clamps": [BAR],
}


def two_bits(name: str, source: str = FEEDER, **changes: Any) -> Job:
    """A job with both bits described, as it comes from `prepare`."""
    changed = {**SETUP, **changes.pop("setup_changes", {})}
    machine = {**READS_ALL, **changes.pop("changes", {})}
    return with_first_tool(job(source, name, setup_changes=changed, changes=machine, **changes))


def changed_by_hand(name: str, source: str = FEEDER, **changes: Any) -> Job:
    steps: list[Any] = [*WAY[name], ("spindle", {}), "tool-change", "park"]
    return through(two_bits(name, source, **changes), *steps)


def grave(job: Job) -> list[str]:
    """What the rehearsal does not let pass."""
    return [f.name for f in rehearse([], job) if f.severity is not Severity.NOTE]


@dataclass
class Bench(Plate):
    """A gantry whose operator fits what is asked for, and that must be high to go sideways."""

    bits: dict[int, float] = field(default_factory=dict)
    safe: float = 25.0
    fitted: list[int] = field(default_factory=list)

    def written(self, lines: list[tuple[str, bool]]) -> None:
        """Run lines, each with whether it is the job's own."""
        for line, own in lines:
            fit = re.search(r"\((?:FIT )?TOOL (\d+)(?: (?!IS IN)[^)]*)?\)", line)
            if fit and not own:
                self.fitted.append(int(fit[1]))
                self.stick_out = self.bits[int(fit[1])]
            self.do(line)
            plain = re.sub(r"\([^)]*\)", "", line)
            codes = re.findall(r"G([\d.]+)", plain)
            if not own and re.search("[XY]", plain) and not {"28", "10", "92"} & set(codes):
                assert self.height >= self.surface + self.safe, line
            number = re.search(r"Z([-\d.]+)", plain)
            if own and number:
                # the job's numbers count from the top of the sheet, whichever bit is in
                assert self.height - self.surface == pytest.approx(float(number[1]), abs=2e-3)


def lines_of(done: Job) -> list[tuple[str, bool]]:
    return [(line.text, line.origin is not None) for line in done.program]


def between(span: dict[str, float]) -> list[float]:
    return [span["least"], (span["least"] + span["most"]) / 2, span["most"]]


@pytest.mark.parametrize("name", MACHINES)
def test_each_bit_cuts_at_the_height_of_the_job(name: str) -> None:
    done = changed_by_hand(name)
    assert not serious(done)
    assert grave(done) == []
    described = document("machines", MACHINES[name], {})
    plate = document("setups", SETUPS[name], {})["plate"]["thickness"]
    spans = [between(tool["stick-out"]) for tool in TOOLS]
    for first, second, thickness in product(*spans, (11.8, 12.2)):
        gantry = Bench(described, first, thickness, plate, bits={1: first, 2: second})
        gantry.written(lines_of(done))
        assert gantry.fitted == [1, 2]
        assert len(gantry.touches) == 4
        assert not gantry.clip


@settings(max_examples=20, deadline=None)
@given(
    name=st.sampled_from(sorted(WAY)),
    bits=st.tuples(st.floats(26.5, 40), st.floats(26.5, 40)),
    wider=st.floats(0, 6),
    thickness=st.floats(12, 20),
    spread=st.floats(0, 1.5),
    plate=st.floats(5, 25),
    retract=st.floats(20, 45),
    where=st.tuples(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1)),
)
def test_what_is_written_is_right_for_any_bits_and_sheets(
    name: str, bits: tuple[float, float], wider: float, thickness: float, spread: float,
    plate: float, retract: float, where: tuple[float, float, float],
) -> None:  # fmt: skip
    tools = [
        {**tool, "stick-out": {"least": least, "most": least + wider}, "flute": 20}
        for tool, least in zip(TOOLS, bits, strict=True)
    ]
    on_it = {
        "tools": tools,
        "sheet/thickness": {"least": thickness, "most": thickness + spread},
        "plate/thickness": plate,
    }
    steps: list[Any] = [*WAY[name][:-1], ("touch-off", {"retract": retract}), ("spindle", {}),
                        ("tool-change", {"retract": retract}), "park"]  # fmt: skip
    try:
        done = through(two_bits(name, setup_changes=on_it), *steps)
    except JobRefused as error:
        expected = ("out-of-travel", "touch-out-of-travel", "probe-too-low", "retract-too-low",
                    "probe-overrun", "park-too-low")  # fmt: skip
        if error.findings[0].name not in expected:
            raise
        return
    fitted = {number: bits[number - 1] + where[number - 1] * wider for number in (1, 2)}
    gantry = Bench(
        document("machines", MACHINES[name], {}), fitted[1], thickness + where[2] * spread, plate,
        bits=fitted, safe=min(25.0, plate + retract) - 1e-3,
    )  # fmt: skip
    gantry.written(lines_of(done))
    assert len(gantry.touches) == 4


@pytest.mark.parametrize("name", MACHINES)
def test_tool_and_path_are_the_same_in_both_readings(name: str) -> None:
    """No step here may change the tool: not of one cutting move, nor in the order of changes."""
    source = two_bits(name)
    done = changed_by_hand(name)
    facets = frozenset(Facet) - {Facet.TOOL, Facet.FEED, Facet.PAUSE_TEXTS}
    contract = Contract(facets, adds_motion=True)
    step = prove_step(
        Version(source.program, source.trace), Version(done.program, done.trace), contract
    )
    assert step.breaches == ()
    assert source.dialect == done.dialect
    second = second_dialect(source.dialect)
    whole = prove_run(
        source.program, [done.program], contract, False, second, tool=source.start.tool
    )
    assert whole.breach is None
    assert whole.moves > 100


def _drop(pattern: str) -> Callable[[str], str]:
    return lambda lines: _once(pattern, "", lines)


def _once(pattern: str, new: str, lines: str) -> str:
    made, count = re.subn(pattern, new, lines, count=1, flags=re.M)
    assert count == 1, pattern
    return made


SPINDLE_OFF = {
    "bench": r"\(SPINDLE OFF, WAIT\)\nM0\n(?=(?:.*\n){0,6}\(FIT TOOL 2)",
    "relay": r"^.*M5\nG4 P12\n(?=(?:.*\n){0,5}M0 \(FIT TOOL 2)",
    "speed": r"^.*M5\nG4 P10\n(?=(?:.*\n){0,5}\(FIT TOOL 2)",
}
LIFT = {"bench": r"^G0 Z.*\n(?=G0 X-15)", "relay": r"^G53 G0 Z-2\n(?=G53 G0 X-410)",
        "speed": r"^G53 G0 Z-3\n(?=G53 G0 X650)"}  # fmt: skip


def _without_last(pattern: str, lines: str) -> str:
    """The lines without what the pattern finds last."""
    found = list(re.finditer(pattern, lines, re.M))
    assert found, pattern
    return lines[: found[-1].start()] + lines[found[-1].end() :]


def _untouched(lines: str) -> str:
    """No touch, and no word that sets Z, behind the last pause for a bit."""
    head, fit, tail = lines.rpartition("FIT TOOL")
    kept = [
        line
        for line in tail.split("\n")
        if not line.startswith(("G38.2", "#100")) and not re.match(r"G92 Z|G10 L2 P1 Z|G28 Z", line)
    ]
    return head + fit + "\n".join(kept)


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize(
    ("wrong", "found"),
    [
        ("turning", {"hand-before-standstill", "standstill-unsure"}),
        ("untouched", {"tool-without-zero", "cut-without-zero", "touch-unused"}),
        ("clip left on", {"spindle-with-clip", "clip-left-on"}),
        ("low", {"clamp-struck"}),
        ("another bit", {"tool-not-in-table"}),
    ],
)
def test_a_wrong_change_is_found(name: str, wrong: str, found: set[str]) -> None:
    """The finished file, spoilt and read alone: nothing but its bytes tells of the change."""
    right = "\n".join(text(changed_by_hand(name))).replace("\r", "") + "\n"
    clip = r"^(?:\(CLIP OFF, PLATE AWAY\)\nM0|M0 \(CLIP OFF, PLATE AWAY\))\n"
    spoilt = {
        "turning": lambda: _once(SPINDLE_OFF[name], "", right),
        "untouched": lambda: _untouched(right),
        "clip left on": lambda: _without_last(clip, right),
        "low": lambda: _once(LIFT[name], "", right),
        "another bit": lambda: right.replace("FIT TOOL 2 UPCUT 6", "FIT TOOL 3"),
    }[wrong]()
    assert spoilt != right
    assert not found & set(grave(alone(name, right)))
    assert found & set(grave(alone(name, spoilt)))


def alone(name: str, lines: str) -> Job:
    """A finished file as `check --machine` reads it, with the first bit in the collet."""
    on_it = {**SETUP, "tool": {"number": 1}}
    read = job(lines, name, changes=READS_ALL, setup_changes=on_it, stand_alone=True)
    return with_first_tool(with_bits_asked_for(read))


@pytest.mark.parametrize("name", MACHINES)
def test_a_finished_file_read_alone_knows_its_bits(name: str) -> None:
    lines = "\n".join(text(changed_by_hand(name))) + "\n"
    read = alone(name, lines)
    assert [event.value for event in read.trace.events_of(EventKind.TOOL)] == [1, 2]
    assert {block.setting.tool for block in read.trace.blocks} == {1, 2}
    assert not [f for f in rehearse([], read) if f.severity is Severity.REFUSE]


class TestWhatIsWritten:
    """Small jobs; the lines as an operator reads them."""

    HEAD = "G21 G90\nT1 M6\nM3 S16000\nG0 Z10\nG0 X80 Y80\nG1 Z-3 F300\nX120 F900\nG0 Z10\nM5\n"
    TAIL = "M3 S18000\nG0 X100 Y100\nG1 Z-2 F300\nG0 Z10\nM5\nM30\n"

    def around(self, call: str, name: str = "speed", tail: str | None = None) -> list[str]:
        """The lines from the pause for the bit on."""
        source = self.HEAD + call + (self.TAIL if tail is None else tail)
        lines = text(changed_by_hand(name, source))
        return lines[[at for at, line in enumerate(lines) if "FIT TOOL" in line][-1] :]

    def test_the_way_back_leads_to_where_the_job_was(self) -> None:
        lines = self.around("T2 M6\n")
        at = lines.index("(TOOL 2 IS IN)")
        assert lines[at - 4 : at] == ["G53 G0 Z-3", "G0 X120 Y80", "G0 Z10", "F900"]

    def test_a_line_keeps_its_number_and_what_else_it_says(self) -> None:
        assert "N40 (TOOL 2 IS IN)" in self.around("N40 T2 M6\n")
        assert "N40 (UPCUT)" in self.around("N40 T2 M6 (UPCUT)\n")
        assert "M8" in self.around("T2 M6 M8\n")

    def test_a_stop_behind_the_call_shows_no_other_text(self) -> None:
        lines = self.around("T2 M6\nM0\n")
        at = len(lines) - 1 - lines[::-1].index("M0")
        assert lines[at - 1] == "G90"

    def test_so_does_a_stop_by_another_word_of_the_machine(self) -> None:
        source = self.HEAD + "T2 M6\nM25\n" + self.TAIL
        lines = text(changed_by_hand("speed", source, changes={"pause/word": "M25"}))
        at = lines.index("M3 S18000")
        assert lines[at - 2 : at] == ["G90", "M25"]

    def test_increments_and_a_motion_that_was_stated_go_on(self) -> None:
        lines = self.around("G91\nT2 M6\n", tail="M3 S18000\nG1 Z-11 F200\nX5\nZ11\nM5\nG90\nM30\n")
        at = lines.index("(TOOL 2 IS IN)")
        assert lines[at - 1] == "G91"
        moved = self.around("G1 Z9 F400\nT2 M6\n", tail="M3 S18000\nX125\nG0 Z10\nM5\nM30\n")
        assert "G1 X125" in moved
        assert moved[moved.index("(TOOL 2 IS IN)") - 1] == "F400"

    def test_a_call_for_the_bit_that_is_in_is_no_change(self) -> None:
        source = self.HEAD + "T1 M6\n" + self.TAIL
        lines = text(changed_by_hand("speed", source))
        assert lines.count("(TOOL 1 IS IN)") == 2
        assert not any("FIT" in line for line in lines)
        steps: list[Any] = [*WAY["speed"], "spindle", ("tool-change", {"same-tool": "change"})]
        again = text(through(two_bits("speed", source), *steps))
        assert sum("FIT TOOL 1 END MILL 12" in line for line in again) == 2

    def test_a_call_that_stops_the_spindle_still_does(self) -> None:
        source = self.HEAD.replace("M5\n", "") + "T1 M6\n" + self.TAIL
        lines = text(through(two_bits("speed", source), *WAY["speed"], "tool-change"))
        assert lines[lines.index("M3 S18000") - 1] == "M5"

    def test_a_first_bit_that_is_not_known_is_asked_for(self) -> None:
        source = job(FEEDER, "relay", setup_changes=SETUP | {"tool": {"stick-out": 30.0}})
        lines = text(through(with_first_tool(source), *WAY["relay"], "tool-change"))
        asked = [line for line in lines if "FIT TOOL" in line]
        assert asked == ["M0 (FIT TOOL 1 END MILL 12)", "M0 (FIT TOOL 2 UPCUT 6)"]

    def test_the_first_bit_is_asked_for_before_anything_moves(self) -> None:
        """Run a second time, the file finds the second bit in the collet."""
        lines = text(changed_by_hand("speed", self.HEAD + "T2 M6\n" + self.TAIL))
        assert lines[:5] == ["%", "M5", "G4 P10", "(FIT TOOL 1 END MILL 12)", "M0"]
        assert sum("FIT TOOL" in line for line in lines) == 2

    def test_a_bit_that_was_touched_off_in_another_file_stays_in(self) -> None:
        source = two_bits("speed", self.HEAD + "T2 M6\n" + self.TAIL)
        lines = text(through(source, "safe-start", "home", "corner-zero", "tool-change"))
        assert [line for line in lines if "FIT TOOL" in line] == ["(FIT TOOL 2 UPCUT 6)"]

    def test_the_shorter_text_is_for_the_smaller_display(self) -> None:
        for kind, shown in (("BALL NOSE 6", "TOOL 2 BALL NOSE 6"), ("COMPRESSION 6 X 22", None)):
            tools = [TOOLS[0], {**TOOLS[1], "kind": kind}]
            lines = text(changed_by_hand("bench", setup_changes={"tools": tools}))
            assert f"({shown or 'FIT TOOL 2'})" in lines

    def test_a_job_without_changes_passes_byte_for_byte(self) -> None:
        source = two_bits("relay", self.HEAD.replace("T1 M6\n", "") + "M30\n")
        assert through(source, "tool-change").program is source.program
        changer = two_bits("relay", changes={"tool-change": "changer"})
        assert through(changer, "tool-change").program is changer.program
        assert [needs_tool_change(each) for each in (source, changer)] == [None, None]
        assert needs_tool_change(two_bits("relay")) == {}
        assert needs_tool_change(changed_by_hand("relay")) is None

    def test_an_inch_job_is_touched_in_inches(self) -> None:
        source = self.HEAD.replace("G21", "G20").replace("X80 Y80", "X3 Y3").replace("X120", "X4")
        source = source.replace("Z10", "Z1").replace("Z-3", "Z-.1").replace("F300", "F12")
        tail = "M3 S18000\nG0 X3.5 Y3\nG1 Z-.1 F12\nG0 Z1\nM5\nM30\n"
        lines = text(changed_by_hand("relay", source.replace("F900", "F35") + "T2 M6\n" + tail))
        behind = lines[next(at for at, line in enumerate(lines) if "FIT TOOL 2" in line) :]
        # 15 mm of plate: 15 / 25.4
        assert behind.count("G92 Z0.59055") == 2
        assert "F35" in behind


class TestRefusals:
    HEAD, TAIL = TestWhatIsWritten.HEAD, TestWhatIsWritten.TAIL

    def finding(self, call: str, name: str = "relay", **changes: Any) -> Any:
        source = two_bits(name, self.HEAD + call + self.TAIL, **changes)
        return refused(source, *WAY[name], "tool-change")

    def test_calls_that_cannot_be_told(self) -> None:
        first = {"tool": {"number": 1}}
        bare = (self.HEAD + "M6\n" + self.TAIL).replace("T1 M6\n", "")
        bare = two_bits("relay", bare, setup_changes=first)
        assert refused(bare, *WAY["relay"], "tool-change").name == "tool-unnamed"
        assert self.finding("/T2 M6\n").name == "tool-optional"
        assert self.finding("T3 M6\n").name == "tool-not-in-table"

    @pytest.mark.parametrize(
        ("call", "what"),
        [
            ("G0 Z-1\nT2 M6\n", "1 mm in the sheet"),
            ("G81 X90 Y90 Z-2 R5\nT2 M6\n", "drilling cycle"),
            ("G1 Z9\nT2 M6 X130\n", "a motion that was stated before it"),
        ],
    )
    def test_places_where_no_hand_can_change_it(self, call: str, what: str) -> None:
        finding = self.finding(call)
        assert finding.name == "change-out-of-place"
        assert what in finding.what

    def test_zeros_that_homing_would_take(self) -> None:
        finding = self.finding("T2 M6\n", changes={"machine-moves": False})
        assert finding.name == "change-loses-zero"
        assert "split-tools" in finding.remedy

    def test_machines_and_set_ups_that_cannot_touch(self) -> None:
        source = two_bits("relay", self.HEAD + "T2 M6\n" + self.TAIL)
        assert refused(source, "tool-change").name == "not-homed"
        bed = self.bed("bed")
        assert refused(bed, "home", "corner-zero", "tool-change").name == "touch-on-top"
        short = [TOOLS[0], {"number": 2}]
        finding = self.finding("T2 M6\n", setup_changes={"tools": short})
        assert finding.name == "not-described"
        assert "`tools[number 2].stick-out` in the set-up file" in finding.remedy

    def bed(self, zero: str) -> Job:
        source = (self.HEAD + "T2 M6\n" + self.TAIL).replace("Z10", "Z30").replace("Z-", "Z")
        return two_bits("relay", source, setup_changes={"sheet/zero": zero})


class TestCallsInTheProof:
    """What may become of T and M6, where the bit that is in at the beginning is known."""

    TWICE = "G21 G90\nT1 M6\nM3 S16000\nG0 Z5\nG1 Z-1 F300\nT1 M6\nM3\nG1 X9\nT2 M6\nM3\nG1 X1\n"

    def breaches(self, edits: list[Any], *facets: Facet) -> list[str]:
        source = two_bits("speed", self.TWICE)
        program = source.program.edited(edits, Cause("trial", 1))
        done = source.with_program(program)
        proof = prove_step(
            Version(source.program, source.trace),
            Version(program, done.trace),
            Contract(frozenset({*facets, Facet.SPINDLE, Facet.SPELLING, Facet.COMMENTS})),
        )
        return [breach.what for breach in proof.breaches]

    def test_a_call_for_the_bit_that_is_in_is_a_stop(self) -> None:
        at = 5
        assert self.breaches([delete(at)], Facet.STOPS) == []
        assert self.breaches([delete(1)], Facet.STOPS) == []
        assert self.breaches([delete(at)]) == ["stops (lost: tool-change)"]
        added = [replace(at, "T1 M6", "T1 M6")]
        assert "stops (added: tool-change)" in self.breaches(added)
        assert self.breaches(added, Facet.STOPS) == ["tool (was 2, is 1)"]

    def test_a_change_is_none(self) -> None:
        gone = self.breaches([delete(8)], Facet.STOPS)
        assert "the tool of a cutting move" in gone
        assert "tool (lost: tool-change)" in gone

    def test_an_answer_counts_only_at_a_pause(self) -> None:
        asked = [replace(8, "M0", asks="tool-2")]
        assert self.breaches(asked, Facet.STOPS) == []
        assert self.breaches([replace(8, "M0", asks="tool-1")], Facet.STOPS)
        unasked = self.breaches([replace(8, "G90", asks="tool-2")], Facet.STOPS)
        assert "an answer: `tool-2` is added without a pause" in unasked

    def test_the_second_reading_takes_the_same_answers(self) -> None:
        source = two_bits("speed", self.TWICE)
        contract = Contract(frozenset({Facet.STOPS, Facet.SPINDLE, Facet.SPELLING}))
        for asks, breach in (("tool-2", False), ("tool-1", True), (None, True)):
            edits = [delete(1), replace(8, "M0", asks=asks)]
            program = source.program.edited(edits, Cause("trial", 1))
            run = prove_run(source.program, [program], contract, False, SecondDialect({}), tool=1)
            assert (run.breach is not None) == breach, asks


def test_texts_that_ask_for_a_bit_are_known_again() -> None:
    source = two_bits("bench")
    tools, machine = source.setup.tools, source.machine
    assert question(machine, "FIT TOOL 2 UPCUT 6", tools) == "tool-2"
    assert question(machine, "FIT TOOL 7", tools) == "tool-7"
    assert question(machine, "TOOL 2 UPCUT 6", tools) == "tool-2"
    for other in ("TOOL 2", "FIT TOOL 2 UPCUT 8", "TOOL 2, UPCUT 6", "TOOL 1 IS IN", "FIT TOOL"):
        assert question(machine, other, tools) is None
