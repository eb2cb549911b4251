"""Where a job goes: each kind with a case that gives it, the nearest that must not, and bounds.

Sums are on paper from the demo's descriptions: bench Z travel 85, bed 108, bit 28 to 32 out, sheet
17.6 to 18.1 on X20 Y20; clamps 8 high, the left one X-20 to 20, Y230 to 270.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pipeline.rehearsal.outcomes import line_of

from headrace.findings import Finding, Severity
from headrace.machine import Shoe, Span
from headrace.outcome import Outcome
from headrace.plugins.registry import load_registry
from headrace.recipe import Plan, load_plan
from headrace.run import prepare_job

RECIPES = Path(__file__).parents[3] / "recipes"
REGISTRY = load_registry()
BENCH = load_plan(RECIPES / "bench-lids.yaml", REGISTRY)
CARDS = load_plan(RECIPES / "bench-setup-cards.yaml", REGISTRY)
RELAY = load_plan(RECIPES / "relay-frames.yaml", REGISTRY)
SHEET = load_plan(RECIPES / "speed-floor-boards.yaml", REGISTRY)
TEXT = load_plan(RECIPES / "clean-text.yaml", REGISTRY)

HEAD = "G21 G90 G17 G94\nM3 S18000\n\nG0 Z12\nG0 X100 Y100\n"
END = "G0 Z12\nM5\nM30\n"


def changed(plan: Plan, machine: dict[str, Any] | None = None, **setup: Any) -> Plan:
    """A plan with other fields: `sheet` and `tool` are mappings of their own fields."""
    found = plan.setup
    for part in ("sheet", "tool"):
        if part in setup:
            setup[part] = replace(getattr(found, part), **setup[part])
    return replace(
        plan, machine=replace(plan.machine, **(machine or {})), setup=replace(found, **setup)
    )


def run(lines: str, plan: Plan = BENCH) -> Outcome:
    """The lines between a heading of five lines, which goes to X100 Y100 Z12, and an end."""
    return prepare_job("job.nc", (HEAD + lines + "\n" + END).encode(), plan, REGISTRY)


def found(name: str, lines: str, plan: Plan = BENCH) -> Finding | None:
    outcome = run(lines, plan)
    return next((finding for finding in outcome.findings if finding.name == name), None)


FINE = "G1 Z-3 F400\nX120 F1200\n"


def test_an_ordinary_job_gives_nothing_of_space() -> None:
    for plan in (BENCH, CARDS, RELAY, SHEET):
        outcome = run(FINE, plan)
        assert not outcome.refused, outcome.findings
        own = [f.id for f in outcome.findings if "HRM070" <= f.id <= "HRM089"]
        assert own == [], outcome.findings
        assert "clamp-struck" not in [f.name for f in outcome.findings]


# --- rapids into the sheet --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lines", "line"),
    [
        ("G0 Z-0.01", 6),
        ("G0 Z0", None),
        ("G1 Z-3 F400\nG0 X110", None),
        ("G1 Z-3 F400\nG0 X110\nG1 X120 F900", 7),
        ("G1 Z-3 F400\nG0 X110 Z5\nG1 X120 F900", 7),
        ("G1 Z-3 F400\nG0 Z5\nG0 X110\nG0 Z-2\nG1 Z-3", 9),
        ("G1 Z-3 F400\nG0 Z5\nG0 Z-3\nG1 Z-4", None),
        ("G1 Z-3 F400\nG0 Z5\nG0 Z-3.1\nG1 Z-4", 8),
    ],
)
def test_rapids_below_the_top(lines: str, line: int | None) -> None:
    """Down again into its own hole is what pecking does (RS274/NGC 3.5.16.4)."""
    finding = found("rapid-in-sheet", lines)

    assert (None if finding is None else line_of(finding)) == line
    assert finding is None or finding.severity is Severity.REFUSE


SQUARE = "G1 Z-3 F400\nX130 F900\nY130\nX100\nY100\n"


@pytest.mark.parametrize(
    ("lines", "severity"),
    [
        (SQUARE + "G0 X120 Y110\nG1 X125", Severity.WARN),
        (SQUARE + "G0 X131 Y110\nG1 X125", Severity.REFUSE),
        (SQUARE + "G1 X90\nG1 Z-3.5\nG0 X120\nG1 X125", Severity.REFUSE),
        ("G1 Z-3 F400\nG0 Z5\nG0 X110\nG0 X100\nG0 Z-2\nG1 Z-4", Severity.WARN),
    ],
)
def test_where_the_job_has_cut_as_deep_before_only_the_stock_could_tell(
    lines: str, severity: Severity
) -> None:
    """Inside the outline of deep cuts the wood may be gone; outside, and deeper, it is not."""
    finding = found("rapid-in-sheet", lines)

    assert finding is not None
    assert finding.severity is severity


def test_leaving_the_last_cut_sideways_is_told_once() -> None:
    outcome = run("G1 Z-3 F400\nX120\nG0 X100")

    names = [f.name for f in outcome.findings]
    assert names.count("rapid-in-sheet") + names.count("sideways-unlifted") == 1
    assert outcome.refused


def test_pecking_cycles_are_fine() -> None:
    assert found("rapid-in-sheet", "G98 G83 X110 Y100 Z-9 R2 Q2 F200\nX130\nG80") is None


def test_rapid_beside_the_sheet_meets_no_wood() -> None:
    """The sheet is 580 x 500; the bit is 6 wide and 4 off its right edge."""
    wide = changed(BENCH, sheet={"size": (200.0, 200.0)}, clamps=())
    lines = "G0 X{} Y100\nG0 Z-2\nG1 Z-3 F400"

    assert found("rapid-in-sheet", lines.format(204), wide) is None
    assert found("rapid-in-sheet", lines.format(202), wide) is not None


def test_top_of_a_job_that_counts_from_the_bed() -> None:
    """The top lies 17.6 to 18.1 above zero: a rapid to 18 is in the thicker sheet."""
    bed = changed(CARDS, sheet={"zero": "bed"}, clamps=())

    def rapid_to(height: float) -> Finding | None:
        job = (HEAD + f"G0 Z{height}\nG1 Z3 F400\n" + END).replace("Z12", "Z30")
        outcome = prepare_job("job.nc", job.encode(), bed, REGISTRY)
        return next((f for f in outcome.findings if f.name == "rapid-in-sheet"), None)

    low = rapid_to(18.0)
    assert low is not None
    assert low.what == "a rapid plunges to 0.1 mm below the top of a sheet of 18.1"
    assert rapid_to(18.1) is None


# --- clamps -----------------------------------------------------------------------------------


def test_nut_needs_room_too() -> None:
    """The nut is 22 wide and 28 above the tip at the least. At Z-18.3 its end is 9.7 above the
    sheet: over clamps of 8, not over those of 10."""
    lines = "G0 X32 Y250\nG1 Z-18.3 F400\nG0 Z12"
    tall = tuple(replace(clamp, top=10.0) for clamp in BENCH.setup.clamps or ())

    assert found("clamp-struck", lines) is None
    assert found("clamp-struck", lines, changed(BENCH, clamps=tall)) is None
    finding = found("clamp-struck", lines.replace("X32", "X30.9"), changed(BENCH, clamps=tall))
    assert finding is not None
    assert finding.what.startswith("the collet nut goes through the clamp `left`")


def test_shoe_is_the_widest() -> None:
    """40 wide and 20 below the collet: its end is 28 - 20 = 8 above the tip, 6.1 at Z-1.9."""
    shoe = changed(BENCH, {"shoe": Shoe(40.0, 20.0)})

    finding = found("clamp-struck", "G0 X39 Y250\nG1 Z-1.9 F400", shoe)
    assert finding is not None
    assert finding.what.startswith("the extraction shoe")
    assert found("clamp-struck", "G0 X41 Y250\nG1 Z-1.9 F400", shoe) is None
    assert found("clamp-struck", "G0 X39 Y250\nG1 Z0 F400", shoe) is None


def test_arc_round_a_clamp_and_one_through_it() -> None:
    """Both end where they would pass the clamp by their chord."""
    begin = "G0 X60 Y200\nG1 Z-1 F400\n"

    assert found("clamp-struck", begin + "G3 X60 Y300 I0 J50") is None
    assert found("clamp-struck", begin + "G2 X60 Y300 I0 J50") is not None


def test_rapids_at_each_axis_own_speed() -> None:
    """Down 27 at 1500 mm/min takes 1.08 s, and 100 along Y at 4000 1.5 s: Z is down at Y272, the
    clamp ends at 270 and the bit is 3 wide. On the straight line the tip is at 10 there."""
    lines = "G0 Z30\nG0 X-10 Y200\nG0 Z3 Y300"

    assert found("clamp-struck", lines) is None
    unknown = found("clamp-struck", lines, changed(BENCH, {"rapids": None}))
    assert unknown is not None
    assert unknown.severity is Severity.WARN
    assert "describe `rapids`" in unknown.remedy
    certain = found("clamp-struck", lines, changed(BENCH, {"rapids": "each-axis"}))
    assert certain is not None
    assert certain.severity is Severity.REFUSE
    assert certain.remedy == "go sideways at 30 mm first and then down, on two lines"


def test_height_that_would_clear_the_clamp() -> None:
    finding = found("clamp-struck", "G0 Z5\nG0 X15 Y100\nG0 Y400")

    assert finding is not None
    assert finding.remedy == "be at 8.5 mm or higher here, or move the clamp"
    assert found("clamp-struck", "G0 Z8.5\nG0 X15 Y100\nG0 Y400") is None
    assert found("clamp-struck", "G0 Z8\nG0 X15 Y100\nG0 Y400") is None
    assert found("clamp-struck", "G0 Z7.99\nG0 X15 Y100\nG0 Y400") is not None


def test_holes_of_a_cycle_that_stays_low() -> None:
    """G99 goes on at the R plane (RS274/NGC 3.5.20), G98 where it came from."""
    holes = "X15 Y200 Z-2 R2 F200\nY300\nG80"

    assert found("clamp-struck", "G0 X15 Y150\nG99 G81 " + holes) is not None
    assert found("clamp-struck", "G0 X15 Y150\nG98 G81 " + holes) is None


def test_parking_is_looked_at_as_well() -> None:
    """The head parks at X-15 Y530 from the sheet's corner, 57.9 up: over anything but a post."""
    post = (
        replace((BENCH.setup.clamps or ())[0], low=(-30.0, 510.0), high=(0.0, 560.0), top=60.0),
    )

    assert found("clamp-struck", FINE, changed(BENCH, clamps=post)) is not None
    lower = (replace(post[0], top=55.0),)
    assert found("clamp-struck", FINE, changed(BENCH, clamps=lower)) is None


