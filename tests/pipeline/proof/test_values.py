"""Parameters and expressions by the second reading: the standard's own values, and the same as the
first reading on generated ones (3.3.2, 3.3.3, appendix C.2)."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference.examples import VALUES, Value

from headrace.program.expression import Reader, ReadingError, evaluate
from headrace.proof.second.values import Unknown, worked_out


def value_of(text: str, parameters: dict[int, float] | None = None) -> float:
    """What X comes to; the text as it is written, in any case and with blanks."""
    line = f"X{text}".upper().replace(" ", "").encode() + b"\n"
    return float(worked_out(line, dict(parameters or {})).strip()[1:])


@pytest.mark.parametrize("value", VALUES, ids=lambda value: value.text)
def test_values_of_the_standard(value: Value) -> None:
    found = value_of(value.text, dict(value.parameters))
    assert abs(found - value.value) <= value.tolerance


def test_settings_act_behind_their_line() -> None:
    """3.3.3 and 3.3.6; C.2 has `##1 = 0.375`."""
    parameters = {3: 15.0}
    assert worked_out(b"#3=6G1X#3\n", parameters) == b"G1X15.0\n"
    assert worked_out(b"#3=15#3=6\n", parameters) == b"\n"
    assert worked_out(b"#1=2.0\n", parameters) == b"\n"
    assert worked_out(b"##1=0.375\n", parameters) == b"\n"
    assert parameters == {3: 6.0, 1: 2.0, 2: 0.375}


def test_an_a_that_begins_a_word_is_its_letter() -> None:
    """Table 2 and 3.3.2.4: `A COS[0]` is a word of the A axis, `X ACOS[0]` an arc cosine."""
    assert worked_out(b"ACOS[0]\n", {}) == b"A1.0\n"
    assert float(worked_out(b"X1ATAN[45]\n", {})[3:]) == pytest.approx(1)
    assert value_of("ACOS[0]") == pytest.approx(90)
    assert value_of("ATAN[1+1]/[2]") == pytest.approx(45)


@pytest.mark.parametrize("text", ["#5063", "[1/0]", "SQRT[0-1]", "LN[0]", "[1+]", "#1"])
def test_what_cannot_be_told_is_unknown(text: str) -> None:
    with pytest.raises(Unknown):
        value_of(text, {1: math.nan})


_NUMBERS = st.decimals(-40, 40, places=3).map(str)


def _grown(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    operations = st.sampled_from(["+", "-", "*", "/", "**", "MOD", "AND", "OR", "XOR"])
    names = st.sampled_from(
        ["ABS", "ACOS", "ASIN", "COS", "EXP", "FIX", "FUP", "LN", "ROUND", "SIN", "SQRT", "TAN"]
    )
    return st.one_of(
        st.builds(lambda a, o, b, p, c: f"[{a}{o}{b}{p}{c}]", inner, operations, inner,
                  operations, inner),
        st.builds(lambda name, a: f"{name}[{a}]", names, inner),
        st.builds(lambda a, b: f"ATAN[{a}]/[{b}]", inner, inner),
        st.builds(lambda a: f"#[2+0*{a}]" if a[0] not in "+-" else f"[{a}]", inner),
    )  # fmt: skip


@given(st.recursive(_NUMBERS, _grown, max_leaves=8))
@settings(max_examples=400, deadline=None)
def test_both_readings_come_to_the_same(text: str) -> None:
    parameters = {2: 2.5}
    try:
        first = evaluate(Reader(text).real(), parameters)
    except ReadingError:
        first = math.nan
    try:
        second = value_of(text, parameters)
    except Unknown:
        second = math.nan
    if math.isnan(first) or math.isnan(second):
        assert math.isnan(first) == math.isnan(second), text
    else:
        assert math.isclose(first, second, rel_tol=1e-6, abs_tol=1e-9), text
