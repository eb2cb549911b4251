"""Order and state: spindle, clip, pauses, touches, and how a file leaves the machine.

Where no other source is named, what is checked is common practice. Files run alone, on the demo's
machines; pauses that say what they ask for come from a step, which labels those with `(ASKS ...)`.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path
from shutil import copy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pipeline.rehearsal.outcomes import fires, found

from headrace import Severity
from headrace.batch.engines.kit import with_python_files
from headrace.outcome import Outcome
from headrace.plugins.registry import load_registry
from headrace.recipe import load_alone, load_plan
from headrace.run import prepare_job

RECIPES = Path(__file__).parents[3] / "recipes"
RELAY, BENCH, SPEED = "shop-relay", "bench-hand-switched", "shop-speed-controlled"
REGISTRY = load_registry()
SETUP = {RELAY: "frames-9", BENCH: "lids-18", SPEED: "floor-boards-18"}

LABELS = '''
from headrace import Facet, replace, transform

@transform("labels", changes=[Facet.STOPS, Facet.COMMENTS, Facet.SPINDLE, Facet.WORK_ZERO])
def labels(job):
    """Label the pauses that say what they ask for."""
    for line in job.program:
        for comment in line.comments:
            if comment.text.startswith("ASKS "):
                yield replace(line.index, line.text, asks=comment.text[5:])
'''

RECIPE = """\
format: headrace-recipe/2
name: Labels
machine: machine.yaml
setup: setup.yaml
python: [labels.py]
steps: [labels]
"""


def alone(text: str, machine: str | Path = RELAY, *overrides: str) -> Outcome:
    """A file as it is, on a machine of the demo, or on one that differs a little."""
    name = machine if isinstance(machine, str) else machine.stem
    setup = RECIPES / "setups" / f"{SETUP[name]}.yaml"
    file = RECIPES / "machines" / f"{name}.yaml" if isinstance(machine, str) else machine
    return prepare_job("job.nc", text.encode(), load_alone(file, setup, None, overrides), REGISTRY)


def differing(folder: Path, machine: str, old: str, new: str) -> Path:
    """A machine of the demo with another text in its description."""
    text = (RECIPES / "machines" / f"{machine}.yaml").read_text("utf-8")
    assert old in text
    path = folder / f"{machine}.yaml"
    path.write_text(text.replace(old, new), "utf-8")
    return path


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    (tmp_path / "labels.py").write_text(LABELS)
    (tmp_path / "recipe.yaml").write_text(RECIPE)
    return tmp_path


def labelled(shop: Path, text: str, machine: str = RELAY, *overrides: str) -> Outcome:
    """A file whose pauses say what they ask for."""
    copy(RECIPES / "machines" / f"{machine}.yaml", shop / "machine.yaml")
    copy(RECIPES / "setups" / f"{SETUP[machine]}.yaml", shop / "setup.yaml")
    plan = load_plan(shop / "recipe.yaml", REGISTRY, overrides)
    registry = with_python_files(REGISTRY, plan)
    return prepare_job("job.nc", text.encode(), plan, registry)


def lacks(outcome: Outcome, names: Iterable[str]) -> None:
    told = [(f.name, f.what) for f in outcome.findings if f.name in set(names)]
    assert told == []


REFUSE, WARN, NOTE = Severity.REFUSE, Severity.WARN, Severity.NOTE

HEAD = "G21 G90 G17 G94 G40 G49 G80\n"
CLIP_ON, CLIP_OFF = "M0 (ASKS clip-on)\n", "M0 (ASKS clip-off)\n"
PROBE = "G38.2 Z-75.2 F150\nG92 Z15\n"
TOUCH = HEAD + "G28\nM5\nG4 P12\nG53 G0 X-720 Y-520\n" + CLIP_ON + "G0 Z-65\n" + PROBE + "G0 Z30\n"
"""A touch on the relay machine: its lines are 10 long, and the clip is on behind them."""
START = "M3\nG4 P3\n"
CUT = "G0 Z5\nG0 X20 Y20\nG1 Z-2 F300\nX60\nG0 Z30\n"
END = "M5\nG4 P12\nM30\n"
ORDER = ("spindle-with-clip", "clip-unsettled", "hand-before-standstill", "probe-without-clip",
         "standstill-unsure", "cut-before-speed", "cut-at-rest", "spindle-missing", "sheet-let-go",
         "halted-in-work", "clip-left-on", "spindle-left-on")  # fmt: skip


def bare(text: str) -> str:
    """The same without labels: what the pauses ask for is not known."""
    return text.replace(" (ASKS clip-on)", "").replace(" (ASKS clip-off)", "")


# --- clip and spindle ----------------------------------------------------------------------------


def test_the_whole_way_is_fine(shop: Path) -> None:
    lacks(labelled(shop, TOUCH + CLIP_OFF + START + CUT + END), ORDER)


def test_spindle_does_not_start_with_the_clip_on(shop: Path) -> None:
    fires(labelled(shop, TOUCH + START + CUT + END), "spindle-with-clip", REFUSE, 11)


def test_in_a_file_alone_a_probe_shows_that_the_clip_is_on() -> None:
    fires(alone(bare(TOUCH) + START + CUT + END), "spindle-with-clip", REFUSE, 11)


def test_a_pause_of_unknown_purpose_may_have_asked_for_the_clip(shop: Path) -> None:
    text = TOUCH + "M0\n" + START + CUT + END

    for outcome in (labelled(shop, text), alone(bare(text))):
        fires(outcome, "clip-unsettled", WARN, 12)
        lacks(outcome, ["spindle-with-clip"])


def test_an_optional_stop_takes_no_clip_off() -> None:
    """RS274/NGC 3.6.1: M1 stops only where the optional stop switch is on."""
    fires(alone(bare(TOUCH) + "M1\n" + START + CUT + END), "spindle-with-clip", REFUSE, 12)


def test_a_pause_that_asks_for_the_spindle_says_nothing_of_the_clip(shop: Path) -> None:
    text = TOUCH + "M0 (ASKS spindle-on)\n" + CUT + END

    fires(labelled(shop, text, BENCH), "spindle-with-clip", REFUSE)


@pytest.mark.parametrize(("seconds", "early"), [(11.9, True), (12, False)])
def test_clip_waits_until_the_spindle_stands(shop: Path, seconds: float, early: bool) -> None:
    """The relay machine's spindle takes 12 s to stand."""
    text = HEAD + "G28\nM3\nG4 P3\nM5\n" + f"G4 P{seconds}\n" + CLIP_ON + "G0 Z-65\n" + PROBE

    outcome = labelled(shop, text + "G0 Z30\n" + CLIP_OFF + "M30\n")
    if early:
        told = fires(outcome, "hand-before-standstill", REFUSE, 7)
        assert "11.9 s" in told.what
        assert "G4 P12" in told.remedy
    else:
        lacks(outcome, ORDER)