@pytest.mark.parametrize(
    ("plan", "field", "severity"),
    [
        (changed(BENCH, clamps=None), "setup.clamps", Severity.WARN),
        (changed(BENCH, tool={"diameter": None}), "setup.tool.diameter", Severity.WARN),
        (changed(BENCH, {"nut": None}), "machine.nut", Severity.NOTE),
        (changed(BENCH, tool={"flute": None}), "setup.tool.flute", Severity.NOTE),
        (changed(BENCH, sheet={"size": None}), "setup.sheet.size", Severity.NOTE),
        (changed(CARDS, sheet={"corner": None}), "setup.sheet.corner", Severity.WARN),
        (changed(CARDS, sheet={"thickness": None}), "setup.sheet.thickness", Severity.WARN),
        (changed(CARDS, {"bed": None}), "machine.bed", Severity.WARN),
    ],
)
def test_fields_that_would_tell(plan: Plan, field: str, severity: Severity) -> None:
    park_off = [step for step in plan.steps if step.name != "park" or plan is BENCH]
    outcome = run(FINE, replace(plan, steps=tuple(park_off)))

    told = [f for f in outcome.findings if f.name == "cannot-tell" and f"{field} is" in f.what]
    assert [finding.severity for finding in told] == [severity], outcome.findings


