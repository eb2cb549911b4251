"""Mistakes made up from schemas: for every key, values that it does not take, and its own name
misspelt.

A text is written here, letter by letter, with `¦` where the mistake is; so the place that a finding
must show is known without asking anything of headrace.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

MARK = "¦"
Way = tuple[Any, ...]
_BOUNDS = {
    "minimum": -1, "exclusiveMinimum": 0, "maximum": 1, "exclusiveMaximum": 0,
}  # fmt: skip
"""How far from its bound a number lies that is just outside."""


@dataclass(frozen=True)
class Slip:
    """A marked text, the finding's name, and words that must be told."""

    text: str
    name: str
    words: tuple[str, ...]

    @property
    def plain(self) -> str:
        return self.text.replace(MARK, "")

    @property
    def place(self) -> tuple[int, int]:
        before = self.text.partition(MARK)[0]
        return before.count("\n") + 1, len(before.rpartition("\n")[2]) + 1


@dataclass(frozen=True)
class Verbatim:
    """A value that stands in the text as it is."""

    text: str


def slips_of(base: Mapping[str, Any], way: Way, part: Mapping[str, Any]) -> Iterator[Slip]:
    """Mistakes at `way` of a sound document, where the schema `part` holds. What lies on the way
    must be there, its end need not be."""
    key = way[-1]
    for text, name, *words in _wrong(part):
        yield Slip(_written(_with(base, way, Verbatim(MARK + text))), name, (str(key), *words))
    if isinstance(key, str):
        sound = part.get("default", _example(part))
        wrong = _misspelt(key)
        document = _with(base, way, sound, key=MARK + wrong)
        yield Slip(_written(document), "recipe-unknown-key", (f"`{wrong}`", f"mean `{key}`?"))


def _wrong(part: Mapping[str, Any]) -> Iterator[tuple[str, ...]]:
    """Values that a schema does not take, as text, with the finding and what it must say."""
    types = part.get("type", ())
    kinds = {types} if isinstance(types, str) else set(types)
    accepted = part.get("enum", [part["const"]] if "const" in part else [])
    if accepted:
        told = [str(value).lower() if isinstance(value, bool) else f"{value}" for value in accepted]
        yield "quite-another", "recipe-not-accepted", *told
        yield "[7]", "recipe-not-accepted", *told
        if isinstance(accepted[0], str) and len(accepted[0]) > 3:
            yield _misspelt(accepted[0]), "recipe-not-accepted", f"mean `{accepted[0]}`?"
        return
    for text, kind, words in (
        ("nothing-much", "string", "this is text"),
        ("{odd: 1}", "object", "this is a mapping"),
        ("[true]", "array", "this is a list"),
        ("true", "boolean", "this is true or false"),
    ):
        if kinds and kind not in kinds:
            yield text, "recipe-wrong-type", words
    if not kinds & {"number", "integer"}:
        yield "4.5", "recipe-wrong-type", "this is a number"
    if kinds == {"integer"}:
        yield "4.5", "recipe-wrong-type", "must be a whole number"
    for keyword, further in _BOUNDS.items():
        if keyword in part and kinds & {"number", "integer"}:
            yield f"{part[keyword] + further}", "recipe-out-of-bounds", str(part[keyword])
    if "string" in kinds and part.get("minLength") and "pattern" not in part:
        yield '""', "recipe-out-of-bounds", "at least"
    if "string" in kinds and "maxLength" in part and "pattern" not in part:
        yield "L" * (part["maxLength"] + 1), "recipe-out-of-bounds", f"{part['maxLength']}"
    if "string" in kinds and "pattern" in part and not re.search(part["pattern"], "?\u00e9"):
        yield '"?\u00e9"', "recipe-not-accepted"
    if kinds == {"array"} and part.get("minItems"):
        yield "[]", "recipe-out-of-bounds", f"at least {part['minItems']}"


def _example(part: Mapping[str, Any]) -> Any:
    """A value that a schema takes."""
    for key in ("examples", "enum"):
        if part.get(key):
            return part[key][0]
    return part.get("const", 5)


def _misspelt(word: str) -> str:
    """Two neighbours changed, or a letter too many where that would change nothing."""
    at = len(word) // 2
    swapped = word[: at - 1] + word[at] + word[at - 1] + word[at + 1 :] if at else word
    return swapped if swapped != word else word + word[-1]


def _with(base: Any, way: Way, value: Any, key: str | None = None) -> Any:
    """A document with another value at `way`, under another key where one is given."""
    document = deepcopy(base)
    node = document
    for part in way[:-1]:
        node = node[part]
    if key is None:
        node[way[-1]] = value
    else:
        node.pop(way[-1], None)
        node[key] = value
    return document


def _written(node: Any, indent: str = "") -> str:
    """YAML, a line a key; lists of anything but mappings stand in brackets."""
    lines = []
    for key, value in node.items():
        if isinstance(value, dict) and value:
            lines.append(f"{indent}{key}:\n{_written(value, indent + '  ')}")
        elif isinstance(value, list) and value and all(isinstance(item, dict) for item in value):
            items = (_written(item, indent + "    ").lstrip(" ") for item in value)
            lines.append(f"{indent}{key}:\n" + "".join(f"{indent}  - {item}" for item in items))
        else:
            text = value.text if isinstance(value, Verbatim) else json.dumps(value)
            lines.append(f"{indent}{key}: {text}\n")
    return "".join(lines)