@pytest.mark.parametrize(("seconds", "early"), [(11.9, True), (12, False)])
def test_in_a_file_alone_the_clip_is_put_on_at_the_last_pause(seconds: float, early: bool) -> None:
    text = HEAD + f"G28\nM3\nG4 P3\nM5\nG4 P{seconds}\nM0\nG0 Z-65\n" + PROBE + "G0 Z30\nM0\nM30\n"

    outcome = alone(text)
    if early:
        fires(outcome, "hand-before-standstill", REFUSE, 7)
    else:
        lacks(outcome, ORDER)


def test_moves_count_as_waiting() -> None:
    """X goes 800 mm at 8000 mm/min at the most (the relay machine's rapid): 6 s at least."""
    text = HEAD + "G28\nM3\nG4 P3\nM5\nG53 G0 X-803\nG4 P{}\nM0\nG0 Z-65\n" + PROBE + "G0 Z30\nM0\n"

    fires(alone(text.format(5.9) + "M30\n"), "hand-before-standstill", REFUSE, 8)
    lacks(alone(text.format(6) + "M30\n"), ["hand-before-standstill"])


def test_where_nothing_has_stopped_the_spindle_that_is_told() -> None:
    text = HEAD + "G28\nM0\nG0 Z-65\n" + PROBE + "G0 Z30\nM0\nM30\n"

    told = fires(alone(text), "standstill-unsure", WARN, 5)
    assert "M5 and G4 P12" in told.remedy
    lacks(alone(text.replace("M0\nG0 Z-65", "M5\nG4 P12\nM0\nG0 Z-65")), ["standstill-unsure"])


