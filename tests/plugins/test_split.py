"""One card file a tool: what each begins with, and that nothing of the job is lost between them.

The state that a file must bring about is what RS274/NGC calls modal (3.4) and keeps over a tool
change: M6 stops the spindle and changes nothing else (3.6.3).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from plugins.shop import RECIPES, REGISTRY, job, refused, setup, text, through

from headrace import Facet, Job
from headrace.batch import JobFile
from headrace.batch.parts import in_parts
from headrace.plugins import Contract
from headrace.program import Program
from headrace.proof import prove_run
from headrace.proof.second.follower import Dialect as SecondDialect
from headrace.recipe import load_plan
from headrace.run import count_parts, prepare_job

HEAD = "G21 G17 G90 G94\nT1 M6\nM3 S18000\nG0 Z30\n"
FIRST = "G0 X10 Y10\nG0 Z2\nG1 Z-3 F300\nG1 X50 F900\nG0 Z30\nM5\n"
SECOND = "M3 S18000\nG0 X80 Y40\nG0 Z2\nG1 Z-3 F300\nG1 X90\nG0 Z30\nM5\nM30\n"


TABLE = {"tools": [{"number": n, "stick-out": 30, "diameter": 6} for n in range(1, 12)]}


def parts(lines: str, name: str = "relay", **changes: object) -> list[Job]:
    source = job(lines, name, **{"setup_changes": TABLE, **changes})  # type: ignore[arg-type]
    return [through(source, "split-tools", part=number) for number in (0, 1)]


def test_two_tools_are_two_files() -> None:
    first, second = parts(HEAD + FIRST + "T2 M6\n" + SECOND)

    assert text(first)[:4] == ["M5", "G4 P12", "M0 (FIT TOOL 1)", "G21 G17 G90 G94"]
    assert "T1 M6" not in text(first)
    assert text(second)[:9] == [
        "M5",
        "G4 P12",
        "M0 (FIT TOOL 2)",
        "G21 G17 G90 G94",
        "F900",
        "S18000",
        "G0 X50 Y10",
        "G0 Z30",
        "M3 S18000",
    ]
    assert text(second)[9:] == SECOND.splitlines()[1:]


def test_the_bit_of_a_part_is_the_one_that_it_calls() -> None:
    table = [{"number": 2, "kind": "V bit", "stick-out": 30, "diameter": 3}]
    first, second = parts(HEAD + FIRST + "T2 M6\n" + SECOND, setup_changes={"tools": table})

    assert first.setup.tool.number is None
    assert (second.setup.tool.kind, second.setup.tool.diameter) == ("V bit", 3)
    assert "M0 (FIT TOOL 2 V BIT)" in text(second)
    assert second.trace.blocks[-1].setting.tool == 2


def test_a_job_with_one_tool_stays_as_it_is() -> None:
    source = job(HEAD + FIRST + "M30\n", "relay")

    assert through(source, "split-tools").program is source.program


def test_the_same_bit_called_again_is_no_other_part() -> None:
    lines = HEAD + FIRST + "T1 M6\n" + SECOND.replace("M30\n", "T2 M6\n") + SECOND

    first, second = parts(lines)

    assert "G0 X80 Y40" in text(first)
    assert "T1 M6" not in text(first)
    assert text(second).count("G0 X80 Y40") == 1


@pytest.mark.parametrize(
    ("modes", "said"),
    [
        ("G20\nG0 X1 Y1 Z1\nF35", "G20 G17 G90 G94"),
        ("G18", "G21 G18 G90 G94"),
        ("G64 P0.05", "G64 P0.05"),
        ("M8", "M8"),
        ("G99", "G99"),
        ("F1234.5", "F1234.5"),
        ("S17500", "S17500"),
    ],
)
def test_what_holds_is_brought_about(modes: str, said: str) -> None:
    """RS274/NGC 3.4: modal codes hold until another one of their group comes."""
    _, second = parts(HEAD + FIRST + modes + "\nT2 M6\n" + SECOND)

    head = text(second)[: text(second).index("M3 S18000")]
    assert said in head


def test_increments_go_on_from_where_the_job_was() -> None:
    lines = HEAD + FIRST + "T2 M6\nM3\nG91\nG0 X30\nG0 Z-28\nG1 Z-5\nG1 X9\nG0 Z33\nG90\nM5\nM30\n"

    _, second = parts(lines)

    head = text(second)[: text(second).index("M3")]
    assert head[-2:] == ["G0 X50 Y10", "G0 Z30"]
    assert [float(second.trace.ends(axis)[-1]) for axis in range(3)] == [89.0, 10.0, 30.0]


def test_a_line_that_relies_on_a_motion_word_gets_it_back() -> None:
    lines = HEAD + FIRST.replace("G0 Z30\nM5\n", "G1 Z30\nM5\n") + "T2 M6\nX60 Y60\n" + SECOND

    _, second = parts(lines)

    assert "G1 X60 Y60" in text(second)


@pytest.mark.parametrize(
    ("modes", "why"),
    [
        ("G93", "inverse time"),
        ("G81 X9 Y9 Z-2 R2 F100", "cycle"),
        ("G92 X0", "zero"),
        ("M49", "knob"),
    ],
)
def test_what_cannot_be_brought_about_is_refused(modes: str, why: str) -> None:
    source = job(HEAD + FIRST + modes + "\nT2 M6\nG80\n" + SECOND, "relay", setup_changes=TABLE)

    finding = refused(source, "split-tools")

    assert finding.name == "state-not-restorable"
    assert why in finding.what


def test_a_place_in_machine_coordinates_is_brought_about_as_such() -> None:
    """RS274/NGC 3.5.12: what G53 names holds whatever the offsets are, and only the touch tells
    what it reads."""
    lines = HEAD + FIRST + "G53 G0 Z-5\nT2 M6\nM3\n" + SECOND

    _, second = parts(lines)

    head = text(second)[: text(second).index("M3")]
    assert head[-2:] == ["G0 X50 Y10", "G53 G0 Z-5"]


def test_a_place_from_before_the_homing_is_not_taken_for_one_behind_the_touch() -> None:
    """Homing takes the shift away: Z0 there is the end of travel, here it is the sheet's top."""
    lines = HEAD + FIRST + "G28 Z0\nT2 M6\n" + SECOND

    finding = refused(job(lines, "bench", setup_changes=TABLE), "split-tools")

    assert finding.name == "state-not-restorable"
    assert "homed" in finding.what


