"""Answers as people type them: read by the schema, refused with the reason."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from headrace.interview.answers import Unusable, read_answer, read_answers, read_truth, shown
from headrace.interview.entry import written
from headrace.interview.fields import field_schema
from headrace.interview.question import at


def read(dotted: str, text: str) -> Any:
    return read_answer(text, field_schema(at(dotted)), dotted)


@pytest.mark.parametrize(
    ("dotted", "text", "value"),
    [
        ("bed", "108", 108),
        ("bed", " 108.5 ", 108.5),
        ("axes.z.travel", "-85 0", [-85, 0]),
        ("axes.x.travel", "0, 620", [0, 620]),
        ("dwell", "2", "milliseconds"),
        ("dwell", "SECONDS", "seconds"),
        ("dwell", "sec", "seconds"),
        ("work-zero.word", "g10 l20", "G10 L20"),
        ("work-zero.word", "G10 L2", "G10 L2"),
        ("work-zero.systems", "G54 g55", ["G54", "G55"]),
        ("work-zero.systems", "none", []),
        ("homing.word", "g28", "G28"),
        ("homing.order", "z xy", [["z"], ["x", "y"]]),
        ("homing.order", "Z, X+Y", [["z"], ["x", "y"]]),
        ("percent", "no", False),
        ("machine-moves", "Y", True),
        ("spindle.dial", "1=10000 6=30000", [["1", 10000], ["6", 30000]]),
        ("spindle.numbers", "0=0 255=24000", [[0, 0], [255, 24000]]),
        ("outputs", "m7=vacuum table, M8=extraction", {"M7": "vacuum table", "M8": "extraction"}),
        ("outputs", "none", {}),
        ("outputs-off", "M64=m65", {"M64": "M65"}),
        ("hold-down", "m7", "M7"),
        ("hold-down", "None", "none"),
        ("corners", "deviation 0.02", {"deviation": 0.02}),
        ("corners", "full-stop", {"full-stop": True}),
        ("cycles", "g81 G83", ["G81", "G83"]),
        ("arcs.forms", "none", []),
        ("units", "mm", ["mm"]),
        ("name", "Bench machine, by hand", "Bench machine, by hand"),
    ],
)
def test_it_means_this(dotted: str, text: str, value: Any) -> None:
    assert read(dotted, text) == value
    assert type(read(dotted, text)) is type(value)


@pytest.mark.parametrize(
    ("dotted", "text", "reason"),
    [
        ("bed", "108,5", "write a point, not a comma: 108.5"),
        ("bed", "108 mm", "write the number alone: 108"),
        ("bed", "4.25 in", "lengths are in mm here, not in inches: 4.25 in is 107.95 mm"),
        ("bed", '5"', "5 in is 127 mm"),
        ("bed", "10 cm", "cm is not the unit that the question names"),
        ("spindle.run-up", "2000 ms", "ms is not the unit that the question names"),
        ("spindle.range", "18000 18000 rpm", "2 numbers are wanted"),
        ("axes.x.travel", "0 24.5 in", "24.5 in is 622.3 mm"),
        ("axes.x.travel", "0in 24in", "0 in is 0 mm"),
        ("axes.x.rapid", "200 in/min", "200 in is 5080 mm"),
        ("bed", "-3", "must be more than 0"),
        ("bed", "far", "far is no number"),
        ("bed", "1e3", "exponent"),
        ("bed", "0108", "leading zero"),
        ("axes.x.travel", "620", "2 numbers are wanted, one after the other, not 1"),
        ("axes.x.travel", "0 620 1", "2 numbers are wanted, one after the other, not 3"),
        ("dwell", "minutes", "answer seconds or milliseconds"),
        ("dwell", "3", "answer seconds or milliseconds"),
        ("work-zero.word", "G10", "answer G92, G10 L2 or G10 L20"),
        ("arcs.helix", "perhaps", "answer yes or no"),
        ("homing.word", "HOME", "such as `G28`"),
        ("homing.order", "zw", "item 2 of item 1 of `homing.order` is `w`"),
        ("pause.width", "20.5", "must be a whole number"),
        ("spindle.dial", "1 10000", "write pairs with a = between"),
        ("outputs", "M8", "write pairs with a = between"),
        ("outputs", "M8=fan, m8=light", "second time"),
        ("outputs", "G8=fan", "`G8` has no place here; wanted is an M code in capitals"),
        ("corners", "deviation", "write a number behind deviation"),
        ("corners", "full-stop 3", "goes without a number"),
        ("corners", "quick 3", "answer deviation, speed-step or full-stop"),
        ("work-zero.systems", "G54 G54", "second time"),
    ],
)
def test_it_is_not_taken_and_the_reason_says_what_to_write(
    dotted: str, text: str, reason: str
) -> None:
    with pytest.raises(Unusable, match=r".") as told:
        read(dotted, text)
    assert reason in str(told.value)


def test_several_fields_take_their_values_in_order() -> None:
    schemas = [field_schema(at(f"axes.{axis}.rapid")) for axis in "xyz"]

    assert read_answers("4000 4000 1500", schemas, ["x", "y", "z"]) == [4000, 4000, 1500]
    with pytest.raises(Unusable, match="3 values are wanted, one after the other, not 1"):
        read_answers("4000", schemas, ["x", "y", "z"])


def test_yes_and_no() -> None:
    assert read_truth("Yes")
    assert not read_truth("n")
    with pytest.raises(Unusable):
        read_truth("")


@given(st.decimals(-1000, 1000, places=3))
def test_a_number_is_what_decimal_reads(number: Decimal) -> None:
    """Against Python's `decimal`."""
    text = format(number, "f")
    value = read("axes.x.homed-number", text)

    assert Decimal(str(value)) == number


VALUES = {
    "homing.order": [[["z"], ["x", "y"]], [["z"], ["y"], ["x"]]],
    "outputs": [{}, {"M8": "extraction", "M7": "vacuum table"}],
    "corners": [{"deviation": 0.05}, {"speed-step": 480}, {"full-stop": True}],
    "spindle.dial": [[["1", 10000], ["2", 12500]]],
    "spindle.numbers": [[[0, 0], [255, 24000]]],
    "work-zero.systems": [[], ["G54", "G59.3"]],
    "percent": [True, False],
}


@pytest.mark.parametrize("dotted", VALUES)
def test_what_is_shown_is_what_can_be_typed(dotted: str) -> None:
    for value in VALUES[dotted]:
        Draft202012Validator(field_schema(at(dotted))).validate(value)
        assert read(dotted, shown(value)) == value


@given(
    st.recursive(
        st.text(
            st.characters(
                codec="utf-8", exclude_categories=("Cc", "Cs", "Cf", "Zl", "Zp", "Cn", "Co")
            )
        )
        | st.integers(-(10**9), 10**9)
        | st.booleans(),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(st.from_regex("[a-z]{3,8}", fullmatch=True), inner, max_size=3)
        ),
        max_leaves=6,
    )
)
def test_values_are_written_as_yaml_reads_them(value: Any) -> None:
    """Against PyYAML."""
    assert yaml.safe_load(written(value)) == value
