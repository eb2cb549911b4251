"""Answers as people type them, read by the schema of the field that they are for.

Nothing is guessed: what does not read one way only is refused with the reason.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from headrace.interview.fields import UNITS
from headrace.recipe.complaint import complaint
from headrace.recipe.mismatch import mismatches
from headrace.recipe.scalar import Doubt, read_plain
from headrace.recipe.wording import label, lowered, nearest, told

Schema = Mapping[str, Any]

_TRUTH = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}
_APART = re.compile(r"[\s,]+")
_INCHES = re.compile(r"(?<![0-9])(-?[0-9]+(?:\.[0-9]+)?) ?(?:in\b|inch|ipm\b|\")", re.IGNORECASE)
_WITH_UNIT = re.compile(r"(?<![0-9])(-?[0-9]+(?:\.[0-9]+)?) ?([a-zA-Z/]+2?)")


class Unusable(ValueError):
    """An answer that cannot be taken; its text says why, in a sentence for who answered."""


def read_answer(text: str, schema: Schema, name: str) -> Any:
    """The value that a text means for a field of this schema. Raises Unusable.

    >>> read_answer("0 620", {"type": "array", "minItems": 2, "items": {"type": "number"}}, "x")
    [0, 620]
    """
    value = _reader(schema)(text.strip(), schema)
    for mismatch in mismatches(value, schema):
        if mismatch.about_key:
            known = str(mismatch.schema.get("description", "a key of another kind"))
            raise Unusable(f"{told(mismatch.value)} has no place here; wanted is {lowered(known)}")
        _, what, remedy = complaint(mismatch, _named(name, mismatch.path))
        raise Unusable((f"{what}; {remedy}" if remedy else what).rstrip("."))
    return value


def read_answers(text: str, schemas: Sequence[Schema], names: Sequence[str]) -> list[Any]:
    """One value for each schema: the whole text for a single one, else the words in their order.
    Raises Unusable."""
    if len(schemas) == 1:
        return [read_answer(text, schemas[0], names[0])]
    if schemas[0].get("type") == "number":
        _refuse_inches(text)
    words = _words(text)
    if len(words) != len(schemas):
        raise Unusable(f"{len(schemas)} values are wanted, one after the other, not {len(words)}")
    return [read_answer(*each) for each in zip(words, schemas, names, strict=True)]


def read_truth(text: str) -> bool:
    """Yes or no. Raises Unusable."""
    said = _TRUTH.get(text.strip().lower())
    if said is None:
        raise Unusable("answer yes or no")
    return said


def shown(value: Any) -> str:
    """A value as it would be typed: what `read_answer` reads again.

    >>> shown([["z"], ["x", "y"]]), shown({"M8": "fan"}), shown([["1", 9000]])
    ('z xy', 'M8=fan', '1=9000')
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        if value and set(value) <= _RULES:
            return " ".join(key if v is True else f"{key} {v}" for key, v in value.items())
        return ", ".join(f"{key}={text}" for key, text in value.items()) or "none"
    if isinstance(value, list):
        return " ".join(_item(item) for item in value) or "none"
    return str(value)


_RULES = {"deviation", "speed-step", "full-stop"}


def _item(item: Any) -> str:
    if not isinstance(item, list):
        return str(item)
    pair = len(item) == 2 and not isinstance(item[1], str)
    return f"{item[0]}={item[1]}" if pair else "".join(item)


def _named(name: str, path: Sequence[Any]) -> str:
    return label((*name.split("."), *path))


def _reader(schema: Schema) -> Callable[[str, Schema], Any]:
    if "enum" in schema:
        return _choice
    kind = schema.get("type")
    if kind == "array":
        return _list_reader(schema["items"])
    if kind == "object":
        return _rule if "properties" in schema else _table
    return {"boolean": _truth, "number": _number, "integer": _number}.get(str(kind), _text)


def _list_reader(items: Schema) -> Callable[[str, Schema], Any]:
    if "enum" in items:
        return _several
    if items.get("type") == "array":
        return _groups if "enum" in items.get("items", {}) else _pairs
    return _numbers


def _truth(text: str, _: Schema) -> bool:
    return read_truth(text)


