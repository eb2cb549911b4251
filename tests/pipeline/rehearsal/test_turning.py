"""Axes that turn, in the rehearsal: what is told of a job on a blank, and what cannot be told.

The workshop is that of the examples, with a rotary axis A along X; RS274/NGC 2.1.2.5 says what F
counts on a line that turns it. That an arc is as long as radius times angle any textbook has.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

import headrace
from headrace.errors import RecipeError
from headrace.findings import Severity
from headrace.machine import Assumed
from headrace.outcome import Outcome
from headrace.plugins.registry import load_registry
from headrace.recipe import load_plan
from headrace.run import prepare_job
from headrace.sheet.shown import shown
from headrace.timing.times import times_of

from .outcomes import fires, found

BASE = Path(str(headrace.__file__)).parent / "findings" / "examples" / "bases" / "turning"
RING = (BASE / "job.nc").read_text("utf-8")


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    for name in ("machine.yaml", "setup.yaml", "recipe.yaml"):
        (tmp_path / name).write_bytes((BASE / name).read_bytes())
    return tmp_path


def prepared(shop: Path, job: str, *values: str) -> Outcome:
    registry = load_registry()
    return prepare_job(
        "job.nc", job.encode(), load_plan(shop / "recipe.yaml", registry, values), registry
    )


def other(file: Path, old: str, new: str) -> None:
    text = file.read_text("utf-8")
    assert text.count(old) == 1
    file.write_text(text.replace(old, new))


def test_a_sound_job_goes_through_and_nothing_is_told(shop: Path) -> None:
    outcome = prepared(shop, RING)

    assert outcome.result is not None
    assert outcome.findings == ()


def test_an_axis_that_is_not_described_is_a_word_too_many(shop: Path) -> None:
    outcome = prepared(shop, RING.replace("A360", "B360").replace("A0", "B0"))

    fires(outcome, "word-unknown-here", Severity.REFUSE, 5)


@pytest.mark.parametrize(("feed", "told"), [(3600, False), (3618.5, True), (9000, True)])
def test_a_turn_alone_goes_at_degrees_a_minute(shop: Path, feed: float, told: bool) -> None:
    outcome = prepared(shop, RING.replace("F1800", f"F{feed}"))

    assert (found(outcome, "feed-over-axis") is not None) == told


def test_f_counts_x_alone_where_x_goes_too(shop: Path) -> None:
    """36 degrees on 1 mm at F200 are 7200 degrees a minute (2.1.2.5)."""
    job = RING.replace("G1 A360 F1800", "G1 X51 A36 F200")

    finding = fires(prepared(shop, job), "feed-over-axis", Severity.WARN, 8)
    assert "7200 degrees/min" in finding.what
    assert "F100 is the most" in finding.remedy
    slow = prepared(shop, job, "machine.rotary.a.counts=all")
    assert found(slow, "feed-over-axis") is None  # 200 * 36 / 36.01


def test_what_f_counts_is_asked_for(shop: Path) -> None:
    other(shop / "machine.yaml", ",\n      counts: linear", "")
    job = RING.replace("G1 A360 F1800", "G1 X51 A36 F20")

    finding = found(prepared(shop, job), "cannot-tell")

    assert finding is not None
    assert "machine.rotary.a.counts is not given" in finding.what
    assert prepared(shop, RING).findings == ()  # a turn alone is told


def test_inverse_time_tells_how_fast_it_turns(shop: Path) -> None:
    """360 degrees, 11 times a minute."""
    job = RING.replace("G1 A360 F1800", "G93 G1 A360 F11\nG94")

    assert "3960 degrees/min" in fires(prepared(shop, job), "feed-over-axis", Severity.WARN).what
    assert found(prepared(shop, job.replace("F11", "F9")), "feed-over-axis") is None


def test_a_rapid_may_turn_the_blank_above_it_only(shop: Path) -> None:
    low = RING.replace("G0 Z20\nM5", "G0 A0\nG0 Z20\nM5")
    along = RING.replace("G0 Z20\nM5", "G0 A0 Z20\nM5")
    above = RING.replace("G0 Z20\nM5", "G0 Z20\nG0 A0\nM5")

    fires(prepared(shop, low), "turns-in-blank", Severity.REFUSE, 9)
    fires(prepared(shop, along), "turns-in-blank", Severity.REFUSE, 9)
    assert prepared(shop, above).findings == ()


@pytest.mark.parametrize(("degrees", "told"), [(720, False), (720.1, True), (-721, True)])
def test_travel_of_a_turning_axis(shop: Path, degrees: float, told: bool) -> None:
    other(shop / "machine.yaml", "travel: unlimited", "travel: [-720, 720]")

    outcome = prepared(shop, RING.replace("A360", f"A{degrees}"))

    assert (found(outcome, "turn-outside") is not None) == told
    # where its zero lies nobody knows, so this cannot be certain
    assert (found(outcome, "cannot-tell") is None) == told


@pytest.mark.parametrize(("depth", "told"), [(19.9, False), (20, True), (25, True)])
def test_no_deeper_than_the_centre_line(shop: Path, depth: float, told: bool) -> None:
    outcome = prepared(shop, RING.replace("Z-2", f"Z-{depth}"))

    assert (found(outcome, "past-the-axis") is not None) == told


def test_a_flat_job_on_a_blank(shop: Path) -> None:
    flat = RING.replace("A0", "Y0").replace("A360", "Y12")

    fires(prepared(shop, flat), "beside-the-axis", Severity.REFUSE, 8)


def test_a_bit_that_was_left_beside_the_centre_line(shop: Path) -> None:
    """The job names no Y: it is cut where the touch was."""
    beside = prepared(shop, RING, "setup.plate.at=[80, 3]")
    led = prepared(shop, RING.replace("G0 X50 A0", "G0 X50 Y0 A0"), "setup.plate.at=[80, 3]")

    assert "3 mm beside" in fires(beside, "beside-the-axis", Severity.REFUSE, 7).what
    assert led.findings == ()


def test_past_the_ends_of_the_blank(shop: Path) -> None:
    far = prepared(shop, RING.replace("X50", "X163"))
    near = prepared(shop, RING.replace("G1 A360", "G1 X-1 A360"))

    assert "3 mm past the far end of the blank" in fires(far, "off-sheet", Severity.WARN).what
    assert "1 mm past the near end" in fires(near, "off-sheet", Severity.WARN).what


def test_a_turn_without_a_blank_is_told(shop: Path) -> None:
    other(
        shop / "setup.yaml", "blank: {diameter: 40, from: 150, length: 160}",
        "sheet: {thickness: 9, corner: [150, 210], size: [160, 40]}",
    )  # fmt: skip

    outcome = prepared(shop, RING)

    told = [finding.what for finding in outcome.findings if finding.name == "cannot-tell"]
    assert (
        "cannot tell what the bit meets on a blank that A turns: setup.blank is not given" in told
    )


def test_a_sheet_and_a_blank_are_one_too_many(shop: Path) -> None:
    other(shop / "setup.yaml", "plate:", "sheet: {thickness: 9}\nplate:")

    with pytest.raises(RecipeError, match="only one of them"):
        prepared(shop, RING)


@pytest.mark.parametrize(
    ("old", "new"), [("travel: unlimited", "travel: [9, -9]"), ("at: 210", "at: 900")]
)
def test_a_rotary_axis_that_contradicts_itself(shop: Path, old: str, new: str) -> None:
    other(shop / "machine.yaml", old, new)

    with pytest.raises(RecipeError) as caught:
        prepared(shop, RING)
    assert caught.value.findings[0].name == "recipe-contradiction"


def test_chips_go_by_the_feed_on_the_surface(shop: Path) -> None:
    """At F1800 degrees a minute the surface of 40 goes by at 628.3 mm/min: with two teeth at 18000
    rev/min 0.01745 mm a tooth (common practice: fz = vf / (n z))."""
    tool = "  fastest: 24000"
    other(shop / "setup.yaml", tool, f"{tool}\n  teeth: 2\n  chip: [0.017, 0.018]")
    surface = math.pi * 40 * 1800 / 360 / (18000 * 2)
    assert surface == pytest.approx(0.01745, abs=1e-5)

    assert prepared(shop, RING).findings == ()
    thick = fires(prepared(shop, RING.replace("F1800", "F3600")), "chips-too-thick", Severity.WARN)
    assert "0.035 mm a tooth" in thick.what


def test_times_go_by_the_surface(shop: Path) -> None:
    """One turn at 1800 degrees a minute takes 12 s, and 2 mm and 2 mm more at F300 0.8 s."""
    outcome = prepared(shop, RING)

    assert outcome.job is not None
    times = times_of(outcome.job)
    assert times.unknown == 2  # homing, whose feed is not described
    assert times.cutting == pytest.approx(12 + 4 / 300 * 60, abs=1e-6)
    assert times.low is None  # no acceleration of A, no plan


def test_clamps_and_travel_are_looked_at_as_ever(shop: Path) -> None:
    struck = prepared(shop, RING.replace("G0 X50 A0\nG0 Z2", "G0 X50 A0\nG0 Z2\nG0 X-10\nG0 X50"))

    fires(struck, "clamp-struck", Severity.REFUSE, 7)


def test_what_is_told_of_a_file_tells_of_turns(shop: Path) -> None:
    """A ring on a blank of 40 is 125.7 mm long, at 628.3 mm/min on the surface."""
    outcome = prepared(shop, RING)

    assert outcome.job is not None
    facts = shown(outcome.job, outcome.source, Assumed(), bare=False)
    assert [(each.axis, each.unit) for each in facts.extents][3:] == [("A", "degrees")]
    assert any("turns A to 360 degrees" in sentence for sentence in facts.does)
    (tool,) = facts.tools
    assert tool.cut == pytest.approx(math.pi * 40 + 2)  # and 2 mm down in the wood
    assert tool.feeds is not None
    assert tool.feeds.most == pytest.approx(math.pi * 40 * 1800 / 360, abs=0.001)
    assert facts.depth is not None
    assert facts.depth.left is not None
    assert facts.depth.left.most == pytest.approx(38)  # of the blank, to its other side


@pytest.mark.parametrize(
    ("arc", "off"),
    [("G2 X60 I5 J0 F900", 5), ("G3 X60 I5 J0 F900", 5), ("G2 X60 R13 F900", 1),
     ("G18 G2 X60 I5 K0 F900", None)],
)  # fmt: skip
def test_an_arc_that_bows_out_beside_the_centre_line(
    shop: Path, arc: str, off: float | None
) -> None:
    """It begins and ends above it. Half a circle over 10 mm bows out by 5; over a chord of 10 an
    arc of radius 13 by 13 - sqrt(13^2 - 5^2) = 1."""
    job = RING.replace("G0 X50 A0", "G0 X50 Y0 A0").replace("G1 A360 F1800", arc)
    finding = found(prepared(shop, job), "beside-the-axis")

    if off is None:
        assert finding is None
    else:
        assert finding is not None
        assert finding.severity is Severity.REFUSE
        assert f"{off} mm beside" in finding.what