def test_probe_without_anybody_asked() -> None:
    text = HEAD + "M5\nG4 P12\nG28\nG0 Z-65\n" + PROBE + "G0 Z30\nM30\n"

    fires(alone(text), "probe-without-clip", WARN, 6)
    fires(alone(text.replace("M5\n", "M3\nM5\n")), "probe-without-clip", REFUSE, 7)
    lacks(alone(text.replace("G28\n", "G28\nM0\n")), ["probe-without-clip"])


def test_probe_with_the_clip_taken_off(shop: Path) -> None:
    again = "G28\nG0 Z-65\n" + PROBE + "G0 Z30\n"

    fires(labelled(shop, TOUCH + CLIP_OFF + again + "M30\n"), "probe-without-clip", REFUSE, 14)
    lacks(labelled(shop, TOUCH + CLIP_OFF + CLIP_ON + again + CLIP_OFF + "M30\n"), ORDER)


def test_clip_left_on_at_the_end(shop: Path) -> None:
    fires(labelled(shop, TOUCH + "M30\n"), "clip-left-on", REFUSE, 11)
    fires(alone(bare(TOUCH) + "M30\n"), "clip-left-on", WARN, 11)
    lacks(alone(bare(TOUCH) + "M0\nM30\n"), ["clip-left-on"])


# --- the lead ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("lead", "fine"), [(49.9, False), (50, True)])
def test_lead_reaches_as_far_as_the_head_goes(shop: Path, lead: float, fine: bool) -> None:
    """Pythagoras: 30 and 40 make 50."""
    way = "G53 G0 X-690 Y-480\nG53 G0 X-720 Y-520\n"
    outcome = labelled(shop, TOUCH + way + CLIP_OFF + "M30\n", RELAY, f"machine.probe.lead={lead}")

    if fine:
        lacks(outcome, ["lead-too-short"])
    else:
        assert "50 mm sideways" in fires(outcome, "lead-too-short", REFUSE, 11).what


def test_lead_that_is_not_described(shop: Path) -> None:
    way = "G53 G0 X-690 Y-480\n"
    told = [
        finding
        for finding in labelled(shop, TOUCH + way + CLIP_OFF + "M30\n").findings
        if "machine.probe.lead" in finding.what
    ]

    assert [finding.severity for finding in told] == [WARN]
    assert "50 mm" in told[0].what
    still = labelled(shop, TOUCH + CLIP_OFF + way + "M30\n")
    assert not [f for f in still.findings if "machine.probe.lead" in f.what]


# --- cuts ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("wait", "early"), [(2.6, True), (2.8, False)])
def test_cut_waits_for_the_speed(wait: float, early: bool) -> None:
    """The relay machine takes 3 s. From Z5 to the cut the moves take 20 mm at 8000 mm/min and
    5 mm of 7 at 2500, 0.15 s and 0.12 s; the first cut begins at Z5."""
    text = HEAD + f"G0 Z5\nG0 X0 Y0\nM3\nG4 P{wait}\nG0 X30\nG1 Z-2 F300\nX60\nG0 Z30\n" + END

    outcome = alone(text)
    if early:
        told = fires(outcome, "cut-before-speed", WARN, 7)
        assert "G4 P3" in told.remedy
        assert "2.8 s" in told.what
    else:
        lacks(outcome, ["cut-before-speed"])


