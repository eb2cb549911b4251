"""Where numbers count from: zeros that move, zeros beside the corner, touches beside the plate.

Whole files, looked at alone on the demo's bench machine: Z travel 85, bed 108, bit 28 to 32 out,
sheet 17.6 to 18.1 on X20 Y20 and 580 by 500, plate at X50 Y50. Sums are on paper from these.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from headrace.cli.group import headrace as command
from headrace.findings import Finding, Severity
from headrace.machine import Setup
from headrace.plugins.registry import load_registry
from headrace.recipe import load_plan
from headrace.rehearsal.shifts import shifts
from headrace.rehearsal.space.frame import Frame
from headrace.run import prepare_job

RECIPES = Path(__file__).parents[3] / "recipes"
REGISTRY = load_registry()
BENCH = load_plan(RECIPES / "bench-lids.yaml", REGISTRY)
AS_IT_IS = replace(BENCH, steps=tuple(step for step in BENCH.steps if step.name != "adapt"))
CARDS = load_plan(RECIPES / "bench-setup-cards.yaml", REGISTRY)
RELAY = load_plan(RECIPES / "relay-frames.yaml", REGISTRY)

HOME = "G21 G17 G90 G94 G40 G49\nG28 Z0\nG28 X0 Y0\nG92 Z56\nG0 X20 Y20\n"
CORNER = "G92 X0 Y0\n"
PLACE = "G0 X50 Y50\n"
TOUCH = (
    "M0\nG0 Z13.12\nG38.2 Z2.62 F120\nG92 Z12.02\nG0 Z14.02\nG38.2 Z9.02 F30\nG92 Z12.02\n"
    "G0 Z27.02\nM0\n"
)
CUT = "G0 X100 Y100\nG0 Z2\nG1 Z-3 F300\nG1 X200 F1200\nG0 Z25\nM2\n"
GOOD = HOME + CORNER + PLACE + TOUCH + CUT

JOB = (
    "G21 G17 G90 G94\nS17000 M3\nG0 Z5\n{}G0 X100 Y100\nG0 Z2\nG1 Z-3 F300\nX120\nG0 Z25\nM5\nM2\n"
)


def alone(text: str, folder: Path, machine: str = "bench-hand-switched") -> str:
    """What is said of a file that is looked at alone."""
    (folder / "file.nc").write_text(text, "utf-8")
    setups = {"bench-hand-switched": "lids-18", "shop-relay": "frames-9"}
    setup = setups.get(machine, "floor-boards-18")
    result = CliRunner().invoke(
        command,
        [
            *("check", "--machine", str(RECIPES / "machines" / f"{machine}.yaml")),
            *("--setup", str(RECIPES / "setups" / f"{setup}.yaml"), str(folder / "file.nc")),
        ],
    )
    return result.output


def prepared(lines: str, plan=BENCH) -> dict[str, Finding]:  # type: ignore[no-untyped-def]
    """The first finding of each name on a job that goes to X100 Y100 and cuts."""
    outcome = prepare_job("job.nc", JOB.format(lines).encode(), plan, REGISTRY)
    found: dict[str, Finding] = {}
    for finding in outcome.findings:
        found.setdefault(finding.name, finding)
    return found


NEW = ("job-moves-zero", "touch-misplaced", "touch-beside-plate", "zero-off-corner")


def test_a_good_file_gives_none_of_it(tmp_path: Path) -> None:
    said = alone(GOOD, tmp_path)

    assert [name for name in NEW if name in said] == []
    assert "target-outside" not in said
    assert "1 fit for the card" in said


# --- zeros that move --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "gone"),
    [("G92 Z25\n", -20.0), ("G92 Z5.0\n", None), ("G92 Z1\n", 4.0)],
)
def test_job_may_not_move_the_zero_of_the_steps(line: str, gone: float | None) -> None:
    """The line before goes to Z5. G92 makes the place read the number (RS274/NGC 3.5.18)."""
    found = prepared(line).get("job-moves-zero")

    assert (found is None) == (gone is None)
    if found is not None and gone is not None:
        assert found.severity is Severity.REFUSE
        assert found.what.endswith(f": Z by {gone:g}")


def test_zero_of_files_before_is_a_warning() -> None:
    found = prepared("G92 Z25\n", CARDS)["job-moves-zero"]

    assert found.severity is Severity.WARN


@pytest.mark.parametrize("plan", [BENCH, RELAY])
def test_numbers_behind_a_further_g92_are_followed(plan) -> None:  # type: ignore[no-untyped-def]
    """At Z5 the numbers become 25: the job's Z2 is 18 below the top of the sheet, Z-3 23."""
    found = prepared("G92 Z25\n", plan)

    assert "plunges to 18 mm below" in found["rapid-in-sheet"].what
    thickest, floor = plan.setup.sheet.thickness.most, "below-sheet"
    deeper = 23 - thickest
    assert floor in found or "bed-struck" in found
    if floor in found:
        assert f"{deeper:g} mm deeper" in found[floor].what