def test_nothing_is_asked_for_where_there_are_no_clamps() -> None:
    bare = changed(BENCH, {"nut": None}, clamps=(), tool={"diameter": None})

    assert found("cannot-tell", FINE, bare) is None


def test_no_set_up_is_one_note() -> None:
    told = [f for f in run(FINE, TEXT).findings if f.name == "cannot-tell"]

    assert [(f.severity, f.remedy) for f in told] == [
        (Severity.NOTE, "fill in `sheet` in the set-up file")
    ]


def test_dive_where_clamps_are_not_described() -> None:
    blind = changed(BENCH, clamps=None)

    finding = found("diving-rapid", "G0 X120 Z3\nG1 Z-1 F400", blind)
    assert line_of(finding) == 6
    assert found("diving-rapid", "G0 X120\nG0 Z3\nG1 Z-1 F400", blind) is None
    assert found("diving-rapid", "G0 X120 Z15\nG1 Z-1 F400", blind) is None
    assert found("diving-rapid", "G0 X120 Z3\nG1 Z-1 F400") is None


# --- the first move of a file that kept its zero ----------------------------------------------


def first(job: str, plan: Plan) -> Finding | None:
    outcome = prepare_job("job.nc", (job + "\nG1 Z-1 F400\n" + END).encode(), plan, REGISTRY)
    return next((f for f in outcome.findings if f.name == "sideways-among-clamps"), None)


