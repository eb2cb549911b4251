"""What a file does, in sentences: nothing left out, nothing out of order, nothing made up."""

from __future__ import annotations

import re

import pytest
from pipeline.sheet.gathered import BENCH, RELAY, SPEED, alone, every, files

HEAD = "G21 G90 G94 G17\n"
LID = (
    "Homes Z, then X and Y.",
    "Raises the Z number from 0 to 56.",
    "Goes to the sheet's corner (X20 Y20 of the machine).",
    "Makes this place the zero of X and Y: the sheet's corner (X20 Y20 of the machine).",
    "Asks for the spindle to be switched off (pause 1).",
    "Goes over the plate's place, X50 Y50 from the sheet's corner.",
    "Asks for plate and clip (pause 2).",
    "Comes down to Z13.12 (Z-42.88 of the machine).",
    "Touches the plate twice: at 120 mm/min, to Z2.62 (Z-53.38 of the machine) at the most, then at"
    " 30 mm/min, to Z9.02 from the sheet's top at the most; then makes Z read 12.02 there.",
    "From here on Z0 is meant to be the sheet's top.",
    "Lifts to Z27.02.",
    "Asks for clip and plate to be taken away (pause 3).",
    'Waits for "EXTRACTION ON?" (pause 4).',
    "Asks for the spindle at 16000 rev/min, dial mark 3 (pause 5).",
    "Waits 2 s.",
    "Comes down to Z5, goes to X112.5 Y110 from the sheet's corner, comes down to Z1.",
    "Cuts with the bit (diameter 6 mm) at 16000 rev/min: 12.4 m at 250 to 1800 mm/min, at 7"
    " heights, down to 18.3 mm below the sheet's top (lines 47 to 219).",
    "Lifts to Z5.",
    "Asks for the spindle to be switched off (pause 6).",
    "Goes to the sheet's corner (X20 Y20 of the machine), lifts to Z55.9, parks at X5 Y550 of the"
    " machine.",
    "Ends.",
)
"""What recipes/kept/lids/LID.NC does, read line by line. Seven heights: six passes of 3.05, and
Z-14.3 over the tabs. Before the touch Z counts from 56 below the place where it is homed: Z13.12
is 13.12 - 56 there."""


def does(text: str, machine: str = SPEED, **more: object) -> tuple[str, ...]:
    return alone(text, machine, **more).does  # type: ignore[arg-type]


def test_the_lid() -> None:
    assert files("bench-lids")[0].does == LID


def test_every_pause_is_told_in_its_place() -> None:
    for _, _, facts in every():
        told = [
            int(number) for text in facts.does for number in re.findall(r"\(pause (\d+)\)", text)
        ]
        assert told == [pause.number for pause in facts.pauses]


def test_every_sentence_is_one() -> None:
    for _, _, facts in every():
        for text in (*facts.does, *facts.modes):
            assert re.fullmatch(r"[A-Z(].*[.)]", text), text


def test_a_wait_stands_where_it_comes() -> None:
    """Wait for the standstill first, and only then move: the other order would hurt somebody."""
    told = files("relay-frames")[0].does
    stop = told.index("Stops the spindle.")

    assert told[stop + 1 : stop + 3] == (
        "Waits 12 s.",
        "Goes over the plate's place, X60 Y60 from the sheet's corner.",
    )
    assert told[-4:] == (
        "Stops the spindle.",
        "Waits 12 s.",
        "Lifts to Z-5 of the machine, parks at X-410 Y-5 of the machine.",
        "Ends.",
    )


def test_waits_before_between_and_behind_cuts() -> None:
    told = does(
        f"{HEAD}M3 S18000\nG4 P5\nG0 Z5\nG0 X0 Y0\nG1 Z-1 F300\nG4 P0.5\nX10\nG4 P0.5\nX20\n"
        "G0 Z5\nG4 P1\nG0 X0\nG4 P2\nM30\n"
    )

    assert told == (
        "Starts the spindle at 18000 rev/min.",
        "Waits 5 s.",
        "Goes to Z5, goes to the sheet's corner.",
        "Cuts with the bit at 18000 rev/min: 21 mm at 300 mm/min, down to 1 mm below the sheet's"
        " top, waiting 2 times (lines 6 to 10).",
        "Lifts to Z5.",
        "Waits 1 s.",
        "Goes to the sheet's corner.",
        "Waits 2 s.",
        "Ends.",
    )


