"""The bits of a set-up: what contradicts itself in their table, and each held against its cuts."""

from __future__ import annotations

from dataclasses import replace
from math import radians, sin
from pathlib import Path
from typing import Any

import pytest
import yaml
from plugins.shop import RECIPES, SETUPS, document, job, setup

from headrace import Dialect, Job, Program, Setup, State
from headrace.findings import Finding
from headrace.intake import job_of, with_first_tool
from headrace.language import Trace, interpret
from headrace.plugins.registry import load_registry
from headrace.recipe import check_recipe, load_plan
from headrace.rehearsal import rehearse

FIRST = {"number": 1, "stick-out": 42, "diameter": 12, "flute": 30}
SECOND = {"number": 2, "stick-out": 30, "diameter": 6, "flute": 10}
TABLE: dict[str, Any] = {"tool": None, "tools": [FIRST, SECOND], "clamps": []}
TWO = """G21 G90 G94 G17
T1 M6
M3 S16000
G0 Z30
G0 X100 Y100
G0 Z2
G1 Z-4 F300
G1 X200 F900
G0 Z30
M5
G4 P10
T2 M6
M0
G92 Z30
M3 S16000
G4 P5
G0 Y200
G0 Z2
G1 Z-4 F300
G1 X100 F900
G0 Z30
M5
M30
"""


def cut(text: str, table: dict[str, Any] | None = None, name: str = "speed") -> Job:
    return with_first_tool(job(text, name, setup_changes=table or TABLE))


def found(read: Job, name: str) -> list[Finding]:
    return [finding for finding in rehearse([], read) if finding.name == name]


def both(first: dict[str, Any], second: dict[str, Any]) -> dict[str, Any]:
    return {**TABLE, "tools": [{**FIRST, **first}, {**SECOND, **second}]}


def test_depth_is_held_against_the_bit_that_cuts() -> None:
    deep = TWO.replace("Z-4", "Z-12")
    (short,) = found(cut(deep), "flute-short")
    assert short.what == "12 mm deep, and the bit cuts only 10 mm up"
    assert short.place is not None
    assert short.place.line == 19
    assert not found(cut(deep, both({}, {"flute": 12})), "flute-short")
    # the collet of a bit that stands out 15 is 3 above the bottom of a sheet of 18: 18 - 15
    (nut,) = found(cut(TWO.replace("Z-4", "Z-18"), both({}, {"stick-out": 15})), "nut-in-sheet")
    assert nut.what == "at Z-18 the collet nut is 3 mm below the top of the sheet"