def test_dwell_counts_in_the_machine_s_unit(shop: Path) -> None:
    """RS274/NGC 3.5.4 has seconds; the bench counts milliseconds and takes 2 s."""
    text = (
        HEAD
        + "G0 Z5\nM0 (ASKS spindle-on)\nG4 P{}\nG1 Z-2 F300\nG0 Z5\nM0 (ASKS spindle-off)\nM2\n"
    )

    assert (
        "G4 P2000"
        in fires(labelled(shop, text.format(3), BENCH), "cut-before-speed", WARN, 5).remedy
    )
    lacks(labelled(shop, text.format(2000), BENCH), ORDER)


def test_cut_while_the_spindle_stands() -> None:
    stopped = HEAD + "G0 Z5\nM5\nG1 Z-2 F300\nX60\nG0 Z30\nM30\n"

    fires(alone(stopped), "cut-at-rest", REFUSE, 4)
    lacks(alone(stopped.replace("Z-2", "Z0.1")), ["cut-at-rest"])
    never = HEAD + CUT + "M30\n"
    fires(alone(never), "spindle-missing", WARN, 4)
    lacks(alone(HEAD + START + CUT + END), ["spindle-missing", "cut-at-rest"])


def test_straight_up_is_no_cut() -> None:
    text = HEAD + "G0 Z-2\nM5\nG1 Z5 F300\nM30\n"

    lacks(alone(text), ["cut-at-rest", "spindle-missing"])


def test_cut_by_hand_with_nobody_asked(shop: Path) -> None:
    """A router with a switch of its own: M3 does nothing."""
    text = HEAD + "M3\n" + CUT + "M2\n"

    fires(alone(text, BENCH), "spindle-missing", WARN, 5)
    fires(alone(HEAD + "M0\n" + CUT + "M2\n", BENCH), "spindle-missing", NOTE, 5)
    off = HEAD + "M0 (ASKS spindle-off)\n" + CUT + "M2\n"
    fires(labelled(shop, off, BENCH), "cut-at-rest", REFUSE, 5)


def test_hand_switched_spindle_is_left_on() -> None:
    fires(alone(HEAD + "M0\n" + CUT + "M2\n", BENCH), "spindle-left-on", WARN, 8)
    lacks(alone(HEAD + "M0\n" + CUT + "M0\nM2\n", BENCH), ["spindle-left-on"])


def test_spindle_is_left_on_where_no_end_word_stops_it() -> None:
    """RS274/NGC 3.6.1: M2 and M30 stop the spindle; the end of the text does not."""
    fires(alone(HEAD + START + CUT), "spindle-left-on", WARN)
    lacks(alone(HEAD + START + CUT + "M30\n"), ["spindle-left-on"])


@pytest.mark.parametrize("word", ["M0", "M1", "M5", "M30"])
def test_nothing_halts_in_the_work(word: str) -> None:
    text = HEAD + START + "G0 Z5\nG1 Z-2 F300\nX60\n{}\nG0 Z30\nM5\nG4 P12\nM30\n"

    told = fires(alone(text.format(word)), "halted-in-work", WARN, 7)
    assert "2 mm in the sheet" in told.what
    lacks(alone(text.format("G0 Z0.5\n" + word)), ["halted-in-work"])


def test_nobody_reaches_for_a_switch_while_the_bit_is_in_the_work(shop: Path) -> None:
    text = (
        HEAD + "M0 (ASKS spindle-on)\nG4 P2000\nG0 Z5\nG1 Z-2 F300\n{}M0 (ASKS spindle-off)\nM2\n"
    )

    fires(labelled(shop, text.format(""), BENCH), "halted-in-work", REFUSE, 6)
    lacks(labelled(shop, text.format("G0 Z5\n"), BENCH), ORDER)


def test_zero_at_the_bed_puts_the_top_of_the_sheet_higher() -> None:
    """The frames' sheet is 8.8 to 9.2 thick: Z8 is in it, and Z9 is perhaps."""
    text = HEAD + "G0 Z20\nM5\nG1 Z{} F300\nX60\nG0 Z30\nM30\n"
    bed = "setup.sheet.zero=bed"

    fires(alone(text.format(8), RELAY, bed), "cut-at-rest", REFUSE, 4)
    fires(alone(text.format(9), RELAY, bed), "cut-at-rest", WARN, 4)
    lacks(alone(text.format(9.3), RELAY, bed), ["cut-at-rest"])
    lacks(alone(text.format(8)), ["cut-at-rest"])


