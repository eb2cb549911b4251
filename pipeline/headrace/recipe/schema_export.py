"""The schemas as editors want them: with the options of all known transforms merged in."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

from headrace.plugins.transform import Transform
from headrace.recipe.plan import Transforms
from headrace.recipe.schema import inline_setup_schema, schema


def full_schema(kind: str, registry: Transforms) -> dict[str, Any]:
    """The published schema of `recipe`, `machine` or `setup`; a recipe's knows every transform of
    `registry`.

    It is complete by itself: nothing in it refers to another file.
    """
    full = deepcopy(schema(kind))
    if kind == "recipe":
        full["$defs"]["step"] = _step(registry)
        _inline_setup(full)
    return full


def _step(registry: Transforms) -> dict[str, Any]:
    transforms = [registry.transforms[name] for name in sorted(registry.transforms)]
    return {
        "description": "The name of a transform, or one name with a mapping of options.",
        "type": ["string", "object"],
        "minProperties": 1,
        "maxProperties": 1,
        "properties": {transform.name: _options(transform) for transform in transforms},
        "additionalProperties": False,
        # One choice a name, so that an editor can show what each of them does. A name that needs
        # options does not stand alone. `type` is for the object, which none of them describes.
        "anyOf": [
            {"type": "object"},
            *(
                {"const": transform.name, "description": transform.summary}
                for transform in transforms
                if not transform.required
            ),
        ],
    }


def _options(transform: Transform) -> dict[str, Any]:
    options = deepcopy(transform.schema())
    options["description"] = transform.doc
    return options


def _inline_setup(full: dict[str, Any]) -> None:
    """Describe the set-up where a recipe holds it itself."""
    inline = deepcopy(inline_setup_schema())
    full["$defs"].update(inline["$defs"])
    full["properties"]["setup"] |= {
        "properties": inline["properties"],
        "additionalProperties": False,
    }