def test_no_part_begins_with_a_still_bit_in_the_sheet() -> None:
    lines = HEAD + FIRST.replace("G0 Z30\nM5\n", "") + "T2 M6\n" + SECOND

    finding = refused(job(lines, "relay", setup_changes=TABLE), "split-tools")

    assert finding.name == "change-out-of-place"
    assert "3 mm in the sheet" in finding.what


def test_no_other_bit_lends_its_length_to_one_that_is_not_described() -> None:
    lines = HEAD + FIRST + "T2 M6\n" + SECOND
    one = {"tool": {"number": 1, "stick-out": 30, "diameter": 6}}

    finding = refused(job(lines, "relay", setup_changes=one), "split-tools")

    assert finding.name == "tool-not-in-table"
    assert "tool 2" in finding.what


def test_a_bit_that_cuts_nothing_gets_no_file() -> None:
    """Common practice: CAM empties the collet (T0) between bits and at the end."""
    back = SECOND.replace("M30\n", "T0 M6\nM30\n")
    source = job(HEAD + FIRST + "T0 M6\nT2 M6\n" + back, "relay", setup_changes=TABLE)

    files = [text(through(source, "split-tools", part=number)) for number in (0, 1)]

    assert "M0 (FIT TOOL 2)" in files[1]
    assert "G1 X90" in files[1]
    assert not any("T0" in line or "TOOL 0" in line for line in files[0] + files[1])
    with pytest.raises(IndexError):
        through(source, "split-tools", part=2)


def test_a_change_without_a_number_is_refused() -> None:
    finding = refused(job("G21 G90\nM6\n" + FIRST + "M6\n" + SECOND, "relay"), "split-tools")

    assert finding.name == "tool-unnamed"