def test_numbers_raised_by_a_further_g92_leave_the_wood_alone() -> None:
    """At Z5 the numbers become 1: Z-3 is 1 above the top, and nothing is cut."""
    found = prepared("G92 Z1\n")

    assert "rapid-in-sheet" not in found
    assert "below-sheet" not in found


def test_travel_is_that_of_the_place_and_not_of_the_number(tmp_path: Path) -> None:
    """Behind G92 Z80 at Z2 the numbers lie 78 higher, and so does their travel."""
    said = alone(GOOD.replace("G0 X100", "G0 Z2\nG92 Z80\nG0 Z85\nG0 X100"), tmp_path)
    mended = alone(GOOD.replace("G0 X100", "G0 Z2\nG92 Z80\nG0 Z85\nG92 Z7\nG0 X100"), tmp_path)

    assert "target-outside" in said
    assert "Z by -78" in said
    assert "target-outside" not in mended
    assert "rapid-in-sheet" not in mended


def test_file_that_sets_its_zero_twice_is_told(tmp_path: Path) -> None:
    """With Z the plate's place is made X0 Y0 too: 50 off."""
    said = alone(GOOD.replace("G92 Z12.02\nG0 Z27", "G92 X0 Y0 Z12.02\nG0 Z27"), tmp_path)

    assert "away from where it was: X by 50, Y by 50" in said
    assert "zero-off-corner" in said


def test_zero_put_away_behind_all_moves_is_fine(tmp_path: Path) -> None:
    assert "job-moves-zero" not in alone(GOOD.replace("M2", "G92.1\nM2"), tmp_path)


@settings(deadline=None, max_examples=30)
@given(st.lists(st.floats(-40, 40).map(lambda n: round(n, 2)), min_size=1, max_size=6))
def test_shifts_add_up(numbers: list[float]) -> None:
    """However often numbers are moved, place and number stay so far apart as all moves together:
    a sum of their own, kept beside them."""
    here, place, lines = 5.0, 5.0, ""
    for number in numbers:
        lines += f"G92 Z{number:.2f}\nG0 Z{number + 1:.2f}\n"
        here, place = number + 1, place + 1
    outcome = prepare_job("job.nc", JOB.format(lines).encode(), CARDS, REGISTRY)
    assert outcome.job is not None
    trace = outcome.job.trace
    at = [
        shift[2]
        for block, shift in zip(trace.blocks, shifts(trace.blocks, trace), strict=True)
        if np.isclose(block.ends[2], 25.0).any()
    ]

    assert at[-1] == pytest.approx(place - here, abs=1e-6)


@pytest.mark.parametrize(
    ("zero", "thickness", "tip", "floor"),
    [
        ("top", 18, -20, -2),
        ("bed", 18, -38, -20),
        ("top", None, -20, None),
        ("bed", None, None, -20),
    ],
)
def test_heights_of_moved_numbers(
    zero: str, thickness: float | None, tip: float | None, floor: float | None
) -> None:
    """Numbers that lie 20 below those of the job; top and spoilboard are a sheet apart."""
    sheet = {"zero": zero} | ({} if thickness is None else {"thickness": thickness})
    nan = float("nan")
    frame = Frame.of(BENCH.machine, Setup.of({"sheet": sheet}), (nan, nan, nan), (0.0, 0.0, -20.0))

    assert (None if frame.tip is None else frame.tip.least) == tip
    assert (None if frame.floor is None else frame.floor.least) == floor


# --- touches and corners ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("place", "name"),
    [
        ("X50 Y50", None),
        ("X60 Y50", None),
        ("X60.1 Y50", "touch-beside-plate"),
        ("X290 Y490", "touch-misplaced"),  # the clamp at the back: X270 to 310, Y480 to 520
        ("X290 Y479", "touch-beside-plate"),
        ("X-1 Y50", "touch-misplaced"),
        ("X50 Y501", "touch-misplaced"),
    ],
)
def test_touch_belongs_on_the_plate(tmp_path: Path, place: str, name: str | None) -> None:
    said = alone(GOOD.replace("X50 Y50", place), tmp_path)

    assert [each for each in NEW if each in said] == ([] if name is None else [name])
    assert ("refused:" in said) is (name == "touch-misplaced")


def test_zero_that_is_not_the_corner(tmp_path: Path) -> None:
    """Without `G92 X0 Y0` the numbers are the machine's, 20 left and in front of the corner."""
    said = alone(GOOD.replace(CORNER, ""), tmp_path)

    assert "X by -20, Y by -20" in said


def test_no_zero_at_all_on_a_machine_that_forgets_it() -> None:
    found = prepared("", replace(RELAY, steps=()))["zero-off-corner"]

    assert found.severity is Severity.NOTE
    assert "zero-off-corner" not in prepared("", CARDS)
    assert "zero-off-corner" not in prepared("", RELAY)


# --- rapids -----------------------------------------------------------------------------------


