"""Numbers written anew: the steps `units` and `decimals`.

An inch is 25.4 mm exactly (the international inch of 1959). Results are read by the reference
interpreter, which was written from RS274/NGC alone and refuses arcs by its radius test (3.5.3).
"""

from __future__ import annotations

import math
import random
import re
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import reference
from hypothesis import assume, given
from hypothesis import strategies as st
from plugins.hive_cuts import cuts
from plugins.shop import JOBS, TRANSFORMS, job, refused, text, through

from headrace import Job, JobRefused, State
from headrace.program import Cause, replace
from headrace.proof import Version, prove_run, prove_step
from headrace.proof.second.follower import Dialect
from headrace_transforms.decimals import needs_decimals
from headrace_transforms.numbers.exact import in_inches, in_mm, rounded
from headrace_transforms.units import needs_units

INCH = Decimal("25.4")
WORD = re.compile(r"([A-Z])([-+]?(?:\d+\.?\d*|\.\d+))")
RANDOM = st.randoms(use_true_random=False)
Options = dict[str, Any]


def known(lines: list[str], unit: str = "mm", changes: Options | None = None) -> Job:
    """A job from a known start: all zero, spindle at rest."""
    start = State.at_zero()
    start.units = unit
    return job("\n".join([*lines, ""]), "speed", start=start, assume=unit, changes=changes)


def words(line: str) -> list[tuple[str, Decimal]]:
    return [(letter, Decimal(number)) for letter, number in WORD.findall(line.split("(")[0])]


def moves(lines: list[str], unit: str) -> tuple[reference.Move, ...]:
    """What the standard makes of a program."""
    done = reference.run(lines, start=reference.Start(units=20 if unit == "inch" else 21))
    assert done.error is None, (done.error, lines[done.error.line])
    return done.moves


def require_near(
    old: tuple[reference.Move, ...], new: tuple[reference.Move, ...], within: float, feed: float
) -> None:
    """The same moves, one for one, ends and centres no farther off than that (mm), nor feeds."""
    assert [(m.line, m.kind, m.plane) for m in old] == [(m.line, m.kind, m.plane) for m in new]
    for was, now in zip(old, new, strict=True):
        assert math.dist(was.end[:3], now.end[:3]) <= within + 1e-6
        assert was.end[3:] == now.end[3:]
        assert abs((was.feed or 0) - (now.feed or 0)) <= feed + 1e-6
        if was.centre is not None and now.centre is not None:
            assert math.dist(was.centre, now.centre) <= within * math.sqrt(2) + 1e-6
            assert abs(was.turn - now.turn) < 0.1, "none becomes a whole circle, or the other way"


def off(old: tuple[reference.Move, ...], new: tuple[reference.Move, ...]) -> float:
    """How far ends are apart along any axis at most (mm)."""
    ends = ([move.end[:3] for move in each] for each in (old, new))
    return float(np.abs(np.subtract(*map(np.array, ends))).max())


def attempted(source: Job, name: str, options: Options) -> Job | JobRefused:
    """The job behind a step, its contract and the proof of the whole kept; or its refusal."""
    try:
        done = through(source, (name, options))
    except JobRefused as error:
        return error
    contract = TRANSFORMS[name].contract(source, options)
    inch = source.start.units == "inch"
    proof = prove_run(source.program, [done.program], contract, inch, Dialect({}))
    assert proof.breach is None
    assert proof.unread == 0
    return done


def proved(source: Job, name: str, **options: Any) -> Job:
    done = attempted(source, name, options)
    assert isinstance(done, Job), done.findings[0].what
    return done


# exact numbers