# --- tools, hold-down, pauses, lifting -----------------------------------------------------------


def test_tool_is_changed_when_the_spindle_stands() -> None:
    text = HEAD + START + CUT + "M5\nG4 P{}\nT2 M6\nM0\nM30\n"

    fires(alone(text.format(11)), "hand-before-standstill", REFUSE, 11)
    lacks(alone(text.format(12)), ["hand-before-standstill"])
    changer = alone(text.format(11), RELAY, "machine.tool-change=changer")
    lacks(changer, ["hand-before-standstill"])


def test_somebody_must_have_the_time_to_change_the_tool() -> None:
    """RS274/NGC 3.6.3 has a changer; without one a controller may pass over M6."""
    text = HEAD + START + CUT + "M5\nG4 P12\nT2 M6\n{}G0 Z40\nG92 Z40\n" + START + CUT + END

    fires(alone(text.format("")), "change-without-stop", WARN, 11)
    lacks(alone(text.format("M0\n")), ["change-without-stop", "tool-without-zero"])


@pytest.mark.parametrize("off", ["M9", "M30"])
def test_sheet_is_held_until_the_spindle_stands(off: str) -> None:
    """RS274/NGC 3.6.4 and 3.6.1: M9 switches mist and flood off, and so do M2 and M30."""
    text = HEAD + "M7\n" + START + CUT + "M5\nG4 P{}\n" + off + "\nM30\n"
    wired = ("machine.outputs.M7=vacuum table", "machine.hold-down=M7")

    told = fires(alone(text.format(9), SPEED, *wired), "sheet-let-go", REFUSE, 12)
    assert "vacuum table" in told.what
    assert "G4 P10" in told.remedy
    lacks(alone(text.format(10), SPEED, *wired), ["sheet-let-go"])
    lacks(alone(text.format(9).replace("M7\n", "M8\n"), SPEED, *wired), ["sheet-let-go"])


def test_nothing_is_cut_when_the_sheet_is_let_go() -> None:
    text = HEAD + "M7\nM9\n" + START + CUT + END

    fires(alone(text, SPEED, "machine.hold-down=M7"), "sheet-let-go", REFUSE, 8)


def test_which_output_holds_the_sheet_is_asked_for(tmp_path: Path) -> None:
    text = HEAD + "M8\n" + START + CUT + "{}M9\nM5\nG4 P12\nM30\n"

    untold = differing(tmp_path, RELAY, "hold-down: none", "# hold-down: none")
    told = [f for f in alone(text.format(""), untold).findings if "machine.hold-down" in f.what]
    assert [finding.severity for finding in told] == [NOTE]
    standing = alone(text.format("M5\nG4 P12\n"), untold)
    assert not [f for f in standing.findings if "machine.hold-down" in f.what]
    answered = alone(text.format(""), RELAY)
    assert not [f for f in answered.findings if "machine.hold-down" in f.what]


def test_m1_alone_is_no_pause_to_rely_on() -> None:
    fires(alone(HEAD + "G0 Z5\nM1\n" + START + CUT + END), "pause-optional", WARN, 3)
    lacks(alone(HEAD + "M0\nG0 Z5\nM1\n" + START + CUT + END), ["pause-optional"])


def test_first_move_goes_up() -> None:
    told = fires(alone(HEAD + "G0 X20 Y20\n" + START + CUT + END), "sideways-unlifted", WARN, 2)
    assert told.remedy.endswith("G0 Z25")
    for first in ("G0 Z30\n", "G53 G0 Z-5\n", "G28\n"):
        lacks(alone(HEAD + first + "G0 X20 Y20\n" + START + CUT + END), ["sideways-unlifted"])