@pytest.mark.parametrize(
    ("before", "bit", "times"),
    [("", 1, 1), ("T2\n", 1, 2), ("(T2)\n", 1, 1)],
    ids=["first-named", "only-chosen", "in-a-comment"],
)
def test_the_bit_that_a_job_begins_with_is_found(
    before: str, bit: int, times: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A job is read again only where its first word for a bit is not that of the bit it calls."""
    read: list[State] = []

    def counted(program: Program, dialect: Dialect, start: State, **more: Any) -> Trace:
        read.append(start)
        return interpret(program, dialect, start, **more)

    monkeypatch.setattr("headrace.job.interpret", counted)
    plan = load_plan(RECIPES / "speed-feeder-changes.yaml", load_registry())
    begun = job_of("two.nc", (before + TWO).encode(), plan)
    settings = [block.setting.tool for block in begun.trace.blocks if len(block)]

    assert begun.start.tool == begun.setup.tool.number == bit
    assert (settings[0], settings[-1]) == (bit, 2)
    assert len(read) == times


def test_speed_is_held_against_the_bit_that_turns() -> None:
    (over,) = found(cut(TWO, both({"fastest": 18000}, {"fastest": 15000})), "speed-over-bit")
    assert "marked for 15000" in over.what
    assert over.place is not None
    assert over.place.line > 12
    assert not found(cut(TWO, both({"fastest": 16000}, {"fastest": 16000})), "speed-over-bit")


def test_chips_are_those_of_each_bit() -> None:
    """CV-06: 18000 rev/min, two teeth, 0.1 mm a tooth: 3600 mm/min."""
    fast = TWO.replace("F900", "F3600").replace("S16000", "S18000")
    right = {"teeth": 2, "chip": [0.09, 0.11]}
    assert not found(cut(fast, both(right, right)), "chips-too-thin")
    (thin,) = found(cut(fast, both(right, {"teeth": 3, "chip": [0.09, 0.11]})), "chips-too-thin")
    # 3600 / 18000 / 3
    assert "takes 0.067 mm a tooth" in thin.what
    assert not found(cut(fast, both(right, {})), "chips-too-thin")


@pytest.mark.parametrize(
    ("way", "down"),
    [
        # CV-19: straight down at F600. CV-20: F2000 on a ramp of 3 degrees sinks at 104.67, and
        # 3 deep takes 57.24 along X. A helix of radius 3 that falls 1 in a turn is 18.876 long
        # (hypot(6 pi, 1)); at F1000 it sinks at 52.98: CV-34
        ("G1 Z-3 F600\n", 600.0),
        ("G1 Z0 F50\nG1 X157.24 Z-3 F2000\n", 2000 * sin(radians(3))),
        ("G1 Z0 F50\nG3 X100 Y200 I-3 J0 Z-1 F1000\n", 52.98),
    ],
)
def test_what_drives_a_bit_down_is_held_against_it(way: str, down: float) -> None:
    at_second = "G0 Y200\nG0 X100\nG0 Z2\n"
    text = TWO.replace("G0 Y200\nG0 Z2\nG1 Z-4 F300\nG1 X100 F900\n", at_second + way)
    assert text != TWO
    for most, told in ((down * 0.99, True), (down * 1.001, False)):
        over = found(cut(text, both({"plunge": 300}, {"plunge": most})), "plunge-over-bit")
        assert bool(over) == told
        if told:
            assert f"down into the sheet at {down:.0f} mm/min" in over[0].what
            assert not found(cut(text, both({"plunge": 300}, {})), "plunge-over-bit")


def test_a_bit_that_the_table_lacks() -> None:
    lacking = cut(TWO.replace("T2", "T5"))
    (unknown,) = found(lacking, "tool-not-in-table")
    assert unknown.what == "the job calls for tool 5, and the set-up does not describe it"
    none = cut(TWO, {"tool": {"stick-out": 30}, "clamps": []})
    assert not found(none, "tool-not-in-table")
    assert any("setup.tools is not given" in f.what for f in found(none, "cannot-tell"))
    single = cut(TWO[: TWO.index("T2")] + "M30\n", {"tool": {"stick-out": 30}, "clamps": []})
    assert not any("setup.tools" in f.what for f in found(single, "cannot-tell"))


def test_a_bit_called_again_is_not_another() -> None:
    again = TWO.replace("T2 M6\nM0\nG92 Z30\n", "T1 M6\n")
    assert not found(cut(again), "tool-without-zero")
    other = TWO.replace("M0\nG92 Z30\n", "")
    assert found(cut(other), "tool-without-zero")


class TestWhichBitIsIn:
    """`tool`, or the first that a job calls before it cuts."""

    def of(self, **data: Any) -> Setup:
        return Setup.of({**document("setups", SETUPS["speed"], {"tool": None}), **data})

    def test_the_first_that_is_called(self) -> None:
        table = self.of(tools=[FIRST, SECOND])
        assert table.begun_by(2).tool == table.tools[1]
        assert table.begun_by(9).tool.number is None
        single = self.of(tool={"diameter": 8})
        assert single.begun_by(4).tool == replace(single.tool, number=4)

    def test_the_one_that_the_set_up_names(self) -> None:
        named = self.of(tools=[FIRST, SECOND], tool={"number": 2})
        assert named.tool == named.tools[1]
        assert named.begun_by(1).tool.number == 2
        unnamed = self.of(tools=[FIRST, SECOND], tool={"diameter": 8})
        assert unnamed.begun_by(1) is unnamed

    def test_not_one_that_is_called_behind_a_cut(self) -> None:
        late = cut(TWO.replace("T1 M6\n", ""))
        assert late.start.tool is None
        assert cut(TWO).start.tool == 1
        assert cut(TWO).setup.tool.diameter == 12

    def test_where_a_bit_is_described(self) -> None:
        table = self.of(tools=[FIRST, SECOND])
        assert table.field(table.tools[1], "flute") == "setup.tools[number 2].flute"
        assert table.field(table.tool, "flute") == "setup.tool.number"
        assert setup("bench").field(setup("bench").tool, "flute") == "setup.tool.flute"


@pytest.mark.parametrize(
    ("tools", "tool", "told"),
    [
        ([FIRST, {**SECOND, "number": 1}], None, "`number` in item 2 of `tools` is 1"),
        ([{**FIRST, "flute": 50}], None, "stands out only 42"),
        ([{**FIRST, "stick-out": {"least": 44, "most": 40}}], None, "44 as the least and 40"),
        ([{**FIRST, "chip": {"least": 0.2, "most": 0.1}}], None, "0.2 as the least and 0.1"),
        ([FIRST], {"number": 1, "diameter": 8}, "`tools` describes bit 1"),
        ([{**FIRST, "kind": "UPCUT (6)"}], None, "is not written as it must be"),
        ([FIRST, SECOND], {"number": 2}, None),
        ([FIRST, SECOND], {"number": 3, "diameter": 8}, None),
    ],
)
def test_a_table_that_contradicts_itself(
    tmp_path: Path, tools: Any, tool: Any, told: str | None
) -> None:
    on_it = document("setups", SETUPS["speed"], {"tool": tool, "tools": tools})
    (tmp_path / "setup.yaml").write_text(yaml.safe_dump(on_it, sort_keys=False))
    machine = document("machines", "shop-speed-controlled", {})
    (tmp_path / "machine.yaml").write_text(yaml.safe_dump(machine, sort_keys=False))
    (tmp_path / "recipe.yaml").write_text(
        "format: headrace-recipe/2\nname: Boards\nmachine: machine.yaml\nsetup: setup.yaml\n"
        "steps: [safe-start]\n"
    )
    findings = check_recipe(tmp_path / "recipe.yaml", load_registry())
    if told is None:
        assert findings == []
    else:
        assert [told in finding.what for finding in findings] == [True], findings
