"""The schemas of what headrace prints and writes for programs, as they lie in the package."""

from __future__ import annotations

import json
import re
from importlib.resources import files
from typing import Any

COMMANDS = (
    "check",
    "completion",
    "describe",
    "explain",
    "keep",
    "new",
    "origin",
    "picture",
    "plan",
    "prepare",
    "recheck",
    "schema",
    "sheet",
    "show",
    "timed",
    "transforms",
    "trust",
    "upgrade",
    "verify",
    "watch",
)
"""Commands whose documents have one; `error` is that of a command which an error has ended."""
LISTS = ("card-list", "kept-list")
"""The lists on a card, and in a folder of kept outcomes."""
NAMES = (*LISTS, "error", *COMMANDS)


def output_schema(name: str) -> dict[str, Any]:
    """The JSON Schema (2020-12) of a document; nothing in it refers to another file.

    Raises FileNotFoundError for a name that is none of `NAMES`.
    """
    document = _read(name)
    shared = _read("shared")["$defs"]
    used: dict[str, Any] = {}
    waiting = _named(document)
    while waiting:
        part = waiting.pop()
        if part not in used:
            used[part] = shared[part]
            waiting |= _named(shared[part])
    return {**document, "$defs": {part: used[part] for part in sorted(used)}}


def _named(schema: dict[str, Any]) -> set[str]:
    """The shared definitions that a schema refers to."""
    return set(re.findall(r'"\$ref": "#/\$defs/([a-z-]+)"', json.dumps(schema)))


def _read(name: str) -> dict[str, Any]:
    text = files("headrace.report").joinpath("schemas", f"{name}.json").read_text("utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded
