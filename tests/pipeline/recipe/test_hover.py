"""Markdown for editors, beside what a schema says; tests/editor sees what becomes of it there."""

from __future__ import annotations

from typing import Any

import pytest

from headrace.recipe.hover import with_hover
from headrace.recipe.schema import schema


def markdown(**part: Any) -> str:
    return str(with_hover(part)["markdownDescription"])


def without(node: Any) -> Any:
    """A schema without what was added to it."""
    if isinstance(node, dict):
        return {key: without(part) for key, part in node.items() if key != "markdownDescription"}
    return [without(part) for part in node] if isinstance(node, list) else node


@pytest.mark.parametrize("kind", ["recipe", "machine", "setup"])
def test_nothing_else_is_changed_and_no_description_is_left_out(kind: str) -> None:
    made = with_hover(schema(kind))

    assert without(made) == schema(kind)
    assert repr(made).count("'markdownDescription':") == repr(made).count(
        "'description': '"
    ) + repr(made).count("'description': \"")


@pytest.mark.parametrize(
    ("part", "told"),
    [
        ({}, "Air; mm."),
        ({"default": 3}, "Air; mm.\n\nIf left out: `3`."),
        ({"default": 0}, "Air; mm.\n\nIf left out: `0`."),
        ({"default": False}, "Air; mm.\n\nIf left out: `false`."),
        ({"default": "word"}, "Air; mm.\n\nIf left out: `word`."),
        ({"default": [["z"], ["x"]]}, 'Air; mm.\n\nIf left out: `[["z"], ["x"]]`.'),
        ({"default": {}}, "Air; mm."),
        ({"default": []}, "Air; mm."),
        ({"exclusiveMinimum": 0, "maximum": 5}, "Air; mm.\n\nMore than 0, at most 5."),
        ({"minimum": -1, "exclusiveMaximum": 5}, "Air; mm.\n\nAt least -1, less than 5."),
    ],
)
def test_bounds_and_defaults_are_told(part: dict[str, Any], told: str) -> None:
    assert markdown(description="Air; mm.", **part) == told


def test_paragraphs_are_whole_and_programs_stay_as_they_are() -> None:
    """A docstring as transforms have it; a blank line inside the program is part of it."""
    text = (
        "Do it.\n\nIn two\nlines: `this`.\n\n    G1 X1   ->   G1 X1\n\n    M30          M30\n\nEnd."
    )

    assert markdown(description=text) == (
        "Do it.\n\nIn two lines: `this`.\n\n"
        "```text\nG1 X1   ->   G1 X1\n\nM30          M30\n```\n\nEnd."
    )


def test_parts_that_are_true_or_false_stay() -> None:
    """Either is a schema too (JSON Schema 2020-12 core, 4.3.2)."""
    odd = {"properties": {"x": False}, "items": True, "anyOf": [True, {"description": "A."}]}

    made = with_hover(odd)

    assert made["properties"] == {"x": False}
    assert made["items"] is True
    assert made["anyOf"] == [True, {"description": "A.", "markdownDescription": "A."}]
