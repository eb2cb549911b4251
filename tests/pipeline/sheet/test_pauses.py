"""Pauses: every one of them, what the display shows, and what must be true before going on."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pipeline.sheet.gathered import BENCH, RELAY, SPEED, alone, described, every, files

from headrace.machine import asking_speed
from headrace.machine.asking import speed_asked
from headrace.sheet.facts import Pause

_PAUSE = re.compile(rb"^(?:N\d+ ?)?M0?[01](?: ?\((?P<text>[^()]*)\))?\s*$")
_COMMENT = re.compile(rb"^(?:N\d+ ?)?\((?P<text>[^()]*)\)\s*$")


def needs(pause: Pause) -> str:
    return " ".join(pause.needs)


@pytest.mark.parametrize("case", every(), ids=lambda case: f"{case[0].recipe.stem} {case[2].name}")
def test_each_pause_of_a_file_is_there_once_and_shows_what_its_line_says(case: tuple) -> None:  # type: ignore[type-arg]
    """Read by a pattern from the bytes of the card file."""
    plan, outcome, facts = case
    pause = plan.machine.pause
    lines = outcome.result.to_bytes().splitlines()
    found = [(number, _PAUSE.match(line)) for number, line in enumerate(lines, 1)]
    stops = [(number, match) for number, match in found if match]

    assert [pause.line for pause in facts.pauses] == [number for number, _ in stops]
    assert [pause.number for pause in facts.pauses] == list(range(1, len(stops) + 1))
    for told, (number, match) in zip(facts.pauses, stops, strict=True):
        above = _COMMENT.match(lines[number - 2])
        text = {"same-line": match, "before": above}.get(pause.text)
        if pause.text == "none":
            assert told.shown == ()
            assert above is not None
            assert f"The file says here: {above['text'].decode()}" in told.needs
        else:
            assert text is not None
            assert told.shown == (text["text"].decode()[: pause.width],)


def test_the_times_of_pauses_never_go_back() -> None:
    for _, _, facts in every():
        times = [pause.after for pause in facts.pauses if pause.after is not None]
        assert len(times) == len(facts.pauses)
        assert times == sorted(times)
        assert all(0 <= time <= facts.times.planned for time in times)


@given(st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ 0123456789?", min_size=1, max_size=60))
@settings(max_examples=60)
def test_the_display_cuts_a_text_and_the_sheet_says_so(text: str) -> None:
    """Twenty characters of the line before: the bench machine's `pause`."""
    facts = alone(f"G21 G90\n({text})\nM0\nM2\n", BENCH)
    (pause,) = facts.pauses
    told = text.strip()

    assert pause.shown == ((told[:20].rstrip(),) if told else ())
    assert all(len(line) <= 20 for line in pause.shown)
    assert (f"The file says: {told}" in needs(pause)) == (len(told) > 20)


def test_the_questions_of_the_lid() -> None:
    asks = [pause.asks for pause in files("bench-lids")[0].pauses]

    assert asks == ["spindle-off", "clip-on", "clip-off", None, "spindle-on", "spindle-off"]


def test_what_must_be_true_is_told_with_the_numbers_of_the_description() -> None:
    off, on, away, own, turning, _ = files("bench-lids")[0].pauses

    assert "turns on for 8 s" in needs(off)  # spindle: run-down
    assert "X50 Y50 from the sheet's corner" in needs(on)  # plate: at
    assert "12.02 mm thick" in needs(on)  # plate: thickness
    assert "plate is off the sheet" in needs(away)
    assert "power is back" not in needs(away)  # a hand switches it, when it is asked to
    assert "The recipe asks for this" in needs(own)
    assert "16000 rev/min: mark 3, at 17000, is the nearest" in needs(turning)
    assert "that takes 2 s" in needs(turning)  # spindle: run-up


