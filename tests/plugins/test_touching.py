"""Homing, numbering and touching off, run on a gantry that is nothing but arithmetic."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plugins.plate import Plate
from plugins.shop import MACHINES, SETUPS, document, job, refused, serious, text, through

from headrace import EventKind, Job, JobRefused
from headrace_transforms.framing.touching import overrun

LID = "G21\nG90\nM3 S18000\nG0 Z5\nX10 Y10\nG1 Z-3 F300\nX50 F900\nG0 Z5\nM5\nM30\n"
WAY = {
    "bench": ["safe-start", "home", "rereference-z", "corner-zero", "touch-off"],
    "relay": ["safe-start", "home", "corner-zero", "touch-off"],
    "speed": ["safe-start", "home", "corner-zero", "touch-off"],
}


def between(span: Any) -> list[float]:
    """Both ends and the middle of a span as the set-up writes it."""
    if isinstance(span, dict):
        least, most = float(span["least"]), float(span["most"])
        return [least, (least + most) / 2, most]
    return [float(span)]


def added(job: Job) -> list[str]:
    """The lines before the job's own part."""
    return text(job)[: job.landmarks.start]


@pytest.mark.parametrize("name", WAY)
@pytest.mark.parametrize("units", ["mm", "inch"])
def test_every_possible_plate_is_touched_and_gives_the_sheets_top(name: str, units: str) -> None:
    described = document("machines", MACHINES[name], {})
    on_it = document("setups", SETUPS[name], {})
    source = LID if units == "mm" else LID.replace("G21", "G20")
    done = through(job(source, name), *WAY[name])
    assert not serious(done)
    # numbers in inches are read as millimetres by plain arithmetic: scale the gantry instead
    factor = 1.0 if units == "mm" else 25.4
    stick_outs, thicknesses = (
        between(on_it["tool"]["stick-out"]),
        between(on_it["sheet"]["thickness"]),
    )
    for stick_out, thickness in product(stick_outs, thicknesses):
        plate = Plate(scaled(described, factor), stick_out / factor, thickness / factor,
                      on_it["plate"]["thickness"] / factor, least_way=0.254 / factor)  # fmt: skip
        plate.run(added(done))
        assert len(plate.touches) == 2
        # common practice: the number shown at the plate's top is the plate's thickness
        assert plate.surface + plate.shift == pytest.approx(0.0, abs=2e-4)
        assert not plate.clip
        assert plate.height > plate.contact


def scaled(described: dict[str, Any], factor: float) -> dict[str, Any]:
    """The lengths of Z in another unit."""
    found = dict(described, axes=dict(described["axes"]))
    axis = dict(found["axes"]["z"])
    axis["travel"] = [end / factor for end in axis["travel"]]
    axis["homed-number"] = axis["homed-number"] / factor
    found["axes"]["z"] = axis
    found["bed"] = found["bed"] / factor
    probe = dict(found["probe"])
    if "lowest-target" in probe:
        probe["lowest-target"] /= factor
    found["probe"] = probe
    return found


@settings(max_examples=60, deadline=None)
@given(
    name=st.sampled_from(sorted(WAY)),
    bed=st.floats(60, 260),
    least=st.floats(10, 60),
    wider=st.floats(0, 8),
    thickness=st.floats(1, 30),
    spread=st.floats(0, 2),
    plate=st.floats(3, 25),
    gap=st.floats(0.5, 10),
    back_off=st.floats(0.6, 5),
    over=st.floats(0.5, 6),
    retract=st.floats(5, 40),
    lowest=st.sampled_from([0.0, -20.0, 1.5]),
    where=st.tuples(st.floats(0, 1), st.floats(0, 1)),
)
def test_what_is_written_is_safe_on_any_machine(
    name: str, bed: float, least: float, wider: float, thickness: float, spread: float,
    plate: float, gap: float, back_off: float, over: float, retract: float, lowest: float,
    where: tuple[float, float],
) -> None:  # fmt: skip
    changes: dict[str, Any] = {"bed": bed}
    if name == "bench":
        changes["probe/lowest-target"] = lowest
    on_it = {
        "tool/stick-out": {"least": least, "most": least + wider},
        "sheet/thickness": {"least": thickness, "most": thickness + spread},
        "plate/thickness": plate,
    }
    steps: list[Any] = [
        ("rereference-z", {"over-travel": over}) if step == "rereference-z" else step
        for step in WAY[name][:-1]
    ]
    touch = {"gap": gap, "back-off": back_off, "over-travel": over, "retract": retract}
    try:
        done = through(
            job(LID, name, changes=changes, setup_changes=on_it), *steps, ("touch-off", touch)
        )
    except JobRefused as error:
        expected = ("out-of-travel", "touch-out-of-travel", "probe-overrun", "probe-too-low",
                    "retract-too-low")  # fmt: skip
        if error.findings[0].name not in expected:
            raise
        return
    gantry = Plate(
        document("machines", MACHINES[name], changes),
        least + where[0] * wider,
        thickness + where[1] * spread,
        plate,
    )
    gantry.run(added(done))
    assert len(gantry.touches) == 2
    assert gantry.surface + gantry.shift == pytest.approx(0.0, abs=2e-3)