def test_drilling_cycles_are_counted_by_their_holes() -> None:
    """recipes/jobs/queen-excluder.nc: eight rows of 16 and 15 by turns, and four corners."""
    (facts,) = files("speed-excluder")
    (drilled,) = [text for text in facts.does if text.startswith("Drills")]

    assert drilled.startswith("Drills 128 holes with the bit (diameter 4.2 mm) at 8000 rev/min")
    assert "down to 2.8 mm below" in drilled


def test_pecks_are_one_hole() -> None:
    told = does(f"{HEAD}M3 S9000\nG0 Z5\nG98 G83 X10 Y10 Z-9 R2 Q2 F200\nX20\nG80\nM30\n")

    assert told[2].startswith("Drills 2 holes")
    assert told[2].endswith("(lines 4 to 5).")


def test_a_plunge_by_hand_is_no_hole_of_a_cycle() -> None:
    told = does(f"{HEAD}M3 S9000\nG0 Z5\nG0 X10 Y10\nG1 Z-2 F200\nG0 Z5\nM30\n")

    assert told[1] == "Goes to Z5, goes to X10 Y10 from the sheet's corner."
    assert told[2].startswith("Goes straight down at 1 place with the bit")
    assert told[2].endswith("(line 5).")


def test_a_relief_has_no_heights() -> None:
    slope = "".join(f"X{x} Z{-1 - x % 7 / 10}\n" for x in range(1, 60))
    told = does(f"{HEAD}M3 S9000\nG0 Z5\nG0 X0 Y0\nG1 Z-1 F200\n{slope}G0 Z5\nM30\n")

    assert "heights" not in told[2]
    assert "down to 1.6 mm" in told[2]


@pytest.mark.parametrize(
    ("machine", "text", "told"),
    [
        (SPEED, "M7\nM9", ["Switches on: vacuum table.", "Switches off: vacuum table."]),
        (BENCH, "M8", ["Switches flood (M8) on: not described what that is wired to."]),
        (BENCH, "M8\nM9", ["Switches flood (M8) on: not described what that is wired to.",
                           "Switches flood (M8) off."]),
        (BENCH, "M9", []),
        (BENCH, "M3 S17000\nM5", []),  # a hand switches it
        (RELAY, "M3 S9000", ["Starts the spindle at 18000 rev/min."]),  # the one speed there is
        (SPEED, "M7\nM49", ["Switches on: vacuum table.",
                            "Puts the knobs for feed and speed out of action (M49)."]),
        (SPEED, "G55\nG55\nG54", ["Counts from the zero of G55.", "Counts from the zero of G54."]),
        (SPEED, "T4 M6\nT4 M6\nT5 M6", [
            "Calls for tool 4, which is taken to be in the collet.",
            "Calls for tool 4, which is taken to be in the collet.",
            "Calls for tool 5: nothing here says that it waits until a hand has put it in.",
        ]),
        (SPEED, "G10 L2 P2 X150 Y200", ["Puts the zero of G55 at X150 Y200 of the machine, the"
                                        " sheet's corner."]),
        (SPEED, "G10 L2 P2 X1 Y2", ["Puts the zero of G55 at X1 Y2 of the machine."]),
        (BENCH, "G92 X5 Y0", ["Makes X read 5 and Y read 0 here."]),
        (BENCH, "G28 Z0\nG92 Z40\nG92 Z30", ["Homes Z.", "Raises the Z number from 0 to 40.",
                                             "Lowers the Z number from 40 to 30."]),
        (BENCH, "G28 Z0\nG92 Z40\nG92.1\nG92 Z30", ["Homes Z.", "Raises the Z number from 0 to 40.",
                                                    "Ends the shift by G92.",
                                                    "Makes Z read 30 here."]),
    ],
)  # fmt: skip
def test_what_happens_between_moves(machine: str, text: str, told: list[str]) -> None:
    setup = "feeder-12" if machine == SPEED else None
    changes = [] if setup is None else ["setup.tool.number=4", "setup.tools=[]"]
    found = does(f"{HEAD}{text}\nM2\n", machine, setup=setup, changes=changes)

    assert [line for line in found if line != "Ends."] == told


def test_a_touch_in_inches_is_told_in_mm() -> None:
    told = does(
        "G20 G90 G94 G17\nG28\nG38.2 Z-2 F2\nG92 Z0.4\nG0 Z1\nM3\nG1 Z0 F9\nX1\nM30\n", RELAY
    )

    assert told[1] == (
        "Touches: at 50.8 mm/min, to Z-50.8 of the machine at the most; then makes Z read 10.16"
        " there."
    )