def test_a_bit_is_asked_for_with_how_to_measure_it() -> None:
    first, second = (facts.pauses[0] for facts in files("speed-feeder-boards"))

    assert (first.asks, second.asks) == ("tool-1", "tool-2")
    assert "Tool 1 (END MILL 12, diameter 12 mm) is in the collet" in needs(first)
    assert "stands out 40 to 44 mm, measured from the collet's face to the tip" in needs(first)
    assert "stands out 36 to 40 mm" in needs(second)


def test_a_bit_that_the_set_up_does_not_have() -> None:
    facts = alone("(FIT TOOL 7)\nM0\nG21 G90\nM30\n", SPEED)
    (pause,) = facts.pauses

    assert pause.asks == "tool-7"
    assert "Tool 7 is in the collet" in needs(pause)
    assert "is not described" in needs(pause)


def test_a_pause_of_the_jobs_own_is_not_explained() -> None:
    facts = alone("G21 G90\n(TURN THE SHEET)\nM0\nM2\n", BENCH)
    (pause,) = facts.pauses

    assert pause.asks is None
    assert pause.needs == (
        "Your job asks for this: find out what it wants before you go on.",
    )  # fmt: skip


def last(text: str, machine: str = SPEED) -> str:
    """The last sentence of the first pause of a file."""
    return alone(f"G21 G90 G94 G17\n{text}", machine).pauses[0].needs[-1]


@pytest.mark.parametrize(
    ("machine", "behind", "told"),
    [
        (SPEED, "G0 X9", "Hands are away: the machine moves as soon as you go on."),
        (
            SPEED,
            "G4 P1.5\nG4 P2\nG0 X9",
            "Hands are away: the machine moves 3.5 s after you go on.",
        ),
        (SPEED, "S9000 M3\nG0 X9", "Hands are away: the spindle starts as soon as you go on."),
        (SPEED, "G4 P2\nS9000 M3", "Hands are away: the spindle starts 2 s after you go on."),
        (SPEED, "M5\nG0 X9", "Hands are away: the machine moves as soon as you go on."),
        (BENCH, "S17000 M3\nG0 X9", "Hands are away: the machine moves as soon as you go on."),
        (SPEED, "M0\nG0 X9", "Pause 2 comes next, and nothing moves before it."),
        (SPEED, "M1\nM0\nG0 X9", "Pause 3 comes next, and nothing moves before it."),
        (SPEED, "M1\nG0 X9", "Hands are away: the machine moves as soon as you go on."),
    ],
)
def test_what_the_machine_does_as_soon_as_somebody_goes_on(
    machine: str, behind: str, told: str
) -> None:
    """A hand at the bit when the spindle starts is the worst that a pause can lead to."""
    assert last(f"(LOOK)\nM0\n{behind}\nM30\n", machine) == told


def test_homing_is_a_move_too() -> None:
    """recipes/speed-feeder-changes.yaml: the first bit is asked for, and then G28 homes."""
    (facts,) = files("speed-feeder-changes")

    assert facts.pauses[0].needs[-1] == "Hands are away: the machine moves as soon as you go on."


def test_a_pause_before_the_end_says_nothing_of_going_on() -> None:
    assert "find out what it wants" in last("G0 X9\n(LOOK)\nM0\nM30\n")


def test_each_pause_of_the_gallery_tells_what_comes_next() -> None:
    for _, _, facts in every():
        for pause in facts.pauses:
            assert re.search(r"after you go on|as soon as you go on|comes next", pause.needs[-1])


@pytest.mark.parametrize(
    ("machine", "before", "turns"),
    [
        (SPEED, "S9000 M3", True),
        (SPEED, "S9000 M3\nM5", False),
        (SPEED, "", False),
        (BENCH, "S17000 M3", False),  # a word that switches nothing
        (BENCH, "(ON 17000 DIAL 3)\nM0", True),
        (BENCH, "(ON 17000 DIAL 3)\nM0\n(SPINDLE OFF, WAIT)\nM0", False),
    ],
)
def test_a_bit_that_turns_while_the_machine_waits(machine: str, before: str, turns: bool) -> None:
    """M0 stops no spindle (RS274/NGC 3.6.1)."""
    facts = alone(f"G21 G90 G94 G17\n{before}\nG0 X9\n(LOOK)\nM0\nG0 X0\nM30\n", machine)

    assert ("The bit turns while the machine waits here" in needs(facts.pauses[-1])) == turns


