"""Values for options, checked by the JSON Schema validator; the schemas are those of the bundled
transforms and some from the specification's own vocabulary (JSON Schema 2020-12, Validation 6)."""

from __future__ import annotations

from itertools import islice
from random import Random
from typing import Any

import jsonschema
import pytest
from pipeline.testing.zoo import settle

from headrace.plugins.registry import load_registry
from headrace.testing.values import draws, values, wrong_values

SCHEMAS: dict[str, dict[str, Any]] = {
    f"{name} {option}": dict(schema)
    for name, transform in load_registry().transforms.items()
    if transform.provider.startswith("headrace ")
    for option, schema in transform.options.items()
} | {
    "a place": {"type": "array", "prefixItems": [{"type": "number"}, {"type": "number"}]},
    "at least two": {"type": "array", "items": {"enum": ["x", "y", "z"]}, "minItems": 2},
    "a mapping": {
        "type": "object",
        "properties": {"feed": {"type": "number", "minimum": 1}, "text": {"type": "string"}},
        "required": ["feed"],
    },
    "either": {"anyOf": [{"type": "integer", "maximum": 3}, {"const": "none"}]},
    "two kinds": {"type": ["boolean", "string"]},
    "below": {"type": "number", "exclusiveMaximum": -2},
}


@pytest.mark.parametrize("name", SCHEMAS)
def test_values_fit_and_wrong_ones_do_not(name: str) -> None:
    schema = SCHEMAS[name]
    validator = jsonschema.Draft202012Validator(schema)
    found = values(schema, Random(1))
    wrong = wrong_values(schema)

    assert len(found) > 1
    for value in found:
        validator.validate(value)
    assert wrong
    for value in wrong:
        assert not validator.is_valid(value), value
    assert values(schema, Random(1)) == found


def test_what_is_declared_comes_first() -> None:
    schema = {"type": "integer", "default": 7, "examples": [9], "minimum": 1, "maximum": 40}

    assert values(schema, Random(0))[:4] == [7, 9, 1, 40]
    assert values({"type": "string", "pattern": "^Q+$"}, Random(0)) == []
    assert values({"type": "boolean", "default": True}, Random(0)) == [True, False]


def test_options_are_drawn() -> None:
    drawn = list(islice(draws(settle, {}, Random(0)), 40))
    schema = settle.schema()

    assert drawn[0] == {}
    assert {0, 30} <= {options.get("seconds") for options in drawn}
    for options in drawn:
        jsonschema.validate(options, schema)
    fixed = list(islice(draws(settle, {"seconds": 4}, Random(0)), 9))
    assert fixed == [{"seconds": 4}] * 9
