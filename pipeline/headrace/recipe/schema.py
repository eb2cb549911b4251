"""The schemas of recipe, machine and set-up files, as they lie in the package."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def schema(kind: str) -> dict[str, Any]:
    """The JSON Schema (2020-12) of `recipe`, `machine` or `setup`; read it, do not change it."""
    text = files("headrace.recipe").joinpath("schemas", f"{kind}.json").read_text("utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def whole_recipe_schema() -> dict[str, Any]:
    """What a recipe must have once its parents are merged in."""
    return {**schema("recipe"), "required": ["format", "name", "machine"]}


def inline_setup_schema() -> dict[str, Any]:
    """A set-up that a recipe holds itself: the recipe has stated the format already."""
    return {key: value for key, value in schema("setup").items() if key != "required"}