@given(
    st.lists(
        st.integers(0, 14).flatmap(
            lambda scale: st.tuples(
                st.integers(-(10 ** min(9 + scale, 17)), 10 ** min(9 + scale, 17)), st.just(scale)
            )
        ),
        min_size=1,
    ),
    st.integers(0, 7),
)
def test_numbers_are_rounded_as_decimal_does(cases: list[tuple[int, int]], places: int) -> None:
    mantissa = np.array([m for m, _ in cases], np.int64)
    scale = np.array([s for _, s in cases], np.int8)
    with localcontext() as context:
        context.prec = 60
        for convert, factor in ((rounded, Decimal(1)), (in_mm, INCH), (in_inches, 1 / INCH)):
            found = convert(mantissa, scale, places)
            for (m, s), new, behind in zip(cases, *found, strict=True):
                exact = Decimal(m).scaleb(-s) * factor
                wanted = exact.quantize(Decimal(1).scaleb(-places), ROUND_HALF_EVEN)
                assert Decimal(int(new)).scaleb(-int(behind)) == wanted


@given(RANDOM, st.sampled_from([3, 4, 5]))
def test_inches_become_millimetres_exactly(rng: random.Random, places: int) -> None:
    lines = cuts(rng, inch=True, places=places, kinds="pi")
    done = proved(known(lines, "inch"), "units", to="mm")
    for old, new in zip(lines, text(done), strict=True):
        assert [
            (letter, number * INCH if letter in "XYZF" else 21 if number == 20 else number)
            for letter, number in words(old)
        ] == words(new)
        assert old.partition("(")[2] == new.partition("(")[2]


@given(RANDOM, st.integers(3, 5))
def test_there_and_back_within_half_of_the_last_place(rng: random.Random, places: int) -> None:
    """mm with so many places, in inches with two more, and back."""
    lines = cuts(rng, inch=False, places=places, kinds="")
    inches = proved(known(lines), "units", to="inch", places=places + 2)
    back = proved(inches, "units", to="mm", places=places)
    for old, new in zip(lines, text(back), strict=True):
        for (letter, was), (_, now) in zip(words(old), words(new), strict=True):
            assert abs(was - now) <= Decimal(1).scaleb(-places) / 2, letter


@pytest.mark.parametrize(
    ("inches", "millimetres"),
    [
        ("G20 G1 X0.5 Y1.125 F40", "G21 G1 X12.7 Y28.575 F1016"),
        ("g20x.5(x1)y-1 .0f9.", "g21x12.7(x1)y-25.4 f228.6"),
        ("N20 G20 X0 Y0.0 Z1 A20 S20 T1", "N20 G21 X0 Y0.0 Z25.4 A20 S20 T1"),
        ("G20 G92 X1 Y2", "G21 G92 X25.4 Y50.8"),
        ("G20 G10 L2 P1 X1 Y-0.25", "G21 G10 L2 P1 X25.4 Y-6.35"),
        ("G20 G4 P1.5", "G21 G4 P1.5"),
        ("G20 G83 X1 Z-0.5 R0.1 Q0.125 L2 F5", "G21 G83 X25.4 Z-12.7 R2.54 Q3.175 L2 F127"),
        ("G20.0 G1 X1 F1", "G21 G1 X25.4 F25.4"),
    ],
)
def test_what_is_a_length_and_what_is_not(inches: str, millimetres: str) -> None:
    done = through(known(["G0 X0 Y0 Z9", inches, "M30"]), ("units", {"to": "mm"}))
    assert text(done)[1] == millimetres


def test_the_units_that_were_assumed() -> None:
    """A word is added before the first line that does anything, and only where one is needed."""
    lines = ["%", "(ENTRANCE REDUCER)", "G0 X1 Y2", "M30", "%"]
    done = through(known(lines, "inch"), ("units", {"to": "mm"}))
    assert text(done) == [*lines[:2], "G21", "G0 X25.4 Y50.8", *lines[3:]]
    source = known(lines)
    assert through(source, ("units", {"to": "mm"})).program is source.program


def test_a_unit_that_is_stated_late() -> None:
    """Numbers in front of the first word for a unit are those of the assumed one, and a machine
    that begins in the other needs a word before them."""
    done = through(known(["G90", "G0 X10 Z5", "G21", "G1 X20 F254"]), ("units", {"to": "inch"}))
    assert text(done) == ["G20", "G90", "G0 X0.3937 Z0.19685", "G20", "G1 X0.7874 F10"]
    named = through(known(["G90", "G21 G0 X10"]), ("units", {"to": "inch"}))
    assert text(named) == ["G90", "G20 G0 X0.3937"]