def _choice(text: str, schema: Schema) -> Any:
    """The word itself, in any capitals, its number in the list, or a beginning of it alone."""
    words = [str(word) for word in schema["enum"]]
    if text.isdecimal() and 1 <= int(text) <= len(words):
        return words[int(text) - 1]
    exact = [word for word in words if word.lower() == text.lower()]
    begun = exact or [word for word in words if text and word.lower().startswith(text.lower())]
    if len(begun) == 1:
        return begun[0]
    close = nearest(text, words)
    hint = f"; did you mean {close}?" if close else ""
    raise Unusable(f"answer {_any_of(words)}, or its number in this row{hint}")


def _several(text: str, schema: Schema) -> list[Any]:
    return [_choice(word, schema["items"]) for word in _words(text, none=True)]


def _refuse_inches(text: str) -> None:
    """The number alone would be taken for millimetres."""
    if found := _INCHES.search(text):
        mm = f"{Decimal(found[1]) * Decimal('25.4'):f}"
        mm = mm.rstrip("0").rstrip(".") if "." in mm else mm
        raise Unusable(f"lengths are in mm here, not in inches: {found[1]} in is {mm} mm")


def _number(text: str, _: Schema) -> Any:
    _refuse_inches(text)
    value = read_plain(text)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return value
    if re.fullmatch(r"-?[0-9]+,[0-9]+", text):
        raise Unusable(f"write a point, not a comma: {text.replace(',', '.')}")
    if found := _WITH_UNIT.fullmatch(text):
        if found[2] not in (*UNITS, "rpm"):
            raise Unusable(f"{found[2]} is not the unit that the question names")
        raise Unusable(f"write the number alone: {found[1]}")
    raise Unusable(f"{value.what}" if isinstance(value, Doubt) else f"{text} is no number")


def _numbers(text: str, schema: Schema) -> list[Any]:
    _refuse_inches(text)
    words, wanted = _words(text), schema.get("minItems")
    if wanted == schema.get("maxItems") != len(words):
        raise Unusable(f"{wanted} numbers are wanted, one after the other, not {len(words)}")
    return [_number(word, schema["items"]) for word in words]


def _groups(text: str, _: Schema) -> list[list[str]]:
    """`z xy`: Z, then X and Y together."""
    return [list(word.lower().replace("+", "")) for word in _words(text)]


def _pairs(text: str, schema: Schema) -> list[list[Any]]:
    """`1=10000 2=12500`; a mark on the left is text where the schema has text there."""
    marks = "prefixItems" in schema["items"]
    found = []
    for word in _words(text):
        left, sign, right = word.partition("=")
        if not sign:
            raise Unusable(f"write pairs with a = between, such as 1=10000; {word} has none")
        found.append([left if marks else _number(left, {}), _number(right, {})])
    return found


def _table(text: str, _: Schema) -> dict[str, str]:
    """`M8=extraction, M7=vacuum table`."""
    if text.lower() == "none":
        return {}
    found: dict[str, str] = {}
    for part in text.split(","):
        left, sign, right = part.partition("=")
        key = left.strip().upper()
        if not sign or not right.strip():
            raise Unusable("write pairs with a = between and a comma behind: M8=extraction")
        if key in found:
            raise Unusable(f"{key} is there for the second time")
        found[key] = _cased(right.strip())
    return found


def _rule(text: str, schema: Schema) -> dict[str, Any]:
    """`deviation 0.02`, `full-stop`."""
    words = _words(text)
    names = list(schema["properties"])
    name = _choice(words[0] if words else "", {"enum": names})
    if "const" in schema["properties"][name]:
        if len(words) > 1:
            raise Unusable(f"{name} goes without a number")
        return {name: schema["properties"][name]["const"]}
    if len(words) != 2:
        raise Unusable(f"write a number behind {name}")
    return {name: _number(words[1], {})}


def _text(text: str, schema: Schema) -> str:
    """Words of the language in capitals, as the schema writes them; other text as it is."""
    pattern = str(schema.get("pattern", ""))
    for way in (text, text.upper(), text.lower()):
        if re.search(pattern, way):
            return way
    return text


def _cased(text: str) -> str:
    return text.upper() if re.fullmatch(r"[mM][0-9]{1,3}", text) else text


def _words(text: str, none: bool = False) -> list[str]:
    """The words between blanks and commas; nothing for `none`, where that is an answer."""
    if none and text.strip().lower() == "none":
        return []
    # "G10 L2" is one word: it stands alone and not in lists.
    return [word for word in _APART.split(text.strip()) if word]


def _any_of(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