def test_head_lifts_before_it_parks() -> None:
    text = HEAD + START + "G0 Z5\nG0 X20 Y20\nG1 Z-2 F300\nX60\n{}G0 X0 Y0\nG0 Z30\n" + END

    fires(alone(text.format("")), "sideways-unlifted", REFUSE, 8)
    lacks(alone(text.format("G0 Z5\n")), ["sideways-unlifted"])


# --- probes --------------------------------------------------------------------------------------

AT_PLATE = HEAD + "G28\nM5\nG4 P12\nG53 G0 X-720 Y-520\nM0\nG0 Z{start}\nG38.2 Z{aim} F{feed}\n"
BEHIND = "G92 Z15\nG0 Z30\nM0\nM30\n"


def probed(start: float = -65, aim: float = -75, feed: float = 150, behind: str = BEHIND,
           machine: str = RELAY, overrides: tuple[str, ...] = ()) -> Outcome:  # fmt: skip
    text = AT_PLATE.format(start=start, aim=aim, feed=feed) + behind
    return alone(text, machine, *overrides)


PROBING = "G38.2 Z-20 F100"
PROBES = ("probe-upward", "probe-out-of-reach", "probe-too-low", "probe-overrun",
          "touch-not-lifted", "touch-unused", "plate-mistaken")  # fmt: skip


@pytest.mark.parametrize(
    ("start", "aim", "fine"),
    [(-68.7, -72.3, True), (-68.9, -75, False), (-65, -72.1, False), (-65, -72.3, True)],
)
def test_probe_reaches_the_plate_over_all_that_may_vary(
    start: float, aim: float, fine: bool
) -> None:
    """Own arithmetic on the relay machine: bed 130, bit 34 to 37, sheet 8.8 to 9.2, plate 15. The
    plate's top lies 130 - 37 - 9.2 - 15 = 68.8 to 130 - 34 - 8.8 - 15 = 72.2 below the top."""
    outcome = probed(start, aim)

    if fine:
        lacks(outcome, PROBES)
    else:
        told = fires(outcome, "probe-out-of-reach", REFUSE, 8)
        assert ("Z-68.8" in told.remedy) is (start == -68.9)
        assert ("Z-72.2" in told.remedy) is (aim == -72.1)


@settings(max_examples=40, deadline=None)
@given(
    least=st.decimals(3, 20, places=2).map(float),
    spread=st.decimals(0, 4, places=2).map(float),
    out=st.decimals(1, 4, places=2).map(float),
)
def test_reach_follows_the_sheet(least: float, spread: float, out: float) -> None:
    """Whatever the sheet measures, aiming below the lowest plate is fine and above it is not."""
    most = round(least + spread, 2)
    sheet = (f"setup.sheet.thickness.least={least}", f"setup.sheet.thickness.most={most}")
    lowest = 0 - (130 - 34 - least - 15)
    above = -(130 - 37 - most - 15) + 2

    lacks(probed(round(above, 3), round(lowest - out, 3), 60, overrides=sheet),
          ["probe-out-of-reach"])  # fmt: skip
    if above > lowest + out + 0.3:
        told = probed(round(above, 3), round(lowest + out, 3), 60, overrides=sheet)
        fires(told, "probe-out-of-reach", REFUSE)


def test_probe_aims_down() -> None:
    """RS274/NGC 3.5.9.1 lets a probe aim anywhere that is not too near; upwards is no plate."""
    fires(probed(-75, -65), "probe-upward", REFUSE, 8)


@pytest.mark.parametrize(("aim", "fine"), [(-0.1, False), (0, True)])
def test_lowest_target_holds_for_any_file(aim: float, fine: bool) -> None:
    """The bench refuses a probe that aims below zero, as shown."""
    text = HEAD + f"G28 Z0\nG92 Z54\nM0\nG0 Z10\nG38.2 Z{aim} F100\nG92 Z12.02\nG0 Z30\nM0\nM2\n"

    if fine:
        lacks(alone(text, BENCH), ["probe-too-low"])
    else:
        assert "aim at Z0:" in fires(alone(text, BENCH), "probe-too-low", REFUSE, 6).remedy