def test_what_would_be_another_place_is_refused() -> None:
    """Two places of an inch may lie 0.127 mm beside the job's; in mm they are fine."""
    lines = ["G20 G0 X1.255 Z1", "G1 Z-0.125 F10"]
    assert refused(known(lines, "inch"), ("decimals", {"places": 2})).name == "rounding-coarse"
    assert text(through(known(["G0 X1.255"]), ("decimals", {"places": 2}))) == ["G0 X1.26"]
    whole = known(["G0 X1.04 Z1"])
    assert text(through(whole, ("decimals", {"places": 1}))) == ["G0 X1 Z1"]
    assert refused(known(["G0 X1.06"]), ("decimals", {"places": 0})).name == "rounding-coarse"
    kept = known(["G20 G0 X1.5 Z1"], "inch")
    assert text(through(kept, ("decimals", {"places": 1}))) == text(kept)


def test_a_centre_that_takes_the_place_of_r_has_its_point() -> None:
    lines = ["G21 G90 G94 G17", "G0 X10 Y0 Z0", "G3 X0 Y0 R5.0002 F300"]
    done = through(known(lines), ("decimals", {"places": 2, "point": "always"}))
    arc = text(done)[2]
    assert "I" in arc
    assert all("." in word for word in re.findall(r"[XYIJF][-.\d]+", arc))


def test_a_job_that_changes_its_units_becomes_one() -> None:
    """F stays as a number when the unit changes (3.5.7), so it is stated anew where that is
    another feed."""
    lines = ["G20 G90 G94 F10", "G1 X1", "G21", "G1 X30", "X40 F300", "G20 G1 X2", "M30"]
    for unit in ("mm", "inch"):
        done = proved(known(lines), "units", to=unit)
        require_near(moves(lines, "mm"), moves(text(done), "mm"), 2e-4, 2e-4)
    assert text(proved(known(lines), "units", to="mm")) == [
        "G21 G90 G94 F254", "G1 X25.4", "G21 F10", "G1 X30", "X40 F300", "G21 G1 X50.8 F7620",
        "M30",
    ]  # fmt: skip


def test_inverse_time_is_no_feed() -> None:
    lines = ["G20 G90 G94 F10", "G1 X1", "G93", "G1 X2 F3", "G94", "G1 X3 F12", "M30"]
    done = proved(known(lines), "units", to="mm")
    assert [line.split("F")[1] for line in text(done) if "F" in line] == ["254", "3", "304.8"]


# rounding

ROUNDINGS = (
    ("inch", 4, "mm", 3), ("inch", 4, "mm", 6), ("inch", 5, "mm", 4), ("mm", 3, "inch", 5),
    ("mm", 4, "inch", 4), ("mm", 5, "mm", 3), ("mm", 5, "mm", 4),
)  # fmt: skip


@given(RANDOM, st.sampled_from(ROUNDINGS))
def test_arcs_still_close(rng: random.Random, case: tuple[str, int, str, int]) -> None:
    """Both forms, all planes, absolute and in increments: the reference's radius test passes, ends
    stay within half of the last place along each axis, and no arc goes another way round."""
    unit, places, to, fewer = case
    lines = cuts(rng, inch=unit == "inch", places=places, kinds="api")
    source = known(lines, unit)
    assume(not any(finding.severity == "refuse" for finding in source.trace.findings))
    name = "decimals" if unit == to else "units"
    options: Options = {"places": fewer} if unit == to else {"places": fewer, "to": to}
    done = attempted(source, name, options)
    if isinstance(done, JobRefused):
        assert done.findings[0].name == "rounding-breaks-arc"
        return
    old, new = moves(lines, unit), moves(text(done), unit)
    step = 10.0**-fewer * (25.4 if to == "inch" else 1.0)
    require_near(old, new, TRANSFORMS[name].contract(source, options).within, step / 2)
    assert off(old, new) <= step / 2 + 1e-6


