"""The schemas as editors want them: with the options of all known transforms merged in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from copy import deepcopy
from pathlib import Path
from typing import Any, TypeVar

from headrace.errors import RecipeError
from headrace.findings import Place
from headrace.plugins.transform import Transform
from headrace.recipe.composition import load_chain
from headrace.recipe.dependents import kind_of
from headrace.recipe.hover import with_hover
from headrace.recipe.plan import Transforms
from headrace.recipe.python_files import python_files
from headrace.recipe.schema import inline_setup_schema, schema

R = TypeVar("R", bound=Transforms)


def with_own_transforms(registry: R, recipes: Sequence[Path]) -> R:
    """`registry`, and the transforms of the Python files that recipes or their parents name; a
    folder stands for the recipes in it.

    The rest of a recipe need not be right: whoever writes it wants help before that. Raises
    RecipeError where a recipe cannot be read or names a file that is not there, PluginError where
    a file cannot be loaded, OSError where a folder cannot be listed.
    """
    named: dict[Path, tuple[Path, Place]] = {}
    for recipe in _single(recipes):
        files, found = python_files(load_chain(recipe).root)
        if found:
            raise RecipeError(findings=found)
        for path, leaf in files:
            named.setdefault(path.resolve(), (path, leaf.place))
    if not named:
        return registry
    paths, places = zip(*named.values(), strict=True)
    return registry.with_files(paths, places)


def _single(recipes: Sequence[Path]) -> Iterator[Path]:
    for path in recipes:
        if path.is_dir():
            yield from (file for file in sorted(path.iterdir()) if kind_of(file) == "recipe")
        else:
            yield path


def full_schema(kind: str, registry: Transforms) -> dict[str, Any]:
    """The published schema of `recipe`, `machine` or `setup`; a recipe's knows every transform of
    `registry`.

    It is complete by itself: nothing in it refers to another file.
    """
    full = deepcopy(schema(kind))
    # An editor would show it above the text of every key.
    del full["title"]
    if kind == "recipe":
        full["$defs"]["step"] = _step(registry)
        _inline_setup(full)
    return with_hover(full)


def _step(registry: Transforms) -> dict[str, Any]:
    transforms = [registry.transforms[name] for name in sorted(registry.transforms)]
    return {
        "description": "The name of a transform, or one name with a mapping of options.",
        "minProperties": 1,
        "maxProperties": 1,
        "properties": {transform.name: _options(transform) for transform in transforms},
        "additionalProperties": False,
        # One choice a name, so that an editor can show what each of them does. A name that needs
        # options does not stand alone. The object comes last: an editor tells of a misspelt name by
        # the first of them.
        "anyOf": [
            *(
                {"const": transform.name, "description": transform.doc}
                for transform in transforms
                if not transform.required
            ),
            {"type": "object"},
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