def test_of_very_many_steps_the_middle_is_counted() -> None:
    text = "".join(f"G0 X{number}\nM0\n" for number in range(1, 301))
    told = does(f"{HEAD}G0 Z9\n{text}M30\n")

    assert len(told) == 101
    assert told[50] == "(501 more steps here, which are not told.)"  # 601 sentences in all
    assert told[-1] == "Ends."


def test_what_the_file_itself_begins_and_ends_with() -> None:
    """A file for the machine's card that only goes somewhere."""
    assert does(f"{HEAD}G28\nG53 G0 X-410 Y-5\nM30\n", RELAY) == (
        "Homes Z, then X and Y.",
        "Parks at X-410 Y-5 of the machine.",
        "Ends.",
    )


def test_another_bit_lifts_nothing() -> None:
    """Z stays at -3 of the machine while the bit is changed; that the new one is longer or shorter
    is no move."""
    (facts,) = files("speed-feeder-changes")
    at = facts.does.index("Asks for tool 2 (END MILL 6, diameter 6 mm) (pause 4).")

    assert facts.does[at - 1] == "Lifts to Z-3 of the machine, parks at X650 Y2480 of the machine."
    assert facts.does[at + 1] == "Goes over the plate's place, X40 Y40 from the sheet's corner."


def test_no_height_before_a_touch_can_be_taken_for_one_above_the_sheet() -> None:
    """Until the first touch of a file that homes, Z counts from the machine: each height stands
    there in machine coordinates, within the travel of the machine file."""
    seen = 0
    for plan, _, facts in every():
        travel = plan.machine.axes["z"]
        if not facts.does or not any(text.startswith("Homes Z") for text in facts.does):
            continue
        for text in facts.does:
            if text.startswith("Touches"):
                break
            for found in re.finditer(r"(?:down|lifts|Lifts|goes) to Z[^,.]*\S*", text):
                assert "of the machine" in text, text
                told = re.search(r"Z(-?[\d.]+) of the machine", text)
                assert told is not None, found
                assert travel.low <= float(told[1]) <= travel.high
                seen += 1
    assert seen >= 8


def test_each_touch_says_from_what_its_aims_count() -> None:
    """recipes/speed-feeder-changes.yaml: the zero of G54 is at Z0 of the machine for the first
    touch, and 20 under the plate's top, the sheet's, for the second."""
    (facts,) = files("speed-feeder-changes")
    touches = [at for at, text in enumerate(facts.does) if text.startswith("Touches the plate")]

    assert [facts.does[at] for at in touches] == [
        f"Touches the plate twice: at 200 mm/min, to {first} of the machine at the most, then at"
        " 50 mm/min, to Z17 from the sheet's top at the most; then sets the zero of G54 along Z"
        " from the touch."
        for first in ("Z-136.2", "Z-140.2")
    ]
    assert [facts.does[at + 1 : at + 3] for at in touches] == [
        ("From here on Z0 is meant to be the sheet's top.", "Lifts to Z45.")
    ] * 2


def test_heights_of_a_job_that_counts_from_homing_stand_in_machine_coordinates_too() -> None:
    """G92 Z40 where the head is homed (Z0 of the bench machine): Z10 is 30 below it."""
    told = does(f"{HEAD}G28 Z0\nG92 Z40\nG0 Z10\nM2\n", BENCH)

    assert told[2] == "Comes down to Z10 (Z-30 of the machine)."


def test_where_the_head_goes_before_it_cuts_is_told() -> None:
    """The lid of bench-setup-cards begins where TOUCH has left the head: beside the sheet."""
    told = does(f"{HEAD}G0 Z5\nX112.5 Y110\nZ1\nG1 Z-3 F250\nX120\nM2\n", BENCH)

    assert told[0] == "Goes to Z5, goes to X112.5 Y110 from the sheet's corner, comes down to Z1."
    assert told[1].startswith("Cuts")


def test_of_many_moves_before_a_cut_the_first_and_the_last_are_told() -> None:
    """The first one is where somebody's hand may be. Nine rapids, and five of them between."""
    ways = "".join(f"X{number}0 Y10\n" for number in range(1, 8))
    told = does(f"{HEAD}G0 Z5\n{ways}Z1\nG1 Z-3 F250\nX120\nM2\n", BENCH)

    assert told[0] == (
        "Goes to Z5, goes to X10 Y10 from the sheet's corner, moves on without cutting (5 moves),"
        " goes to X70 Y10 from the sheet's corner, comes down to Z1."
    )
