"""What is wrong with a value, in plain words: the finding's name, what, and what to do."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from headrace.recipe.mismatch import Mismatch
from headrace.recipe.wording import any_of, kind_of, listed, lowered, nearest, told, wanted

Words = tuple[str, "str | None"]


def complaint(mismatch: Mismatch, where: str) -> tuple[str, str, str | None]:
    """The name of the finding, what is wrong with `where`, and a remedy if there is a good one."""
    name, words = _KEYWORDS.get(mismatch.keyword, ("recipe-bad-value", _not_as_wanted))
    what, remedy = words(mismatch, where)
    if remedy is None and (description := mismatch.schema.get("description")):
        remedy = f"what is wanted: {lowered(str(description))}"
    return name, what, remedy


def _wrong_type(mismatch: Mismatch, where: str) -> Words:
    value, types = mismatch.value, mismatch.limit
    what = f"{where} must be {wanted(types)}; this is {kind_of(value)}"
    if isinstance(value, (str, int, float)):
        what += f": {told(value)}"
    if isinstance(value, str) and ("number" in types or "integer" in types):
        return what, _number_hint(value)
    if isinstance(value, (int, float)) and types == "string":
        quoted = told(value).replace("`", '"')
        return what, f"put it in quotes: {quoted}"
    return what, None


_MEASURE = re.compile(r"(-?[0-9]+(?:[.,][0-9]+)?) ?[^0-9.,]{0,8}")


def _number_hint(text: str) -> str | None:
    """What to write when text was given for a number: a decimal comma, a unit, or quotes."""
    if not (measure := _MEASURE.fullmatch(text.strip())):
        return None
    return f"write the number alone, with a point: {measure[1].replace(',', '.')}"


def _not_listed(mismatch: Mismatch, where: str) -> Words:
    accepted = [mismatch.limit] if mismatch.keyword == "const" else mismatch.limit
    close = nearest(mismatch.value, [value for value in accepted if isinstance(value, str)])
    hint = f"did you mean {told(close)}? " if close else ""
    what = f"{where} is {told(mismatch.value)}, which is not accepted"
    return what, f"{hint}accepted: {listed(accepted)}"


def _pattern(mismatch: Mismatch, where: str) -> Words:
    schema = mismatch.schema
    what = f"{where} is {told(mismatch.value)}, which is not written as it must be"
    example = schema.get("default") or next(iter(schema.get("examples", ())), None)
    looks = f"looks like `{mismatch.limit}`" if example is None else f"such as {told(example)}"
    description = lowered(str(schema.get("description", ""))).removesuffix(".")
    return what, f"what is wanted: {description}, {looks}".replace(": , ", ": ")


def _bound(words: str) -> Callable[[Mismatch, str], Words]:
    def say(mismatch: Mismatch, where: str) -> Words:
        return f"{where} is {told(mismatch.value)}; it must be {words} {mismatch.limit}", None

    return say


def _size(words: str, noun: str) -> Callable[[Mismatch, str], Words]:
    def say(mismatch: Mismatch, where: str) -> Words:
        count, limit = len(mismatch.value), mismatch.limit
        nouns = noun if limit == 1 else f"{noun}s"
        return f"{where} has {count}; it must have {words} {limit} {nouns}", None

    return say


def _repeated(_: Mismatch, where: str) -> Words:
    return f"{where} stands there for the second time", "leave one of them"


def _never(mismatch: Mismatch, where: str) -> Words:
    # The validator does not say which part it is that a schema of plain `false` forbids.
    return f"{told(mismatch.value)} may not stand in {where}", "take it out"


def _alternatives(mismatch: Mismatch, where: str) -> Words:
    if not mismatch.is_choice:
        return _not_as_wanted(mismatch, where)
    ways = any_of(way for branch in mismatch.limit for way in _ways(branch))
    value = mismatch.value
    return f"{where} must be {ways}; this is {kind_of(value)}: {told(value)}", None


def _ways(branch: Any) -> list[str]:
    if isinstance(branch, Mapping):
        if "const" in branch:
            return [told(branch["const"])]
        if "enum" in branch:
            return [told(value) for value in branch["enum"]]
        if "type" in branch:
            return [wanted(branch["type"])]
    return ["something else"]


def _not_as_wanted(mismatch: Mismatch, where: str) -> Words:
    return f"{where} is not as it must be: {told(mismatch.value)}", None


_KEYWORDS: dict[str, tuple[str, Callable[[Mismatch, str], Words]]] = {
    "type": ("recipe-wrong-type", _wrong_type),
    "enum": ("recipe-not-accepted", _not_listed),
    "const": ("recipe-not-accepted", _not_listed),
    "pattern": ("recipe-not-accepted", _pattern),
    "minimum": ("recipe-out-of-bounds", _bound("at least")),
    "maximum": ("recipe-out-of-bounds", _bound("at most")),
    "exclusiveMinimum": ("recipe-out-of-bounds", _bound("more than")),
    "exclusiveMaximum": ("recipe-out-of-bounds", _bound("less than")),
    "multipleOf": ("recipe-out-of-bounds", _bound("a multiple of")),
    "minLength": ("recipe-out-of-bounds", _size("at least", "character")),
    "maxLength": ("recipe-out-of-bounds", _size("at most", "character")),
    "minItems": ("recipe-out-of-bounds", _size("at least", "item")),
    "maxItems": ("recipe-out-of-bounds", _size("at most", "item")),
    "minProperties": ("recipe-out-of-bounds", _size("at least", "key")),
    "maxProperties": ("recipe-out-of-bounds", _size("at most", "key")),
    "uniqueItems": ("recipe-bad-value", _repeated),
    "anyOf": ("recipe-wrong-type", _alternatives),
    "oneOf": ("recipe-wrong-type", _alternatives),
    "None": ("recipe-bad-value", _never),
}