def test_first_move_starts_where_the_head_was_left() -> None:
    """From the parking place, X-15 Y530, straight to X-10 Y100 lies the left clamp, 8 high."""
    head = "G21 G90 G17 G94\nM3 S18000\n"

    finding = first(head + "G0 Z5\nG0 X-10 Y100", CARDS)
    assert finding is not None
    assert finding.severity is Severity.WARN
    assert finding.remedy == "lift to 25 mm before it, go sideways there and then down"
    assert first(head + "G0 Z8\nG0 X-10 Y100", CARDS) is None
    assert first(head + "G0 Z5\nG0 X112 Y110", CARDS) is None
    nowhere = changed(CARDS, {"park": {}})
    assert first(head + "G0 Z5\nG0 X112 Y110", nowhere) is not None


# --- travel -----------------------------------------------------------------------------------


def test_travel_says_what_mends_it() -> None:
    """X from 0 to 620 with zero at 20: 600 is the last place. The tip rises 57.9 at least."""
    finding = found("target-outside", "G0 X600.001")
    assert finding is not None
    assert finding.what.startswith("X600.001 lies 0.001 mm outside")
    assert "flat edge" in finding.why
    assert finding.remedy.startswith("move the sheet or the job 0.001 mm left")
    assert found("target-outside", "G0 X600", changed(BENCH, clamps=())) is None
    high = found("target-outside", "G0 Z60")
    assert high is not None
    assert "lower this height by 2.1 mm, to 57.9" in high.remedy


@pytest.mark.parametrize(
    ("action", "text"),
    [("clamps", "flat edge"), ("alarms", "alarm"), ("none", "runs into"), (None, "not described")],
)
def test_travel_says_what_the_controller_does(action: str | None, text: str) -> None:
    finding = found("target-outside", "G0 X601", changed(BENCH, {"soft_limits": action}))

    assert finding is not None
    assert finding.severity is Severity.REFUSE
    assert text in finding.why


def test_worst_place_is_told() -> None:
    finding = found("target-outside", "G0 X605\nG0 X612\nG0 X603")

    assert line_of(finding) == 7


def test_places_in_machine_coordinates_behind_a_touch() -> None:
    """The Z number is not known there, and where it goes is."""
    plan = changed(RELAY, clamps=())

    assert found("target-outside", "G53 G0 Z-2", plan) is None
    finding = found("target-outside", "G53 G0 Z1", plan)
    assert line_of(finding) == 6
    assert found("target-outside", "G53 G0 X1", plan) is not None


