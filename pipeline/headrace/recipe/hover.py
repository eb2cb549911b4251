"""What an editor shows of a key: Markdown beside each description of a schema.

Editors of YAML take it from `markdownDescription`. That is no keyword of JSON Schema, and whoever
does not know it takes it for a remark (2020-12 core, 6.5). To what the description says it adds the
bounds of a number, and what holds where the key is left out.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from itertools import groupby
from typing import Any

_CODE = "    "
_BOUNDS = {
    "minimum": "at least",
    "exclusiveMinimum": "more than",
    "maximum": "at most",
    "exclusiveMaximum": "less than",
}


def with_hover(schema: Mapping[str, Any]) -> dict[str, Any]:
    """The schema with Markdown for every description in it."""
    made: dict[str, Any] = {}
    for key, value in schema.items():
        if key in ("properties", "patternProperties", "$defs"):
            made[key] = {name: _inner(part) for name, part in value.items()}
        elif key in ("anyOf", "oneOf", "allOf", "prefixItems"):
            made[key] = [_inner(part) for part in value]
        elif key in ("items", "additionalProperties", "propertyNames"):
            made[key] = _inner(value)
        else:
            made[key] = value
        if key == "description":
            made["markdownDescription"] = "\n\n".join(_paragraphs(schema))
    return made


def _inner(part: Any) -> Any:
    """A schema inside another; it may be just true or false."""
    return with_hover(part) if isinstance(part, Mapping) else part


def _paragraphs(part: Mapping[str, Any]) -> Iterator[str]:
    yield from _text(str(part["description"]))
    bounds = [f"{words} {_value(part[key])}" for key, words in _BOUNDS.items() if key in part]
    if bounds:
        told = ", ".join(bounds)
        yield f"{told[0].upper()}{told[1:]}."
    if part.get("default") not in (None, "", [], {}):
        yield f"If left out: `{_value(part['default'])}`."


def _text(description: str) -> Iterator[str]:
    """Paragraphs, each on one line; what is indented stays as it is."""
    lines = description.splitlines()
    kinds = [line.startswith(_CODE) for line in lines]
    for at, line in enumerate(lines):
        if not line and 0 < at < len(lines) - 1:
            kinds[at] = kinds[at - 1] and kinds[at + 1]
    for is_code, found in groupby(zip(kinds, lines, strict=True), key=lambda pair: pair[0]):
        block = "\n".join(line.removeprefix(_CODE) for _, line in found)
        if is_code:
            yield f"```text\n{block}\n```"
        else:
            parts = block.strip("\n").split("\n\n")
            yield from (" ".join(part.splitlines()) for part in parts if part)


def _value(value: Any) -> str:
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
