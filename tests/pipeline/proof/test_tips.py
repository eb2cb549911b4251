"""A contract on the tip of a trailing blade: the right way of the axis passes both proofs, and no
fault in it does. The right way is worked out here by hand: ahead of the path by the offset along
the tangent, and round the tip at corners."""

from __future__ import annotations

import math

import pytest

from headrace import Facet, Trailing
from headrace.plugins import Contract
from headrace.proof import prove_step

from .trial import line_for_line, passes, program, version

D = 0.5
WITHIN = 0.02
JOB = [
    "G21 G90 G17 G94",
    "G0 Z5",
    "G0 X10 Y10",
    "G1 Z-2 F300",
    "G1 X30 Y10 F900",
    "G1 X30 Y20",
    "G3 X20 Y30 I-10 J0",
    "G0 Z5",
    "G0 X60 Y0",
    "G1 Z-2 F300",
    "G2 X60 Y0 I0 J-8 F900",
    "G0 Z5",
    "M30",
]
LED: list[str | list[str]] = [
    "G21 G90 G17 G94",
    "G0 Z5",
    "G0 X10.5 Y10",
    "G1 Z-2 F300",
    "G1 X30.5 Y10 F900",
    ["G0 Z-0.4", "G3 X30 Y10.5 I-0.5 J0 F900", "G1 Z-2 F300", "G1 X30 Y20.5 F900"],
    "G3 X19.5 Y30 I-10 J-0.5",
    "G0 Z5",
    "G0 X59.5 Y0",
    ["G1 Z-0.4 F300", "G2 X60.5 Y0 I0.5 J0", "G1 Z-2"],
    "G2 X60.5 Y0 I-0.5 J-8 F900",
    "G0 Z5",
    "M30",
]


def contract(offset: float = D, bite: float = 0.4, heading: float = 0.0) -> Contract:
    trails = (Trailing(offset, bite, heading),)
    return Contract(frozenset({Facet.SPELLING}), within=WITHIN, trails=trails)


def test_the_right_way_passes() -> None:
    proofs = line_for_line(JOB, LED, contract())

    assert passes(proofs)
    step, run = proofs
    assert step.deviation < WITHIN / 2
    assert run.deviation == pytest.approx(step.deviation, abs=1e-9)
    assert "0.5 mm behind the axis" in run.contract


FAULTS: dict[str, tuple[int, str | list[str]]] = {
    "not led at all": (2, "G0 X10 Y10"),
    "led too little": (4, "G1 X30.4 Y10 F900"),
    "no swivel": (5, "G1 X30 Y20.5 F900"),
    "swivel to the other side": (
        5, ["G0 Z-0.4", "G2 X30 Y9.5 I-0.5 J0 F900", "G1 Z-2 F300", "G1 X30 Y20.5 F900"],
    ),
    "swivel above the sheet, where it does not turn": (
        5, ["G0 Z1", "G3 X30 Y10.5 I-0.5 J0 F900", "G1 Z-2 F300", "G1 X30 Y20.5 F900"],
    ),
    "swivel too near the top to be sure": (
        5, ["G0 Z-0.2", "G3 X30 Y10.5 I-0.5 J0 F900", "G1 Z-2 F300", "G1 X30 Y20.5 F900"],
    ),
    "swivel, and not lowered again": (
        5, ["G0 Z-0.4", "G3 X30 Y10.5 I-0.5 J0 F900", "G1 X30 Y20.5 F900"],
    ),
    "lowered too far": (
        5, ["G0 Z-0.4", "G3 X30 Y10.5 I-0.5 J0 F900", "G1 Z-2.1 F300", "G1 X30 Y20.5 F900"],
    ),
    "dives on the spot": (
        5, ["G1 Z-3", "G3 X30 Y10.5 I-0.5 J0 F900", "G1 Z-2 F300", "G1 X30 Y20.5 F900"],
    ),
    "cuts aside while it is turned": (
        5, ["G0 Z-0.4", "G1 X30.9 Y10 F900", "G1 X30.5 Y10", "G3 X30 Y10.5 I-0.5 J0",
            "G1 Z-2 F300", "G1 X30 Y20.5 F900"],
    ),
    "another feed": (5, ["G0 Z-0.4", "G3 X30 Y10.5 I-0.5 J0 F900", "G1 Z-2 F300",
                         "G1 X30 Y20.5 F800"]),
    "another plunge feed": (9, ["G1 Z-0.4 F250", "G2 X60.5 Y0 I0.5 J0", "G1 Z-2 F300"]),
    "an arc of the job's own radius": (6, "G3 X20 Y30.5 I-10 J0"),
    "an arc that ends early": (10, "G2 X60.5 Y-16 I-0.5 J-8 F900"),
    "an arc the other way": (10, "G3 X60.5 Y0 I-0.5 J-8 F900"),
    "a slanting plunge": (9, "G1 X60.5 Y0 Z-2 F300"),
}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS)
def test_no_fault_passes(fault: str) -> None:
    line, texts = FAULTS[fault]
    led = [*LED[:line], texts, *LED[line + 1 :]]

    assert not passes(line_for_line(JOB, led, contract()))