def test_controllers_that_compare_what_they_show() -> None:
    """X runs from 0: a number below it is outside for such a controller, wherever the head is."""
    shown = changed(BENCH, {"soft_limit_numbers": "shown"}, clamps=())

    lines = "G0 X-5 Y100\nG0 X100"
    assert found("shown-outside", lines) is None
    assert found("shown-outside", lines, shown) is not None


def test_a_kept_zero_is_taken_to_be_at_the_corner() -> None:
    assert found("target-outside", "G0 X601", CARDS) is not None
    assert found("target-outside", "G0 X600", changed(CARDS, clamps=())) is None


# --- depth ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("depth", "name"),
    [
        (18.6, None),
        (18.61, "below-sheet"),
        (20.0, "below-sheet"),
        (22.59, "below-sheet"),
        (22.6, "bed-struck"),
    ],
)
def test_into_the_spoilboard(depth: float, name: str | None) -> None:
    """Sheet 17.6 to 18.1, overcut 0.5, board 5: warned below 18.6, refused at 17.6 + 5 = 22.6."""
    plan = changed(
        BENCH, {"spoilboard": 5.0, "bed": 100.0}, sheet={"overcut": 0.5}, tool={"flute": 40.0}
    )
    outcome = run(f"G1 Z-{depth} F400\nX110", plan)
    names = {f.name for f in outcome.findings} & {"below-sheet", "bed-struck"}

    assert names == ({name} if name else set())
    assert outcome.refused is (name == "bed-struck")


def test_board_of_unknown_thickness_is_asked_for_when_it_matters() -> None:
    bare = changed(BENCH, {"spoilboard": None}, tool={"flute": 40.0})

    deep = [f.what for f in run("G1 Z-21 F400\nX110", bare).findings if f.name == "cannot-tell"]
    assert [what.split(": ")[1] for what in deep] == ["machine.spoilboard is not given"]
    assert found("cannot-tell", "G1 Z-18.3 F400\nX110", bare) is None


@pytest.mark.parametrize(
    ("depth", "told"), [(17.5, False), (17.6, True), (18.0, True), (18.1, False), (18.3, False)]
)
def test_skin_that_a_thick_sheet_keeps(depth: float, told: bool) -> None:
    finding = found("skin-left", f"G1 Z-{depth} F400\nX110")

    assert (finding is not None) is told
    if depth == 18.0:
        assert finding is not None
        assert "leaves a skin of 0.1 mm at 18.1" in finding.what


@given(st.integers(0, 40), st.integers(0, 20), st.integers(1, 50))
@settings(max_examples=40, deadline=None)
def test_skin_is_told_where_sheets_of_the_span_differ(least: int, wider: int, depth: int) -> None:
    """For every thickness of the span, in tenths: is the cut through? Some yes and some no."""
    span = [2.0 + (least + step) / 10 for step in range(wider + 1)]
    plan = changed(BENCH, sheet={"thickness": Span(span[0], span[-1])}, tool={"flute": 60.0})
    through = {round(depth / 10 - thickness, 6) >= 0 for thickness in span}

    finding = found("skin-left", f"G1 Z-{depth / 10} F400\nX110", plan)

    assert (finding is not None) is (through == {True, False})


@pytest.mark.parametrize(
    ("lines", "severity"),
    [
        ("G1 Z15 F400\nX110\nZ9\nX100\nZ3\nX110", Severity.REFUSE),
        ("G1 Z15 F400\nX110\nZ9\nX100\nZ-0.3\nX110", Severity.WARN),
        ("G1 Z25 F400\nX110", Severity.WARN),
        ("G1 Z5 F400\nX110\nZ-0.3\nX120\nX130\nX140", None),
        ("G1 Z-0.2 F400\nX110", None),
        ("G1 Z0 F400\nX110", None),
        ("G1 Z9 F400\nX110\nZ-3\nX100", None),
    ],
)
def test_zero_on_the_bed_taken_for_the_top(lines: str, severity: Severity | None) -> None:
    finding = found("zero-on-other-face", lines)

    assert (None if finding is None else finding.severity) is severity