def test_the_number_after_homing_is_the_sum_of_its_parts() -> None:
    done = through(job(LID), "safe-start", "home", "rereference-z")
    # bench: deepest touch = 108 - 28 - 17.6 - 12.02 = 50.38; lowest target 0, over-travel 3,
    # margin 2: 55.38, the next whole number is 56
    assert "G92 Z56" in text(done)
    assert all(len(line) <= 22 for line in text(done) if line.startswith("("))
    assert done.state_at(done.landmarks.start).position[2] == 56


def test_the_number_is_raised_by_a_lowest_target_above_zero() -> None:
    done = through(job(LID, changes={"probe/lowest-target": 10}), "home", "rereference-z")
    assert "G92 Z66" in text(done)


@pytest.mark.parametrize("margin", [0.1, 2, 7.5])
def test_the_margin_lies_between_aim_and_lowest_target(margin: float) -> None:
    done = through(job(LID), "home", ("rereference-z", {"margin": margin}), "corner-zero",
                   "touch-off")  # fmt: skip
    aim = next(float(line.split()[1][1:]) for line in text(done) if line.startswith("G38.2"))
    assert margin <= aim < margin + 1


def test_the_clip_is_on_only_while_the_spindle_is_off() -> None:
    for name, steps in WAY.items():
        done = through(job(LID, name), *steps, ("spindle", {}), "park")
        turning, clip, seen = True, False, []
        for event in done.trace.events:
            if event.kind is EventKind.ASKS:
                clip = {"clip-on": True, "clip-off": False}.get(str(event.value), clip)
                turning = {"spindle-on": True, "spindle-off": False}.get(str(event.value), turning)
                seen.append(event.value)
            elif event.kind is EventKind.SPINDLE:
                turning = event.value != "off"
            assert not (clip and turning)
        assert seen.index("clip-on") < seen.index("clip-off")
        probes = [event.line for event in done.trace.events_of(EventKind.PROBE)]
        asked = {e.value: e.line for e in done.trace.events_of(EventKind.ASKS)}
        assert asked["clip-on"] < probes[0] < probes[1] < asked["clip-off"]


def test_a_spindle_that_may_turn_is_stopped_and_waited_for() -> None:
    lines = text(through(job(LID, "relay"), *WAY["relay"]))
    clip = lines.index("M0 (PLATE UNDER THE BIT, CLIP ON)")
    assert lines.index("M5") < lines.index("G4 P12") < clip
    bench = text(through(job(LID, "bench"), *WAY["bench"]))
    assert bench.index("(SPINDLE OFF, WAIT)") < bench.index("(PLATE ON, CLIP ON)")


def test_every_added_number_is_absolute() -> None:
    for name, steps in WAY.items():
        lines = text(through(job(LID, name), *steps))
        assert "G91" not in "".join(lines)
        assert "G90" in lines


@pytest.mark.parametrize("name", WAY)
def test_the_corner_is_the_work_zero(name: str) -> None:
    done = through(job(LID, name), *WAY[name], "park")
    corner = document("setups", SETUPS[name], {})["sheet"]["corner"]
    state = done.state_at(done.landmarks.end)
    last = done.trace.blocks[-1].setting
    assert last.offset[:2] == pytest.approx(corner)
    assert state.system == 1
    moves = {int(line): at for at, line in enumerate(done.trace.line)}
    cut = next(index for index, line in enumerate(text(done)) if line.startswith("G1 Z-3"))
    assert done.trace.ends(0)[moves[cut]] == 10
    assert done.trace.ends(2)[moves[cut]] == -3