def test_few_arcs_are_lost() -> None:
    """From four places in inches to three in mm: two jobs in sixty at the most are refused."""
    jobs = (cuts(random.Random(at), inch=True, places=4, kinds="ap", length=40) for at in range(60))
    found = [attempted(known(lines, "inch"), "units", {"to": "mm", "places": 3}) for lines in jobs]
    assert sum(isinstance(each, JobRefused) for each in found) <= 2


def test_a_radius_near_a_half_circle_keeps_its_centre() -> None:
    """There a last place of R moves the centre far (3.5.3.1): the arc gets a centre instead, where
    the machine reads no more places."""
    lines = ["G20 G17 G90 G94 F9", "G0 X0 Y0", "G2 X1.2345 Y0.0011 R0.6173", "M30"]
    start = State.at_zero()
    start.units = "inch"
    changes = {"decimals": 3}
    source = job("\n".join(lines), "speed", start=start, assume="inch", changes=changes)
    done = proved(source, "units", to="mm")
    assert "R" not in text(done)[2]
    require_near(moves(lines, "inch"), moves(text(done), "inch"), 0.0022, 0.001)
    changes["arcs"] = {"forms": ["radius"]}  # type: ignore[assignment]
    source = job("\n".join(lines), "speed", start=start, assume="inch", changes=changes)
    assert refused(source, ("units", {"to": "mm"})).name == "rounding-breaks-arc"


def test_increments_do_not_add_their_rounding_up() -> None:
    """A thousand steps of 0.00049 are 0.49, and would be 0 if each were rounded by itself."""
    lines = ["G21 G90 G94 F60", "G1 X0 Y1", "G91", *["X0.00049 Y-0.0005"] * 1000, "G90", "M30"]
    done = proved(known(lines), "decimals", places=3)
    steps = [dict(words(line)) for line in text(done)[3:-2]]
    assert sum(step["X"] for step in steps) == Decimal("0.49")
    assert sum(step["Y"] for step in steps) == Decimal("-0.5")
    assert max(step["X"] for step in steps) == Decimal("0.001")


def test_increments_from_an_unknown_place_do_not_either() -> None:
    lines = ["G21 G91 G94 F60", *["G1 X0.00049 Y1"] * 1000, "M30"]
    source = job("\n".join(lines), "speed")
    done = through(source, ("decimals", {"places": 3}))
    assert sum(dict(words(line))["X"] for line in text(done)[1:-1]) == Decimal("0.49")


@given(RANDOM)
def test_increments_lead_to_rounded_places(rng: random.Random) -> None:
    lines = cuts(rng, inch=True, places=5, kinds="i", length=60)
    done = proved(known(lines, "inch"), "units", to="mm", places=3)
    assert off(moves(lines, "inch"), moves(text(done), "inch")) <= 0.0005 + 1e-6


@given(RANDOM)
def test_holes_stay_where_they_are(rng: random.Random) -> None:
    lines = cuts(rng, inch=False, places=3, kinds="hp")
    source = known(lines)
    assume(not any(finding.severity == "refuse" for finding in source.trace.findings))
    done = proved(source, "units", to="inch")
    assert off(moves(lines, "mm"), moves(text(done), "mm")) <= 25.4 * 1e-5


def test_decimals_of_every_sort() -> None:
    """Lengths and feeds are rounded half to even; speeds and dwells lose nothing but zeros."""
    lines = [
        "G21 G90 G94 F60.00000 S12000.0000", "G1 X10.12345 Y0.0625 Z-0.00004", "X1.0025 Y1.00350",
        "S999.12345", "G4 P0.25000", "G4 P0.12345", "G0 A5.00000", "M30",
    ]  # fmt: skip
    assert text(through(known(lines), ("decimals", {"places": 3}))) == [
        "G21 G90 G94 F60 S12000", "G1 X10.123 Y0.062 Z0", "X1.002 Y1.004",
        "S999.12345", "G4 P0.25", "G4 P0.12345", "G0 A5", "M30",
    ]  # fmt: skip