def test_the_parts_are_the_job() -> None:
    """All files, one after the other, cut what the job cuts: the second reading, over the whole."""
    lines = HEAD + FIRST + "T2 M6\n" + SECOND.replace("M30\n", "T3 M6\n") + SECOND
    source = job(lines, "relay", setup_changes=TABLE)
    count = 3
    results = [through(source, "split-tools", part=number).program for number in range(count)]
    facets = frozenset(Facet) - {Facet.FEED, Facet.SPINDLE}
    dialect = SecondDialect({8: "extraction"}, 280)

    whole = prove_run(source.program, results, Contract(facets, True), False, dialect)
    lost = prove_run(source.program, results[::2], Contract(facets, True), False, dialect)

    assert whole.breach is None
    assert whole.moves == len(source.trace)
    assert lost.breach is not None


@pytest.mark.parametrize("recipe", ["speed-feeder-boards"])
def test_the_whole_way_to_the_card(recipe: str) -> None:
    registry = REGISTRY
    plan = load_plan(RECIPES / f"{recipe}.yaml", registry)
    data = (RECIPES / "jobs" / "feeder-board.nc").read_bytes()

    assert count_parts("feeder-board.nc", data, plan, registry) == 2
    moves = 0
    for number in (0, 1):
        outcome = prepare_job("feeder-board.nc", data, plan, registry, number)
        assert outcome.result is not None, outcome.findings
        assert outcome.proof is not None
        moves += outcome.proof.moves + outcome.proof.alike
        lines = outcome.result.to_bytes().decode().splitlines()
        asked = [lines.index(line) for line in lines if line.startswith(("(FIT", "G28", "G38"))]
        assert asked == sorted(asked), "the bit, then homing, then the plate"
        assert lines[-1] == "%"
        assert lines[-2].endswith("M30")
    source = Program.read(data, "feeder-board.nc")
    assert moves == len(job(data, "speed").trace)
    assert source.job_lines == len(source)


def test_parts_have_names_that_keep_their_order(tmp_path: Path) -> None:
    registry = REGISTRY
    plan = load_plan(RECIPES / "speed-feeder-boards.yaml", registry)
    plan = replace(plan, setup=setup("speed", TABLE))
    path = tmp_path / "board.nc"
    changes = "".join(f"T{number} M6\n" + SECOND.replace("M30\n", "") for number in range(2, 12))
    path.write_text(HEAD + FIRST + changes + "M30\n")

    found = in_parts([JobFile("board.nc", path)], plan, registry)

    names = [part.name for part in found]
    assert names == [f"board-{number:02}.nc" for number in range(1, 12)]
    assert names == sorted(names)


def test_parts_never_take_the_name_of_another_job(tmp_path: Path) -> None:
    registry = REGISTRY
    plan = load_plan(RECIPES / "speed-feeder-boards.yaml", registry)
    whole, other = tmp_path / "lid.nc", tmp_path / "lid-2.nc"
    whole.write_text(HEAD + FIRST + "T2 M6\n" + SECOND)
    other.write_text(HEAD + FIRST + "M30\n")

    found = in_parts([JobFile("lid-2.nc", other), JobFile("lid.nc", whole)], plan, registry)

    paths = {part.name: part.path for part in found}
    assert paths == {"lid-2.nc": other, "lid-bit-1.nc": whole, "lid-bit-2.nc": whole}


def test_parts_of_an_earlier_job_do_not_stay_on_the_card_in_silence(tmp_path: Path) -> None:
    from headrace.batch import JobFile, prepare_folder
    from headrace.batch.engines import Serial

    registry = REGISTRY
    plan = load_plan(RECIPES / "speed-feeder-boards.yaml", registry)
    plan = replace(plan, setup=setup("speed", {**TABLE, "plate/at": [20, 150]}))
    card, job_file = tmp_path / "card", tmp_path / "tray.nc"
    card.mkdir()

    def told(lines: str) -> list[str]:
        job_file.write_text(lines)
        jobs = [JobFile("tray.nc", job_file)]
        prepared = prepare_folder(plan, registry, jobs, card, engine=Serial())
        return [f.what for f in prepared.findings if f.name == "card-older-file"]

    two = HEAD + FIRST + "T2 M6\n" + SECOND
    three = two.replace("M30\n", "T3 M6\n") + SECOND
    older = "tray-3.nc on the card is from an earlier tray.nc, which now has other parts"
    assert told(three) == []
    assert told(two) == [older]
    assert told(two) == [older]
    assert told(three) == []