@pytest.mark.parametrize(
    ("feed", "acceleration", "reaction", "first", "second"),
    [
        # v^2 / 2a and v t, from elementary mechanics, worked by hand
        (100, 250, 0.001, 0.0056, 0.0017),
        (500, 250, 0.010, 0.139, 0.083),
        (500, 50, 0.0, 0.694, 0.0),
        (25, 50, 0.001, 0.0017, 0.0004),
    ],
)
def test_the_overrun_is_that_of_mechanics(
    feed: float, acceleration: float, reaction: float, first: float, second: float
) -> None:
    assert overrun(feed, acceleration, reaction) == pytest.approx(first + second, abs=1e-3)


def test_a_place_that_reads_by_parameter_is_worked_out_in_the_order_of_the_touches() -> None:
    """Trip at machine -41.237 with a plate of 12: the sheet's top is at -53.237 (handbook sum)."""
    changes = {"bed": 100.0}
    on_it = {
        "tool/stick-out": 30.0,
        "sheet/thickness": 16.763,
        "plate/thickness": 12.0,
        "safe-height": 25,
    }
    done = through(job(LID, "speed", changes=changes, setup_changes=on_it), *WAY["speed"])
    gantry = Plate(document("machines", MACHINES["speed"], changes), 30.0, 16.763, 12.0)
    gantry.run(added(done))
    assert gantry.touches == pytest.approx([-41.237, -41.237])
    assert -gantry.shift == pytest.approx(-53.237)


def test_g10_l20_makes_the_numbers_known_first() -> None:
    changes = {"work-zero/word": "G10 L20", "machine-moves": False}
    done = through(job(LID, "speed", changes=changes), *WAY["speed"])
    assert not serious(done)
    lines = text(done)
    assert "G10 L20 P1 X5 Y5" in lines
    assert "G10 L20 P1 X0 Y0" in lines
    assert lines.index("G54") < lines.index("G10 L20 P1 X5 Y5")
    assert lines.count("G10 L20 P1 Z20") == 2
    assert "G0 X60 Y60" in lines


def test_homing_at_the_panel_is_asked_for_and_believed() -> None:
    changes = {"homing": {"by": "by-hand"}}
    done = through(job(LID, "speed", changes=changes), "safe-start", "home", "corner-zero")
    assert done.state_at(done.landmarks.start).homed == {"X", "Y", "Z"}
    assert not any(line.startswith("G28") for line in text(done))


def test_homing_goes_in_the_described_order() -> None:
    assert text(through(job(LID), "home"))[:2] == ["G28 Z0", "G28 X0 Y0"]
    other = job(LID, changes={"homing/order": [["z"], ["y"], ["x"]]})
    assert text(through(other, "home"))[:3] == ["G28 Z0", "G28 Y0", "G28 X0"]
    assert text(through(job(LID, "relay"), "home"))[0] == "G28"
    assert text(through(job(LID), ("home", {"axes": ["z"]})))[:2] == ["G28 Z0", "G21"]