def test_power_comes_back_after_a_bit_that_no_touch_follows() -> None:
    """Else the file would drive a bit that stands still into the sheet."""
    head, cut = "G21 G90 G94 G17\n(FIT TOOL 1)\nM0\n", "S9000 M3\nG0 X0\nM30\n"
    plain, touched = (
        alone(f"{head}{middle}{cut}", SPEED).pauses[0]
        for middle in ("G0 X9\n", "(PLATE UNDER THE BIT, CLIP ON)\nM0\n")
    )

    assert plain.asks == touched.asks == "tool-1"
    assert "After that the spindle's power is back" in needs(plain)
    assert "power is back" not in needs(touched)


def test_a_card_under_the_plate_is_counted_into_its_thickness() -> None:
    """recipes/setups/excluder-1-5.yaml: 20.0 of plate and 0.4 of card. Nobody finds a plate of
    20.4, and without the card the bit goes 0.4 deeper."""
    (facts,) = files("speed-excluder")
    (clip,) = [pause for pause in facts.pauses if pause.asks == "clip-on"]

    assert "The plate, with all that is to lie under it, is 20.4 mm thick" in needs(clip)


@pytest.mark.parametrize("middle", ["M0", "(ONE)(TWO)\nM0", "G0 Z5 (HALT)\nM0"])
def test_a_text_that_is_not_told_for_certain_is_not_shown(middle: str) -> None:
    facts = alone(f"G21 G90\nG0 Z9\n{middle}\nM2\n", BENCH)
    (pause,) = facts.pauses

    assert pause.shown == ()
    assert "does not tell what the display shows at pause 1: count the pauses" in needs(pause)


def test_an_optional_stop_may_not_wait() -> None:
    facts = alone("G21 G90\nM1 (LOOK)\nM30\n", RELAY)
    (pause,) = facts.pauses

    assert pause.optional
    assert pause.shown == ("LOOK",)
    assert "only if its switch for optional stops is on" in needs(pause)
    assert facts.does[0] == 'May wait for "LOOK" (pause 1).'


def test_a_stop_on_the_line_of_a_move_comes_behind_it() -> None:
    """RS274/NGC table 8: the stop is the last thing that a line does."""
    facts = alone("G21 G90 G94 G17\nG0 Z30\nG0 X100 M0\nG0 X0\nM30\n", SPEED)
    (pause,) = facts.pauses

    assert pause.line == 3
    assert facts.does[:2] == ("Goes to Z30, goes to X100.", "Waits (pause 1).")


def test_power_comes_back_before_the_file_starts_the_spindle() -> None:
    """Cut off for the clip, it must be there again where no pause asks for it any more."""
    text = "G21 G90 G94 G17\nG28\n{}M0 (CLIP OFF)\n{}G0 X-300\nM30\n"
    before, behind = (
        alone(text.format(*lines), RELAY).pauses[0]
        for lines in (("M3\nM5\nG0 X-200\n", ""), ("", "M3\n"))
    )

    assert before.asks == behind.asks == "clip-off"
    assert "the file starts it by itself" not in needs(before)
    assert "the file starts it by itself" in needs(behind)


@given(st.integers(10000, 30000), st.sampled_from(["spindle-on", "spindle-set"]))
def test_a_speed_is_known_again_from_every_text_that_asks_for_it(turns: int, asks: str) -> None:
    """The shortest text names the mark only: then it is the mark's speed."""
    machine = described(BENCH, None, ()).machine
    *full, short = asking_speed(asks, machine.spindle, turns)
    mark = machine.spindle.nearest_mark(turns)

    assert {speed_asked(machine, text) for text in full} == {turns}
    assert speed_asked(machine, short) == dict(machine.spindle.dial)[str(mark)]
    assert speed_asked(machine, f"{short}0") is None
    assert speed_asked(described(SPEED, None, ()).machine, full[0]) is None