def test_points() -> None:
    lines = ["G21 G90 G94 F60", "G1 X10 Y.5 Z-3.", "G2 X20 Y.5 I5 J0", "S12000 M3", "G4 P3", "M30"]
    pointed = ["G21 G90 G94 F60.", "G1 X10. Y.5 Z-3.", "G2 X20. Y.5 I5. J0.", *lines[3:]]
    assert text(through(known(lines), ("decimals", {"places": 3, "point": "always"}))) == pointed
    source = job("\n".join(lines), "speed", changes={"decimal-point": "required"}, assume="mm")
    assert text(through(source, "decimals")) == pointed
    again = known(pointed)
    assert through(again, ("decimals", {"places": 3})).program is again.program


def test_behind_the_end_nothing_counts() -> None:
    lines = ["G20 G0 X1", "M30", "G0 X1.23456789", "this is (not) read"]
    for step in (("units", {"to": "mm"}), ("decimals", {"places": 2})):
        assert text(through(known(lines), step))[2:] == lines[2:]


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("units", {"to": "mm", "places": 3}),
        ("units", {"to": "inch"}),
        ("decimals", {"places": 1}),
        ("decimals", {"places": 3, "point": "always"}),
    ],
)
@pytest.mark.parametrize("path", sorted(JOBS.glob("*.nc")), ids=lambda path: path.name)
def test_awkward_files(path: Path, name: str, options: Options) -> None:
    """The contract holds, and a second time the step finds nothing to do."""
    try:
        once = through(job(path.read_bytes(), "speed", assume="inch"), (name, options))
    except JobRefused as error:
        refusal = error.findings[0]
    else:
        assert through(once, (name, options)).program is once.program
        return
    assert refusal.remedy
    assert refusal.place is not None


# the proof


@pytest.mark.parametrize("slip", [2, -2])
def test_the_proof_sees_a_last_place(slip: int) -> None:
    """A number that is off by more than the bound, half of the last place times the root of 3."""
    source = known(["G20 G90 G94 F60", "G0 X0 Y0", "G1 X1.2345 Y2", "M30"])
    options = {"to": "mm", "places": 3}
    done = through(source, ("units", options))
    assert text(done)[2] == "G1 X31.356 Y50.8"
    edit = replace(2, f"G1 X{31.356 + slip / 1000:.3f} Y50.8")
    wrong = done.with_program(done.program.edited([edit], Cause("units", 1)))
    contract = TRANSFORMS["units"].contract(source, options)
    assert contract.within == pytest.approx(0.0005 * math.sqrt(3))
    proof = prove_step(
        Version(source.program, source.trace), Version(wrong.program, wrong.trace), contract
    )
    assert "where a move goes in X" in proof.breaches[0].what
    whole = prove_run(source.program, [wrong.program], contract, False, Dialect({}))
    assert whole.breach is not None


def test_the_proof_sees_a_feed() -> None:
    source = known(["G20 G90 G94 F60", "G0 X0", "G1 X1 F12.3456", "M30"])
    options = {"to": "mm", "places": 2}
    done = through(source, ("units", options))
    edit = replace(2, "G1 X25.4 F313.6")
    wrong = done.with_program(done.program.edited([edit], Cause("units", 1)))
    contract = TRANSFORMS["units"].contract(source, options)
    assert contract.feed_within == pytest.approx(0.005)
    proof = prove_step(
        Version(source.program, source.trace), Version(wrong.program, wrong.trace), contract
    )
    assert "the feed of a move" in proof.breaches[0].what


# refusals, and what a machine needs


