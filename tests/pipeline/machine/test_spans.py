"""Spans and heights. The rules of interval arithmetic are those of IEEE 1788-2015, 4.5 (from
memory); sums over all ends are checked against NumPy."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from headrace import Heights, JobRefused, Machine, Setup, Span, needed

RECIPES = Path(__file__).parents[3] / "recipes"
lengths = st.floats(-2000, 2000, allow_nan=False)


@st.composite
def spans(draw: st.DrawFn) -> Span:
    ends = sorted((draw(lengths), draw(lengths)))
    return Span(ends[0], ends[1])


def test_the_ways_to_write_a_span() -> None:
    assert Span.of(18) == Span(18.0, 18.0)
    assert Span.of((17.6, 18.1)) == Span.of([17.6, 18.1]) == Span(17.6, 18.1)
    assert Span.of({"least": 17.6, "most": 18.1}) == Span(17.6, 18.1)
    assert isinstance(Span.of(18).least, float)


@given(spans(), spans())
def test_sums_and_differences_hold_every_possible_one(a: Span, b: Span) -> None:
    first = np.array([[a.least], [a.most]])
    second = np.array([[b.least, b.most]])

    total, difference = a + b, a - b
    assert (total.least, total.most) == ((first + second).min(), (first + second).max())
    assert (difference.least, difference.most) == (
        (first - second).min(),
        (first - second).max(),
    )


@given(spans(), lengths)
def test_with_a_plain_number(span: Span, value: float) -> None:
    assert span + value == span + Span.of(value)
    assert span - value == span - Span.of(value)
    assert value - span == Span.of(value) - span


@given(spans(), lengths)
def test_what_lies_in_a_span(span: Span, value: float) -> None:
    assert (value in span) == (span.least <= value <= span.most)
    assert span.least in span
    assert span.most in span


def test_a_span_taken_from_itself_is_not_nothing() -> None:
    """Two things that vary do not vary together."""
    assert Span(1, 3) - Span(1, 3) == Span(-2, 2)


# --- heights ----------------------------------------------------------------------------------


def described(**setup: Any) -> tuple[Machine, Setup]:
    machine = yaml.safe_load((RECIPES / "machines" / "bench-hand-switched.yaml").read_text())
    machine["bed"] = 108
    return Machine.of(machine), Setup.of({"format": "headrace-setup/1", **setup})


COMPLETE: dict[str, Any] = {
    "sheet": {"thickness": {"least": 17.6, "most": 18.1}},
    "plate": {"thickness": 12.02},
    "tool": {"stick-out": [28, 32]},
}


def test_heights_by_hand() -> None:
    """bed 108, stick-out 28 to 32, sheet 17.6 to 18.1, plate 12.02: sums on paper."""
    heights = Heights.of(*described(**COMPLETE), "touch-off")

    assert (heights.floor.least, heights.floor.most) == (76, 80)
    assert heights.surface.least == pytest.approx(57.9)
    assert heights.surface.most == pytest.approx(62.4)
    assert heights.touch.least == pytest.approx(45.88)
    assert heights.touch.most == pytest.approx(50.38)


@given(st.floats(0, 1), st.floats(0, 1))
def test_every_sheet_and_tool_in_the_set_up_is_covered(thick: float, long: float) -> None:
    heights = Heights.of(*described(**COMPLETE), "touch-off")
    stick_out, thickness = 28 + 4 * long, 17.6 + 0.5 * thick

    touch = 108 - stick_out - thickness - 12.02
    assert heights.touch.least - 1e-9 <= touch <= heights.touch.most + 1e-9


@pytest.mark.parametrize(
    ("gone", "field"),
    [
        ("sheet", "setup.sheet.thickness"),
        ("plate", "setup.plate.thickness"),
        ("tool", "setup.tool.stick-out"),
    ],
)
def test_what_is_not_described_is_asked_for_by_name(gone: str, field: str) -> None:
    parts = {key: value for key, value in COMPLETE.items() if key != gone}

    with pytest.raises(JobRefused) as refusal:
        Heights.of(*described(**parts), "touch-off")
    finding = refusal.value.findings[0]
    assert finding.what == f"touch-off cannot tell: {field} is not given"
    assert f"`{field.removeprefix('setup.')}` in the set-up file" in finding.remedy


def test_the_bed_is_asked_for_in_the_machine_file() -> None:
    machine = yaml.safe_load((RECIPES / "machines" / "bench-hand-switched.yaml").read_text())
    machine.pop("bed")

    with pytest.raises(JobRefused) as refusal:
        Heights.of(Machine.of(machine), Setup.of(COMPLETE), "touch-off")
    assert "`bed` in the machine file" in refusal.value.findings[0].remedy


def test_nought_is_known() -> None:
    assert needed(0.0, "setup.plate.thickness", "touch-off") == 0.0
    assert needed((), "setup.clamps", "touch-off") == ()


# --- descriptions -----------------------------------------------------------------------------


@pytest.mark.parametrize("path", sorted((RECIPES / "machines").iterdir()), ids=lambda p: p.stem)
def test_machines_of_the_workshop(path: Path) -> None:
    data = yaml.safe_load(path.read_text("utf-8"))
    machine = Machine.of(data)

    assert machine.name == data["name"]
    for letter, axis in machine.axes.items():
        low, high = data["axes"][letter]["travel"]
        assert axis.travel == high - low
    assert machine.comments.parentheses == (data["comments"] in ("parentheses", "both"))
    assert machine.comments.semicolon == (data["comments"] in ("semicolon", "both"))
    assert machine.line_end in ("\n", "\r\n")


@pytest.mark.parametrize("path", sorted((RECIPES / "setups").iterdir()), ids=lambda p: p.stem)
def test_set_ups_of_the_workshop(path: Path) -> None:
    data = yaml.safe_load(path.read_text("utf-8"))
    setup = Setup.of(data)

    if "sheet" in data:  # else there is a round blank
        assert setup.sheet.thickness == Span.of(data["sheet"]["thickness"])
    else:
        assert setup.blank is not None
        assert setup.blank.diameter == data["blank"]["diameter"]
    assert [clamp.name for clamp in setup.clamps] == [
        clamp["name"] for clamp in data.get("clamps", ())
    ]
    assert all(clamp.low < clamp.high for clamp in setup.clamps)


def test_an_empty_set_up_knows_nothing() -> None:
    setup = Setup.of({"format": "headrace-setup/1"})

    assert (setup.name, setup.clamps) == ("", None)
    assert setup.sheet.thickness is setup.sheet.corner is setup.sheet.size is None
    assert setup.plate.thickness is setup.plate.at is None
    assert setup.tool.stick_out is setup.safe_height is None