def test_which_numbers_soft_limits_compare_is_asked_for(tmp_path: Path) -> None:
    """The second touch aims at Z5, and the relay machine's travel ends at Z0."""
    machine = differing(tmp_path, RELAY, "numbers: machine ", "# ")
    behind = BEHIND.replace("Z15\n", "Z15\nG0 Z17\nG38.2 Z{} F60\nG92 Z15\n", 1)
    first = AT_PLATE.format(start=-65, aim=-75, feed=150)

    told = [f.what for f in alone(first + behind.format(5), machine).findings
            if "machine.soft-limits.numbers" in f.what]  # fmt: skip
    assert len(told) == 1
    assert "Z5" in told[0]
    none = alone(first + behind.format(-1), machine)
    assert not [f for f in none.findings if "machine.soft-limits.numbers" in f.what]


@pytest.mark.parametrize(
    ("acceleration", "reaction", "feed", "limit"),
    [(250, 0.01, 500, None), (50, 0.0, 500, 424)],
)
def test_probe_that_is_too_quick(
    acceleration: float, reaction: float, feed: float, limit: int | None
) -> None:
    """v^2 / 2a + v t, from elementary mechanics: 500 mm/min runs on 0.139 + 0.083 mm with 250 mm/s2
    and 10 ms, 0.694 mm with 50 mm/s2. 0.5 mm are sqrt(2 * 50 * 0.5) mm/s = 424 mm/min."""
    outcome = probed(feed=feed, overrides=(
        f"machine.axes.z.acceleration={acceleration}", f"machine.probe.reaction={reaction}"
    ))  # fmt: skip

    if limit is None:
        lacks(outcome, ["probe-overrun"])
    else:
        told = fires(outcome, "probe-overrun", WARN, 8)
        assert "0.694 mm" in told.what
        assert f"F{limit}" in told.remedy


def test_overrun_needs_room_behind_the_contact() -> None:
    slow = ("machine.axes.z.acceleration=50", "machine.probe.reaction=0")

    fires(probed(aim=-72.8, feed=500, overrides=slow), "probe-overrun", REFUSE, 8)


def test_acceleration_that_is_not_described(tmp_path: Path) -> None:
    machine = differing(tmp_path, RELAY, "feed: 1500, acceleration: 200", "feed: 1500")
    text = AT_PLATE.format(start=-65, aim=-75, feed=150) + BEHIND

    told = [f for f in alone(text, machine).findings if "machine.axes.z.acceleration" in f.what]
    assert [finding.name for finding in told] == ["cannot-tell"]


@pytest.mark.parametrize(
    ("move", "fine"),
    [
        ("G0 Z16", True),
        ("G53 G0 X-700", False),
        ("G0 X30 Z30", False),
        ("G0 Z14", False),
    ],
)
def test_head_goes_straight_up_behind_a_touch(move: str, fine: bool) -> None:
    outcome = probed(behind=f"G92 Z15\n{move}\nG0 Z30\nM0\nM30\n")

    if fine:
        lacks(outcome, ["touch-not-lifted"])
    else:
        fires(outcome, "touch-not-lifted", REFUSE, 10)


def test_touch_sets_something() -> None:
    fires(probed(behind="G0 Z30\nM0\nM30\n"), "touch-unused", WARN, 8)
    fires(probed(behind="G92 X0\nG0 Z30\nM0\nM30\n"), "touch-unused", WARN, 8)
    lacks(probed(), ["touch-unused"])


@pytest.mark.parametrize(
    ("number", "fine"), [(15, True), (15.002, False), (0, False), (-15, False)]
)
def test_z_on_the_plate_is_its_thickness(number: float, fine: bool) -> None:
    outcome = probed(behind=f"G92 Z{number}\nG0 Z30\nM0\nM30\n")

    if fine:
        lacks(outcome, ["plate-mistaken"])
    else:
        assert "set Z to 15," in fires(outcome, "plate-mistaken", REFUSE, 9).remedy