@pytest.mark.parametrize(
    ("lines", "step", "name"),
    [
        (["G20 G0 X[1+1]"], ("units", {"to": "mm"}), "numbers-not-plain"),
        (["#1=2", "G20 G0 X#1"], ("units", {"to": "mm"}), "numbers-not-plain"),
        (["/G20", "G0 X1"], ("units", {"to": "mm"}), "mode-optional"),
        (["G21 G94 F60", "G1 A10"], ("units", {"to": "inch"}), "feed-of-two-kinds"),
        (["F9", "G93", "G20 G1 X1 F2"], ("units", {"to": "mm"}), "feed-of-two-kinds"),
        (["G0 A1.23456"], ("decimals", {"places": 3}), "angle-too-fine"),
        (["G1 X1 F0.0004"], ("decimals", {"places": 3}), "feed-rounded-away"),
        (
            ["G94 F60", "G0 X0 Y0", "G3 X0.0004 Y0.0004 J0.0004"],
            ("decimals", {"places": 3}),
            "rounding-breaks-arc",
        ),
        (["G0 X1234567890.5", "X0.00001"], ("units", {"to": "inch"}), "number-too-large"),
        (
            ["G94 F60", "G0 X0 Z5", "G91 G81 X1.00049 Z-1 R-1 L3"],
            ("decimals", {"places": 3}),
            "rounding-breaks-cycle",
        ),
        (
            ["G94 F60", "G0 X0 Z5", "G90 G83 X1 Z-20 R1 Q0.50049"],
            ("decimals", {"places": 3}),
            "rounding-breaks-cycle",
        ),
    ],
)
def test_what_cannot_be_right_is_refused(
    lines: list[str], step: tuple[str, Options], name: str
) -> None:
    assert refused(known([*lines, "M30"]), step).name == name


def pecks(depth: Fraction, peck: Fraction) -> int:
    """RS274/NGC 3.5.16.4: down by Q, up, and again, until Z is reached."""
    return max(1, math.ceil(depth / peck))


@pytest.mark.parametrize(
    ("r", "z", "q", "step"),
    [
        ("2", "-10", "3", ("units", {"to": "inch"})),
        ("1", "-9.7", "0.7", ("units", {"to": "inch", "places": 4})),
        ("2", "-10", "1.5", ("units", {"to": "inch", "places": 4})),
        ("1.00049", "-2", "1", ("decimals", {"places": 3})),
        ("0.5", "-11.49951", "1.2", ("decimals", {"places": 2})),
    ],
)
def test_a_hole_takes_as_many_pecks(r: str, z: str, q: str, step: tuple[str, Options]) -> None:
    lines = ["G21 G94 F60", "G0 X0 Y0 Z5", f"G90 G83 X1 Z{z} R{r} Q{q}", "M30"]
    source = known(lines, changes={"decimals": 5})
    done = through(source, step)
    numbers = {name: Fraction(value) for name, value in words(text(done)[2])}
    new = pecks(numbers["R"] - numbers["Z"], numbers["Q"])
    assert new == pecks(Fraction(r) - Fraction(z), Fraction(q))
    assert text(done) != text(source)


def test_a_field_that_is_not_filled_in() -> None:
    assert "machine.decimals" in refused(known(["G0 X1", "M30"]), "decimals").what


def test_what_a_machine_needs() -> None:
    inches = ["G20 G0 X1", "M30"]
    assert needs_units(known(inches)) is None, "it reads both"
    for lines, needs in ((inches, {"to": "mm"}), (["G21 G0 X1", "M30"], None)):
        source = job("\n".join(lines), "speed", changes={"units": ["mm"]}, assume="mm")
        assert needs_units(source) == needs
    source = job("G0 X1", "speed", changes={"units": ["mm"]}, assume="inch")
    assert needs_units(source) == {"to": "mm"}
    assert needs_decimals(known(inches)) is None
    fits, finer = "G0 X1.125", "G0 X1.1250"
    assert needs_decimals(job(fits, "speed", changes={"decimals": 3})) is None
    assert needs_decimals(job(finer, "speed", changes={"decimals": 3})) == {}
    assert needs_decimals(job("G0 X1", "speed", changes={"decimal-point": "required"})) == {}