def test_zero_on_the_top_taken_for_the_bed() -> None:
    bed = changed(CARDS, sheet={"zero": "bed"})
    lift = "G0 Z30\n"

    assert found("zero-on-other-face", lift + "G1 Z-3 F400\nX110\nZ-18.2\nX100", bed) is not None
    assert found("zero-on-other-face", lift + "G1 Z9 F400\nX110\nZ-0.3\nX100", bed) is None


def test_flute_and_stick_out() -> None:
    """Flute 22; the bit stands out 28 at the least."""
    plan = changed(BENCH, {"bed": 100.0}, sheet={"thickness": Span(30.0, 30.4)}, clamps=())
    plan = changed(plan, tool={"stick_out": Span(28.0, 32.0)})

    assert found("flute-short", "G1 Z-22 F400\nX110", plan) is None
    assert found("flute-short", "G1 Z-22.1 F400\nX110", plan) is not None
    assert found("nut-in-sheet", "G1 Z-28 F400\nX110", plan) is None
    finding = found("nut-in-sheet", "G1 Z-28.5 F400\nX110", plan)
    assert finding is not None
    assert finding.remedy == "cut 0.5 mm less deep, or let the bit stand out that much more"
    shoe = changed(plan, {"shoe": Shoe(60.0, 10.0)})
    assert found("nut-in-sheet", "G1 Z-18.1 F400\nX110", shoe) is not None
    assert found("nut-in-sheet", "G1 Z-18 F400\nX110", shoe) is None


# --- the sheet --------------------------------------------------------------------------------


SMALL = changed(BENCH, sheet={"size": (200.0, 150.0)}, clamps=())


@pytest.mark.parametrize(
    ("lines", "edges"),
    [
        ("G1 Z-1 F400\nX203 F900", []),
        ("G1 Z-1 F400\nX203.1 F900", ["3.1 mm past the right edge"]),
        ("G1 Z-1 F400\nX-4 F900\nY-5", ["4 mm past the left edge", "5 mm past the front edge"]),
        ("G1 Z-1 F400\nY154 F900", ["4 mm past the back edge"]),
        ("G0 X206 Y100\nG0 X100\nG1 Z-1 F400", []),
        ("G0 X190 Y60\nG1 Z-1 F400\nG3 X190 Y90 I0 J15", ["5 mm past the right edge"]),
    ],
)
def test_cuts_beside_the_sheet(lines: str, edges: list[str]) -> None:
    """The bit is 6 wide: its middle may lie 3 outside. An arc counts with its bulge."""
    finding = found("off-sheet", lines, SMALL)

    assert (finding is not None) is bool(edges)
    for edge in edges:
        assert finding is not None
        assert edge in finding.what


def test_zero_in_the_middle_is_recognised() -> None:
    """The bench has 20 mm left of and before the sheet, so the job is a small one."""
    tour = "G0 X-15 Y-12\nG1 Z-1 F400\nX15 F900\nY12\nX-15\nY-12"

    finding = found("off-sheet", tour, SMALL)
    assert finding is not None
    assert "in the middle" in finding.remedy
    aside = found("off-sheet", tour.replace("X15", "X60"), SMALL)
    assert aside is not None
    assert "in the middle" not in aside.remedy


def test_size_of_another_unit() -> None:
    """A job of 7.5 x 5.5 inches read as millimetres on a sheet of 200 x 150."""
    tour = "G0 X{0} Y{0}\nG1 Z{1} F400\nX{2} F900\nY{3}\nX{0}\nY{0}"

    small = found("size-implausible", "G0 X0.2 Y0.2\n" + tour.format(0.2, -0.5, 7.5, 5.5), SMALL)
    assert small is not None
    deep = found("size-implausible", "G0 X0.2 Y0.2\n" + tour.format(0.2, -2.5, 7.5, 5.5), SMALL)
    assert deep is None, "nobody cuts 63 deep into a sheet of 18"
    assert found("size-implausible", tour.format(10, -0.5, 190, 140), SMALL) is None
    large = found("size-implausible", tour.format(10, -0.5, 190 * 25.4, 140 * 25.4), SMALL)
    assert large is not None