def test_z_on_the_plate_counts_the_sheet_where_zero_is_the_bed() -> None:
    bed = ("setup.sheet.zero=bed",)
    behind = "G92 Z{}\nG0 Z40\nM0\nM30\n"

    lacks(probed(behind=behind.format(24), overrides=bed), ["plate-mistaken"])
    told = fires(probed(behind=behind.format(15), overrides=bed), "plate-mistaken", REFUSE, 9)
    assert "23.8 to 24.2" in told.remedy


def test_second_touch_starts_above_the_first() -> None:
    behind = "G92 Z15\nG0 Z17\nG38.2 Z{} F60\nG92 Z15\nG0 Z30\nM0\nM30\n"

    lacks(probed(behind=behind.format(12)), PROBES)
    fires(probed(behind=behind.format(15.5)), "probe-out-of-reach", REFUSE, 11)


# --- references and files ------------------------------------------------------------------------


def test_cut_behind_homing_needs_a_zero() -> None:
    """On the relay machine homing takes the shift of G92 away: Z reads the machine's numbers."""
    text = HEAD + "G28\nG53 G0 X-720 Y-520\n{}" + START + "G1 Z-2 F300\nG0 Z0\n" + END

    fires(alone(text.format("G92 X0 Y0\n")), "cut-without-zero", REFUSE, 7)
    lacks(alone(text.format("G92 X0 Y0 Z60\n")), ["cut-without-zero"])


@pytest.mark.parametrize(
    ("kept", "told"),
    [
        ("kept-after-end: false", ["zero-not-kept"]),
        ("kept-after-end: true", []),
        ("", ["cannot-tell"]),
    ],
)
def test_zero_of_a_file_that_cuts_nothing_must_be_kept(
    tmp_path: Path, kept: str, told: list[str]
) -> None:
    """RS274/NGC 3.6.1: M2 and M30 cancel the shift, as G92.2 does; some controllers keep it."""
    machine = differing(tmp_path, RELAY, "kept-after-end: false", kept)
    names = ("zero-not-kept", "cannot-tell")

    outcome = alone(bare(TOUCH) + "M0\nM30\n", machine)
    assert [f.name for f in outcome.findings if "zero" in f.what and f.name in names] == told
    lacks(alone(bare(TOUCH) + "M0\n" + START + CUT + END, machine), ["zero-not-kept"])


def test_machine_moves_come_behind_homing() -> None:
    fires(alone(HEAD + "G53 G0 Z-5\nG28\n" + START + CUT + END), "not-homed", REFUSE, 2)
    lacks(alone(HEAD + "G28\nG53 G0 Z-5\n" + START + CUT + END), ["not-homed"])


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(
    ["M3", "M5", "G4 P3", "G4 P12", "M0", "M1", "G0 Z5", "G1 X9", "G1 Z-1", "T2 M6", "M8", "M9",
     PROBING, "G92 Z15", "G28", "G53 G0 Z-5", "G0 X3", "M2"]), max_size=14))  # fmt: skip
def test_any_order_is_judged_without_a_fault(lines: list[str]) -> None:
    """Whatever comes in whatever order: each kind is told once, at a line of the file, and no
    spindle starts unremarked between a probe and the next pause."""
    for machine in (RELAY, BENCH):
        text = "G21 G90 F100\nG0 Z5\nG0 X1 Y1\n" + "\n".join(lines) + "\n"
        outcome = alone(text, machine)
        for name in (*ORDER, *PROBES):
            finding = found(outcome, name)
            assert finding is None or finding.place is not None
            assert finding is None or 1 <= finding.place.line <= len(lines) + 3
    words = [line for line in lines if line in (PROBING, "M0", "M3", "M2")]
    executed = words[: words.index("M2")] if "M2" in words else words
    if (PROBING, "M3") in pairwise(executed):
        refused = {finding.name for finding in alone(text).findings if finding.severity is REFUSE}
        # a probe under a turning spindle is refused as a line (RS274/NGC 3.5.9.1)
        assert refused & {"spindle-with-clip", "probe-spindle-on"}