def test_rapid_through_the_sheet_in_a_file_that_cuts_nothing(tmp_path: Path) -> None:
    """Tip at Z-75: 108 - 75 = 33 below the collet, 1 to 5 above the board, a sheet 18 thick."""
    text = "G21 G90 G94\nG28 Z0\nG28 X0 Y0\n{}G0 X300 Y300\nG0 Z0\nM2\n"

    assert "rapid-in-sheet" in alone(text.format("G0 Z-75\n"), tmp_path)
    assert "rapid-in-sheet" not in alone(text.format("G0 Z-40\n"), tmp_path)


@pytest.mark.parametrize(("height", "told"), [(0.5, False), (0.4, True), (0.0, True)])
def test_rapid_close_above_a_sheet_that_varies(height: float, told: bool) -> None:
    """The sheet is 17.6 to 18.1: half a millimetre."""
    job = JOB.format("").replace("G0 Z25", f"G0 Z{height}\nG0 X130\nG0 Z25")
    outcome = prepare_job("job.nc", job.encode(), BENCH, REGISTRY)

    assert ("low-sideways" in [f.name for f in outcome.findings]) is told
    assert not outcome.refused


# --- words ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lines", "name"),
    [
        ("G30\n", "stored-point-unknown"),
        ("#5181=100 #5182=100 #5183=-5\nG30\n", None),
        ("#5181=100 #5182=100\nG30\n", "stored-point-unknown"),
    ],
)
def test_stored_points_that_nothing_has_set(tmp_path: Path, lines: str, name: str | None) -> None:
    """Parameters 5181 to 5183 hold the point of G30 (RS274/NGC table 2)."""
    text = f"G21 G17 G90 G94 G54\nG28 Z0\nG28 X0 Y0\nG0 X300 Y300\nG0 Z-10\n{lines}M30\n"
    said = alone(text, tmp_path, "shop-speed-controlled")

    assert ("stored-point-unknown" in said) is (name is not None)


@pytest.mark.parametrize(
    ("arc", "told"),
    [
        ("G3 X100 Y100.001 I50 F900", True),
        ("G3 X100 Y100 I50 F900", False),
        ("G2 X100 Y100.001 I50 F900", False),
        ("G3 X100 Y100.02 I50 F900", False),
    ],
)
def test_whole_circles_that_hang_on_the_last_digit(arc: str, told: bool) -> None:
    """The turn of an arc from its ends and centre: 2 pi less gap / radius."""
    job = JOB.format("").replace("X120\n", f"{arc}\n")
    outcome = prepare_job("job.nc", job.encode(), BENCH, REGISTRY)

    assert ("circle-doubtful" in [f.name for f in outcome.findings]) is told


@pytest.mark.parametrize(
    ("word", "severity"), [("G90.1", Severity.REFUSE), ("G91.1", Severity.NOTE)]
)
def test_words_for_centres_are_not_of_the_standard(word: str, severity: Severity) -> None:
    """RS274/NGC (2000), table 5, has neither."""
    found = prepared(f"{word}\n", AS_IT_IS)["word-unknown-here"]

    assert found.severity is severity
    assert word in found.what


def test_old_mark_for_the_end_of_a_file() -> None:
    """Code 26, Ctrl-Z, marked the end of text files on early systems: common knowledge."""
    job = JOB.format("")

    def names(text: str) -> list[str]:
        outcome = prepare_job("job.nc", text.encode(), BENCH, REGISTRY)
        return [f.name for f in outcome.findings]

    assert "end-of-file-mark" in names(job + "\x1a")
    assert "text-after-end" not in names(job + "\x1a")
    assert "text-after-end" in names(job + "G0 X5\n\x1a")


# --- texts that must work when they are followed ----------------------------------------------


def test_aim_of_a_probe_is_mended_by_what_is_told(tmp_path: Path) -> None:
    """Plate 45.88 to 50.38 below the top: 108 - stick-out - sheet - 12.02."""
    text = "G21 G90 G94\nG28 Z0\nM0\n{}G38.2 Z{} F120\nG92 Z12.02\nG0 Z30\nM0\nM2\n"
    said = alone(text.format("", "-80"), tmp_path)

    assert "write `G92 Z54` before it" in said
    assert "aim at Z0" in said
    assert "1 fit for the card" in alone(text.format("G92 Z54\n", "0"), tmp_path)
    # the deepest plate needs more than 50.38
    assert "1 fit" not in alone(text.format("G92 Z50\n", "0"), tmp_path)


def test_aim_outside_the_travel_says_nothing_of_the_bit(tmp_path: Path) -> None:
    said = alone("G21 G90 G94\nG28 Z0\nG92 Z80\nG38.2 Z-80 F120\nM2\n", tmp_path)

    assert "aim no lower than Z-5" in said
    assert "stand out" not in said


def test_times_are_told_as_one_thinks_of_them() -> None:
    """4 000 000 ms read as seconds: 46.3 days."""
    found = prepared("G4 P4000000\n", RELAY)["dwell-implausible"]

    assert "46.3 days" in found.what
    assert "e+" not in found.what + found.remedy