# --- feeds and speeds -------------------------------------------------------------------------


@given(
    st.integers(-60, 60),
    st.integers(-60, 60),
    st.integers(1, 11),
    st.integers(100, 9000),
)
@settings(max_examples=60, deadline=None)
def test_feed_along_each_axis(dx: int, dy: int, down: int, feed: int) -> None:
    """F x |d| / length against 3000, 3000 and 800 mm/min: elementary kinematics."""
    length = (dx * dx + dy * dy + down * down) ** 0.5
    shares = [abs(dx) / length * feed / 3000, abs(dy) / length * feed / 3000,
              down / length * feed / 800]  # fmt: skip
    outcome = run(f"G0 Z0\nG1 X{100 + dx} Y{100 + dy} Z-{down} F{feed}", BENCH)
    told = {f.what.split("drive ")[1][0] for f in outcome.findings if f.name == "feed-over-axis"}

    assert told >= {axis for axis, share in zip("XYZ", shares, strict=True) if share > 1.006}
    assert told <= {axis for axis, share in zip("XYZ", shares, strict=True) if share > 1.004}


def test_feed_says_what_the_axis_stands() -> None:
    finding = found("feed-over-axis", "G1 Z-3 F1200")

    assert finding is not None
    assert finding.what == "F1200 would drive Z at 1200 mm/min, and it cuts at 800 at the most"
    assert finding.remedy == "F800 is the most for this move"
    assert found("feed-over-axis", "G1 Z-3 F800") is None


def test_feed_on_arcs() -> None:
    """A quarter that runs along X at its end drives X with all of F; one that stays off the crest
    with F times the cosine."""
    head = "G1 Z-1 F400\n"

    assert found("feed-over-axis", head + "G3 X120 Y120 I0 J20 F3200") is not None
    # from 30 to 60 degrees of a circle the tangent's share along X is at most sin 60 = 0.866
    part = "G3 X92.679 Y107.321 I-17.321 J-10 F3400"
    assert found("feed-over-axis", head + part) is None
    assert found("feed-over-axis", head + part.replace("F3400", "F3600")) is not None


def test_feed_in_inverse_time() -> None:
    """G93: F is moves a minute (RS274/NGC 3.5.19), so 10 mm at F90 are 900 mm/min."""
    assert found("feed-over-axis", "G93\nG1 Z2 F90\nG94") is not None
    assert found("feed-over-axis", "G93\nG1 Z2 F70\nG94") is None


def test_speed_that_the_bit_is_not_marked_for() -> None:
    slow = changed(SHEET, tool={"fastest": 17000.0})

    assert found("speed-over-bit", FINE, slow) is not None
    assert found("speed-over-bit", FINE, changed(SHEET, tool={"fastest": 18000.0})) is None
    relay = found("speed-over-bit", FINE, changed(RELAY, tool={"fastest": 16000.0}))
    assert relay is not None
    assert "one speed" in relay.remedy
    assert found("speed-over-bit", FINE, changed(RELAY, tool={"fastest": 18000.0})) is None


# --- long runs --------------------------------------------------------------------------------


@pytest.mark.parametrize("moves", [5, 600])
def test_a_long_run_that_begins_where_machine_coordinates_have_led(moves: int) -> None:
    """The head stands at a place of machine coordinates until the job names X and Y: some lines
    into a run that is read at once."""
    text = "G21 G17 G90 G94\nM3 S18000\nG4 P6\nG0 Z35\nG0 X100 Y280\nG0 Z5\n"
    text += "".join(f"G0 X{100 + number % 7}\n" for number in range(moves))
    outcome = prepare_job("job.nc", f"{text}G0 X0\nG0 Z35\nM5\nM30\n".encode(), SHEET, REGISTRY)
    finding = next(f for f in outcome.findings if f.name == "clamp-struck")

    assert line_of(finding) == 7 + moves
