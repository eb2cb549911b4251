"""Before the first file: what the description tells, and what it does not tell, by name."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from pipeline.sheet.gathered import BENCH, SPEED, alone, described, every, files, gallery

from headrace.findings import Finding
from headrace.machine import Span
from headrace.sheet.checks import checks
from headrace.sheet.facts import Check, Refused
from headrace.sheet.whole import sheet_facts


def of(recipe: str) -> dict[str, Check]:
    plan, _ = gallery(recipe)
    return {check.topic: check for check in checks(plan, files(recipe))}


def test_the_lids_as_their_set_up_has_them() -> None:
    """recipes/setups/lids-18.yaml and recipes/machines/bench-hand-switched.yaml, read by eye."""
    told = of("bench-lids")

    assert dict(told["Power and home"].values)["Homes"] == "by G28, Z, then X and Y"
    assert told["Sheet"].values == (("Size", "580 x 500 mm"), ("Thickness", "17.6 to 18.1 mm"))
    assert told["Corner"].values == (
        ("Lower left corner", "X20 Y20 of the machine"),
        ("Z0 in the jobs", "the top of the sheet"),
    )
    assert told["Clamps"].values == (
        ("left", "X-20 to X20, Y230 to Y270, 8 mm high"),
        ("right", "X560 to X600, Y230 to Y270, 8 mm high"),
        ("back", "X270 to X310, Y480 to Y520, 8 mm high"),
        ("Safe height", "25 mm"),
    )
    assert told["Touch plate"].values == (
        ("Thickness, with all that is to lie under it", "12.02 mm"),
        ("Its middle goes to", "X50 Y50 from the sheet's corner"),
    )
    assert told["Bit"].values == (
        ("Stands out", "28 to 32 mm"),
        ("Diameter", "6 mm"),
        ("Cuts up to", "22 mm from its tip"),
    )
    assert "from the collet's face to the tip" in told["Bit"].text


def test_the_dial_for_each_file() -> None:
    values = dict(of("bench-lids")["Spindle"].values)

    assert values["lid.nc"] == "16000 rev/min, dial mark 3"
    assert values["handhold.nc"] == "17000 rev/min, dial mark 3"
    assert values["Dial"].startswith("1 = 10000, 2 = 12500, 3 = 17000")


def test_each_bit_in_use_once() -> None:
    told = of("speed-feeder-changes")

    assert dict(told["Tool 1"].values)["Marked for"] == "18000 rev/min at the most"
    assert dict(told["Tool 2"].values)["Stands out"] == "36 to 40 mm"
    assert dict(told["Spindle"].values)["feeder-board.nc"] == (
        "tool 1 at 16000 rev/min; tool 2 at 18000 rev/min"
    )
    topics = [check.topic for check in checks(gallery("bench-lids")[0], files("bench-lids"))]
    assert topics.count("Bit") == 1  # both files have the same


def test_what_is_not_described_is_named() -> None:
    told = {check.topic: dict(check.values) for check in checks(described(BENCH, None, ()))}

    assert told["Sheet"] == {"Size": "not described", "Thickness": "not described"}
    assert told["Corner"]["Lower left corner"] == "not described"
    assert told["Holding"] == {"Clamps": "not described"}
    assert told["Touch plate"] == {
        "Thickness, with all that is to lie under it": "not described",
        "Its middle goes to": "not described",
    }
    assert told["Bit"]["Stands out"] == "not described"
    assert told["Extraction"] == {"Its switch": "not described"}


def test_no_clamps_and_nothing_said_of_clamps_are_two_things() -> None:
    without = described(BENCH, "lids-18", ("setup.clamps=[]",))
    (holding,) = [check for check in checks(without) if check.topic == "Holding"]

    assert holding.values == (("Clamps", "none"),)
    assert "held some other way" in holding.text


@pytest.mark.parametrize(
    ("order", "listed"),
    [
        ("by-name", "by name, which is another order: HANDHOLD.NC, LID.NC"),
        ("as-written", "as they were written"),
        (None, "not described"),
    ],
)
def test_how_the_controller_lists_the_card(order: str | None, listed: str) -> None:
    plan, _ = gallery("bench-lids")
    card = replace(plan.machine.card, order=order)
    plan = replace(plan, machine=replace(plan.machine, card=card))
    names = ("LID.NC", "HANDHOLD.NC")
    both = [replace(file, name=name) for file, name in zip(files("bench-lids"), names, strict=True)]
    (told,) = [check for check in checks(plan, both) if check.topic == "Card"]

    assert told.values == (
        ("1", "LID.NC"), ("2", "HANDHOLD.NC"), ("The controller lists them", listed),
    )  # fmt: skip


def test_the_whole_sheet() -> None:
    plan, _ = gallery("bench-lids")
    refused = Refused("bad.nc", (Finding.of("no-end", "it does not end"),))
    note = Finding.of("cannot-tell", "something")
    sheet = sheet_facts(plan, files("bench-lids"), [refused], [note])

    assert (sheet.title, sheet.recipe) == ("Lids on the bench machine", "bench-lids.yaml")
    assert sheet.machine == "Bench machine, router switched by hand"
    assert sheet.setup == "Lids, 18 birch plywood"
    assert sheet.made_by.startswith("headrace 0.")
    assert sheet.files == tuple(files("bench-lids"))
    assert (sheet.refused, sheet.findings) == ((refused,), (note,))
    assert sheet.checks == checks(plan, files("bench-lids"))
    assert sheet.bedding is not None


def test_how_a_file_means_its_numbers() -> None:
    (lid, _), (window,) = files("bench-lids"), files("speed-window")

    assert lid.modes[0] == (
        "The job's own heading: HIVE LID; SHEET 580 X 500 X 18 BIRCH PLYWOOD; ZERO LOWER LEFT"
        " CORNER, TOP OF SHEET."
    )
    assert "Zero in X and Y: the sheet's lower left corner." in lid.modes
    assert "Zero in Z: the top of the sheet." in lid.modes
    assert "Arcs: 48 arcs in XY (G17)." in lid.modes  # 24 in the vents, 4 in each of 6 passes
    assert "The zero outlives the end of the file." in lid.modes
    assert "Units: inches (G20) in the file; mm here." in window.modes
    assert "Work offset: G54." in window.modes


def test_a_zero_that_the_file_does_not_set_is_told() -> None:
    (board,) = files("clean-text")

    assert "Zero in Z: the top of the sheet; this file does not set it." in board.modes
    lines = (Path(__file__).parents[3] / "recipes/jobs/floor-board.tap").read_text("ascii")
    assert not {"G92", "G10", "G38.2"} & set(lines.replace("\r", "\n").split())


def test_lines_a_second() -> None:
    (lid, _) = files("bench-lids")
    (told,) = [text for text in lid.modes if text.startswith("Lines:")]

    assert told == (
        f"Lines: 228, on the average {228 / lid.times.planned:.1f} a second; this controller"
        " carries out 250 at the most."
    )


def test_spans_hold_from_low_to_high() -> None:
    for _, _, facts in every():
        spans = [
            value
            for part in (facts.depth, *facts.reaches, *facts.tools)
            for name in part.__slots__
            if isinstance(value := getattr(part, name), Span)
        ]
        assert spans
        assert all(span.least <= span.most for span in spans)


def test_what_no_file_switches_on_is_left_to_a_hand() -> None:
    """recipes/machines/shop-relay.yaml: M8 is the extraction, and neither job has it."""
    told = of("relay-frames")["Extraction"]

    assert told.values == (("M8", "no file here has M8, a hand switches it"),)


@pytest.mark.parametrize(
    ("on", "said"),
    [
        ((True, True), "switched by M7 in each file"),
        ((True, False), "switched by M7 in ONE; elsewhere a hand switches it"),
        ((False, False), "no file here has M7, a hand switches it"),
    ],
)
def test_which_files_switch_the_hold_down(on: tuple[bool, bool], said: str) -> None:
    text = "G21 G90 G94 G17\n{}\nG0 Z30\nM30\n"
    two = [
        replace(alone(text.format("M7" if is_on else "G54")), name=name)
        for is_on, name in zip(on, ("ONE", "TWO"), strict=True)
    ]
    plan = described(SPEED, None, ())
    (holding,) = [check for check in checks(plan, two) if check.topic == "Holding"]

    assert dict(holding.values)["Hold-down"] == f"vacuum table: {said}"


def test_the_zero_of_a_file_that_sets_it_where_the_head_stands() -> None:
    """At X160 Y200 of the machine; the set-up has the sheet's corner at X150 Y200."""
    facts = alone(
        "G21 G90 G94 G17\nG28 Z0\nG28 X0 Y0\nG53 G0 X160 Y200\nG10 L20 P1 X0 Y0\n"
        "G38.2 Z-100 F100\nG10 L20 P1 Z20\nG0 Z30\nM3 S9000\nG1 Z-2 F300\nX9\nG0 Z30\nM30\n",
        SPEED,
        "feeder-12",
        ["machine.work-zero.word=G10 L20"],
    )

    assert "Zero in X and Y: X10 Y0 from the sheet's lower left corner." in facts.modes
    assert "Zero in Z: the top of the sheet." in facts.modes
    assert facts.does[2] == "Makes X read 0 and Y read 0 here in G54."
    assert facts.does[3].endswith("then makes Z read 20 there in G54.")


def test_a_shift_in_the_middle_leaves_no_single_zero() -> None:
    facts = alone(
        "G21 G90 G94 G17\nM3 S9000\nG0 Z5\nG0 X0 Y0\nG1 Z-1 F300\nX5\nG92 X0\nX5\nG0 Z5\nM30\n",
        BENCH,
    )

    assert "Zero in X and Y: not one place that is known." in facts.modes
