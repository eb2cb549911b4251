"""What the machine schema says of a field: its own schema, and whether a file must have it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from headrace.recipe.node import Path
from headrace.recipe.schema import schema


@cache
def field_schema(path: Path) -> Mapping[str, Any]:
    """The schema of the field at `path`. KeyError where the machine schema has none."""
    return _walked(path)[0]


@cache
def is_required(path: Path) -> bool:
    """Whether a machine file must have the field: it, and every mapping around it."""
    return _walked(path)[1]


def unit(path: Path) -> str:
    """The unit that the description ends with, such as `mm`; nothing where there is none.

    >>> unit(("bed",)), unit(("comments",))
    ('mm', '')
    """
    _, _, behind = str(field_schema(path).get("description", "")).rpartition(";")
    said = behind.strip().rstrip(".")
    return said if said in UNITS else ""


UNITS = ("mm", "mm/min", "s", "rev/min", "mm/s2", "lines/s")


def _walked(path: Path) -> tuple[Mapping[str, Any], bool]:
    whole = schema("machine")
    here: Mapping[str, Any] = whole
    needed = True
    for key in path:
        needed = needed and key in here.get("required", ())
        here = here["properties"][key]
        if "$ref" in here:
            name = here["$ref"].removeprefix("#/$defs/")
            here = {**whole["$defs"][name], "description": here["description"]}
    return here, needed