def test_the_long_way_round_the_tip_is_a_way_too() -> None:
    led = [*LED]
    led[5] = ["G0 Z-0.4", "G2 X30 Y10.5 I-0.5 J0 F900", "G1 Z-2 F300", "G1 X30 Y20.5 F900"]

    assert passes(line_for_line(JOB, led, contract()))


def test_a_plunge_where_the_steps_have_brought_the_axis_is_no_plunge_of_the_tip() -> None:
    job = ["G21 G90 G17 G94", "G0 Z5", "G1 Z-2 F300", "G1 X20 Y0", "G0 Z5"]
    led = [*job[:3], "G1 X20.5 Y0", "G0 Z5"]
    old = program(job)
    step = prove_step(version(old), version(program(led)), contract())

    assert step.breaches


@pytest.mark.parametrize(
    "other", [contract(offset=0.6), contract(offset=0.45), contract(heading=90)]
)
def test_another_blade_does_not_pass(other: Contract) -> None:
    assert not passes(line_for_line(JOB, LED, other))


def test_a_blade_turned_elsewhere_at_first_may_be_led_by_that() -> None:
    led = [*LED]
    led[2] = "G0 X10 Y10.5"
    led[3] = ["G1 Z-0.4 F300", "G2 X10.5 Y10 I0 J-0.5", "G1 Z-2"]

    assert passes(line_for_line(JOB, led, contract(heading=90)))
    assert not passes(line_for_line(JOB, led, contract()))


@pytest.mark.parametrize("slip", [1e-4, 1e-3, 5e-3, 0.03, 0.1])
def test_the_deviation_is_that_of_the_tip(slip: float) -> None:
    """An axis led beside the path by a slip at a cut's end: the way is many offsets long, so the
    tip comes to lie as far beside it (its tractrix is at exp(-20 / 0.5) of where it began)."""
    led = [*LED]
    led[4] = f"G1 X30.5 Y{10 + slip:g} F900"
    swivel = f"G3 X30 Y{10.5 + slip:g} I-0.5 J0 F900"
    led[5] = ["G0 Z-0.4", swivel, "G1 Z-2 F300", "G1 X30 Y20.5 F900"]
    step, run = line_for_line(JOB, led, contract())
    least = slip * (1 - 2 * D / 20)  # the tip lies on the slanting way, the offset behind its end

    if slip > WITHIN:
        assert step.breaches
        assert run.breach is not None
    else:
        assert not step.breaches
        assert least <= step.deviation <= slip + WITHIN / 6
        assert run.deviation == pytest.approx(step.deviation, abs=1e-9)


def test_short_lines_need_no_swivel() -> None:
    """A polygon of 720 corners: each is half a degree, and the axis goes from one to the next."""
    angles = [math.radians(each / 2) for each in range(721)]
    path = [(20 * math.cos(a), 20 * math.sin(a)) for a in angles]
    ahead = [
        (x - D * math.sin(a), y + D * math.cos(a)) for (x, y), a in zip(path, angles, strict=True)
    ]
    cut = [f"G1 X{x:.4f} Y{y:.4f} F900" for x, y in path[1:]]
    led = [f"G1 X{x:.4f} Y{y:.4f} F900" for x, y in ahead[1:]]
    head = ["G21 G90 G17 G94", "G0 Z5"]
    job = [*head, "G0 X20 Y0", "G1 Z-2 F300", *cut, "G0 Z5"]
    result = [*head, f"G0 X20 Y{D}", "G1 Z-2 F300", *led, "G0 Z5"]

    assert passes(line_for_line(job, result, contract(heading=90)))


def test_a_trailing_tip_needs_a_tolerance() -> None:
    with pytest.raises(ValueError, match="within"):
        Contract(trails=(Trailing(0.5, 0.3),))
    with pytest.raises(ValueError, match="more than 0"):
        Trailing(0.0, 0.3)
