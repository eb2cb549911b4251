"""How findings name things."""

from __future__ import annotations

import doctest

import pytest

from headrace.recipe import wording
from headrace.recipe.wording import any_of, kind_of, label, listed, nearest, told, wanted


def test_examples_in_the_docstrings_hold() -> None:
    results = doctest.testmod(wording)

    assert results.failed == 0
    assert results.attempted >= 5


def test_label_counts_items_from_one() -> None:
    assert label(()) == "the file"
    assert label(("steps", 0)) == "item 1 of `steps`"
    assert label(("a", 0, "b", 1, "c", "d")) == "`c.d` in item 2 of `b` in item 1 of `a`"


def test_long_values_are_cut_short() -> None:
    assert len(told("x" * 100)) == 42
    assert len(told(list(range(1000)))) == 42
    assert told({"a": 1, "b": 2}) == "`{a: …, b: …}`"
    assert told("two\nlines") == "`two lines`"
    assert told(True) == "`true`"


def test_kinds_of_values_have_plain_names() -> None:
    values = [True, "a", 1, 1.5, [], {}, None]

    assert [kind_of(value) for value in values] == [
        "true or false", "text", "a number", "a number", "a list", "a mapping", "null",
    ]  # fmt: skip
    assert wanted("integer") == "a whole number"
    assert any_of([]) == ""
    assert any_of(["a", "b", "a", "c"]) == "a, b or c"
    assert listed([]) == "none"


@pytest.mark.parametrize(
    ("word", "name"),
    [("Run_Up", "run-up"), ("run up", "run-up"), ("rnu-up", "run-up"), ("qqq", None), (7, None),
     ("run-up" * 10, None)],
)  # fmt: skip
def test_nearest_looks_past_case_and_hyphens(word: object, name: str | None) -> None:
    assert nearest(word, ["run-up", "run-down", "speed"]) == name