class TestRefusals:
    """One input for each refusal; the numbers that would mend it are named."""

    def test_not_homed(self) -> None:
        assert refused(job(LID), "corner-zero").name == "not-homed"
        assert refused(job(LID), "rereference-z").name == "not-homed"
        assert refused(job(LID), "touch-off").name == "not-homed"

    def test_z_homed_in_another_file(self) -> None:
        first = through(job("", stand_alone=True), "home", "rereference-z", "corner-zero")
        later = job("", stand_alone=True, start=first.trace.end)
        finding = refused(later, ("touch-off", {}))
        assert finding.name == "not-homed"
        assert "this file" in finding.what

    def test_a_corner_out_of_travel(self) -> None:
        odd = job(LID, setup_changes={"sheet/corner": [20, 559.5]})
        finding = refused(odd, "home", "corner-zero")
        assert finding.name == "out-of-travel"
        assert "0.5 mm outside 1 to 559" in finding.what

    def test_a_plate_out_of_travel(self) -> None:
        odd = job(LID, setup_changes={"plate/at": [50, 600]})
        assert refused(odd, "home", "touch-off").name == "out-of-travel"

    def test_an_aim_out_of_travel(self) -> None:
        odd = job(LID, changes={"bed": 142})
        finding = refused(odd, "home", "rereference-z")
        assert finding.name == "out-of-travel"
        # 142 - 28 - 17.6 - 12.02 + 3 = 87.38 below the top, and 84 is as far as it may go
        assert "3.38 mm outside" in finding.what

    def test_an_aim_below_the_lowest_target(self) -> None:
        finding = refused(job(LID), "home", "corner-zero", "touch-off")
        assert finding.name == "probe-too-low"
        assert "rereference-z" in finding.remedy
        # -50.38 - 3, in numbers that are zero at the top
        assert "53.38 below" in finding.what

    def test_a_second_aim_below_the_lowest_target(self) -> None:
        thin = job(LID, setup_changes={"plate/thickness": 2.5, "safe-height": None})
        finding = refused(thin, "home", "rereference-z", "corner-zero", "touch-off")
        assert finding.name == "probe-too-low"
        assert "`over-travel` at least 0.5 less" in finding.remedy

    def test_a_second_aim_is_told_before_the_number_after_homing_is_raised_in_vain(self) -> None:
        """Of an over-travel of 20 the plate leaves 12.02, whatever Z reads after homing."""
        far = ("touch-off", {"over-travel": 20})
        finding = refused(job(LID), "home", "rereference-z", "corner-zero", far)
        assert "`over-travel` at least 7.98 less" in finding.remedy

    @pytest.mark.parametrize("option", ["gap", "back-off", "retract"])
    def test_no_room_above_the_plate(self, option: str) -> None:
        # 108 - 32 - 18.1 - 12.02 - 1 = 44.88
        most = {"back-off": 44.88}.get(option, 44.88)
        high = job(LID)
        finding = refused(high, "home", "rereference-z", ("touch-off", {option: 45}))
        assert finding.name == "touch-out-of-travel"
        assert f"`{option}` may be {most} at the most" in finding.remedy

    def test_a_retract_below_the_safe_height(self) -> None:
        finding = refused(job(LID), "home", "rereference-z", ("touch-off", {"retract": 12}))
        assert finding.name == "retract-too-low"
        # 12.02 + 12 = 24.02, and the clamps want 25
        assert "24.02 mm above the sheet, 0.98 mm below" in finding.what
        assert "at least 12.98" in finding.remedy
        enough = ("touch-off", {"retract": 12.98})
        through(job(LID), "home", "rereference-z", "corner-zero", enough)
        low = job(LID, setup_changes={"safe-height": None})
        through(low, "home", "rereference-z", "corner-zero", ("touch-off", {"retract": 5}))

    def test_a_way_that_is_too_short(self) -> None:
        near = job(LID, setup_changes={"sheet/thickness": 18.0, "tool/stick-out": 30.0})
        options = {"gap": 0.1, "over-travel": 0.1, "quick": 10, "slow": 5}
        finding = refused(near, "home", "rereference-z", ("touch-off", options))
        assert finding.name == "probe-way-short"

    def test_feeds(self) -> None:
        steps = ["home", "rereference-z"]
        assert refused(job(LID), *steps, ("touch-off", {"slow": 200})).name == "probe-feeds"
        finding = refused(job(LID), *steps, ("touch-off", {"quick": 900}))
        assert finding.name == "probe-feeds"
        assert "800" in finding.remedy

    def test_an_overrun(self) -> None:
        # 500 mm/min at 100 mm/s2 and 20 ms: 0.347 + 0.167 = 0.514
        steps = ["home", "rereference-z"]
        options = {"quick": 500, "over-travel": 0.5}
        finding = refused(job(LID), *steps, ("touch-off", options))
        assert finding.name == "probe-overrun"
        assert "0.514" in finding.what
        finding = refused(job(LID), *steps, ("touch-off", {"quick": 500, "back-off": 1}))
        assert "`back-off` above 1.014" in finding.remedy

    def test_a_spindle_that_turns(self) -> None:
        state = job(LID).start.copy()
        state.spindle = "cw"
        assert refused(job(LID, start=state), "home").name == "spindle-turning"

    def test_zeros_that_end_with_the_file(self) -> None:
        alone = job("", "relay", stand_alone=True)
        for step in ("corner-zero", "touch-off"):
            assert refused(alone, "home", step).name == "zero-not-kept"
        changes = {"work-zero/kept-after-end": False}
        alone = job("", stand_alone=True, changes=changes)
        assert refused(alone, "home", "rereference-z").name == "zero-not-kept"

    @pytest.mark.parametrize(
        ("line", "word"),
        [
            ("G92.1", "G92.1"),
            ("G92 X5\nG1 X1\nG92.2", "G92.2"),
            ("G92.3", "G92.3"),
            ("G10 L2 P1 X5", "G10"),
        ],
    )
    def test_a_job_that_does_away_with_the_numbers(self, line: str, word: str) -> None:
        """RS274/NGC 3.5.18: G92.1 and G92.2 set the shift to zero, G92.3 to what was stored."""
        source = LID.replace("M5\n", f"{line}\nG0 X9\nM5\n")
        assert source != LID
        steps = ["touch-off"] if word == "G10" else ["rereference-z", "corner-zero", "touch-off"]
        for step in steps:
            finding = refused(
                job(source, "bench" if step == "rereference-z" else "relay"), "home", step
            )
            assert finding.name == "job-moves-zero"
            assert word in finding.what
            assert finding.place.line > 2
        # where the zero is that of a work offset system the shift is the job's own
        assert through(job(source, "speed"), "home", "corner-zero", "touch-off").trace

    def test_numbers_of_few_places(self) -> None:
        """Of an inch 2 places are 0.254 mm; the plate is 12.02 thick: 0.47 inch is 11.938."""
        inch = LID.replace("G21", "G20").replace("X10 Y10", "X1 Y1").replace("X50", "X5")
        coarse = job(inch, changes={"decimals": 2, "units": ["mm", "inch"]})
        finding = refused(coarse, *WAY["bench"])
        assert finding.name == "rounding-coarse"
        assert "0.082 mm" in finding.what
        fine = job(inch, changes={"decimals": 3, "units": ["mm", "inch"]})
        done = through(fine, *WAY["bench"], "park")
        assert not len(done.program.lines_finer(3))
        assert "G92 Z0.473" in text(done)

    def test_g10_l2_without_parameters(self) -> None:
        odd = job(LID, "speed", changes={"parameters": False})
        finding = refused(odd, "home", "corner-zero", "touch-off")
        assert finding.name == "touch-without-parameters"

    def test_rereferencing_where_nothing_needs_it(self) -> None:
        for name in ("relay", "speed"):
            assert refused(job(LID, name), "home", "rereference-z").name == "rereference-needless"
        silent = job(LID, changes={"probe/lowest-target": None})
        finding = refused(silent, "home", "rereference-z")
        assert finding.name == "rereference-needless"
        assert "`probe.lowest-target`" in finding.remedy
        finding = refused(job(LID, changes={"probe": None}), "home", "rereference-z")
        assert finding.name == "not-described"
        assert "machine.probe" in finding.what

    def test_numbers_that_nobody_knows(self) -> None:
        """Touched once, Z has a number that only the controller knows, and G53 is not there."""
        finding = refused(job(LID), *WAY["bench"], "touch-off")
        assert finding.name == "numbers-unknown"
        assert "`home: {axes: [z]}` right before it" in finding.remedy
        again = (("home", {"axes": ["z"]}), "rereference-z", "touch-off")
        assert through(job(LID), *WAY["bench"], *again).trace

    def test_units_that_nobody_knows(self) -> None:
        odd = job("X1\n", changes={"power-up-units": None})
        assert refused(odd, "home", "rereference-z").name == "units-unknown"

    def test_one_axis_where_all_home(self) -> None:
        finding = refused(job(LID, "relay"), ("home", {"axes": ["z"]}))
        assert finding.name == "home-all-axes"

    @pytest.mark.parametrize(
        ("field", "where"),
        [
            ("machine", "bed"),
            ("machine", "probe"),
            ("machine", "axes/z/acceleration"),
            ("setup", "sheet/corner"),
            ("setup", "sheet/thickness"),
            ("setup", "plate/thickness"),
            ("setup", "plate/at"),
            ("setup", "tool/stick-out"),
        ],
    )
    def test_what_is_not_described(self, field: str, where: str) -> None:
        key = "changes" if field == "machine" else "setup_changes"
        gap: dict[str, Any] = {key: {where: None}}
        finding = refused(job(LID, "relay", **gap), "home", "touch-off")
        assert finding.name == "not-described"
        assert f"{field}.{where.replace('/', '.')}" in finding.what


def test_a_job_that_counts_from_the_bed_is_not_touched_off_on_the_sheet() -> None:
    """Else every cut would be too high by the thickness of the sheet."""
    source = job("G21 G90\nG0 Z25\nG1 Z18 F200\nM30\n", "relay")
    sheet = replace(source.setup.sheet, zero="bed")
    source = replace(source, setup=replace(source.setup, sheet=sheet))

    assert refused(source, "home", "touch-off").name == "touch-on-top"
