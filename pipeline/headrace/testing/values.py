"""Values for options, as their schemas allow them; and some that schemas must refuse."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from random import Random
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from headrace.plugins import Transform

Schema = Mapping[str, Any]

_FAR = 1000
"""How far numbers go that have no bound."""
_TEXTS = ("HIVE", "Lid 2", "A", "QUEEN EXCLUDER", "mm", "0", "G54", "M3", "G28.1")
_ALIEN: Sequence[Any] = ({"hive": [1]}, [{"hive": 1}], "\0 no such value \0", -1e300, 0.123456789)
"""Values that no option takes all of: one that does says nothing of what it takes."""


def fits(value: Any, schema: Schema) -> bool:
    """Whether a value is what a schema allows (JSON Schema 2020-12)."""
    from jsonschema import Draft202012Validator

    return bool(Draft202012Validator(dict(schema)).is_valid(value))


def values(schema: Schema, random: Random) -> list[Any]:
    """Different values that a schema allows, the declared ones first: `default`, `examples`,
    `enum`, bounds, and some between. None at all where it allows none that can be thought of."""
    found: list[Any] = []
    for value in _thought_of(schema, random):
        if fits(value, schema) and not any(_same(value, other) for other in found):
            found.append(value)
    return found


def wrong_values(schema: Schema) -> list[Any]:
    """Values that a schema must refuse, by its own words: beyond its bounds, of another kind."""
    wrong: list[Any] = [value for value in _ALIEN if not fits(value, schema)]
    for key, step in (("minimum", -1), ("maximum", 1), ("exclusiveMinimum", 0)):
        if key in schema:
            wrong.append(schema[key] + step)
    if "exclusiveMaximum" in schema:
        wrong.append(schema["exclusiveMaximum"])
    if "maxLength" in schema:
        wrong.append("B" * (schema["maxLength"] + 1))
    if schema.get("minLength"):
        wrong.append("")
    return wrong


def draws(
    transform: Transform, fixed: Mapping[str, Any], random: Random
) -> Iterator[dict[str, Any]]:
    """Options without end: as they are if the recipe is silent, each value of each option by
    itself, then mixed. `fixed` are those that stay.

    Raises ValueError, with the option's name, where one that is required has no value.
    """
    every = {
        name: [fixed[name]] if name in fixed else values(option, random)
        for name, option in transform.options.items()
    }
    needed = {name: every[name] for name in transform.required}
    if without := [name for name, found in needed.items() if not found]:
        raise ValueError(without[0])
    silent = {**{name: found[0] for name, found in needed.items()}, **fixed}
    yield silent
    for name, found in every.items():
        for value in found:
            if name not in fixed:
                yield {**silent, name: value}
    free = [name for name, found in every.items() if found and name not in fixed]
    while True:
        # a recipe says little, as a rule
        named = [name for name in free if random.random() < 0.4]
        yield {**silent, **{name: random.choice(every[name]) for name in named}}


def _thought_of(schema: Schema, random: Random) -> Iterator[Any]:
    """Candidates, some of which the schema may refuse."""
    if "default" in schema and schema["default"] is not None:
        yield schema["default"]
    yield from schema.get("examples", ())
    yield from schema.get("enum", ())
    if "const" in schema:
        yield schema["const"]
    for key in ("anyOf", "oneOf", "allOf"):
        for part in schema.get(key, ()):
            yield from _thought_of(part, random)
    kinds = schema.get("type", ())
    for kind in [kinds] if isinstance(kinds, str) else kinds:
        yield from _of_kind(kind, schema, random)


def _of_kind(kind: str, schema: Schema, random: Random) -> Iterator[Any]:
    if kind == "boolean":
        yield from (False, True)
    elif kind in ("integer", "number"):
        yield from _numbers(schema, random, whole=kind == "integer")
    elif kind == "string":
        yield from _texts(schema, random)
    elif kind == "array":
        yield from _arrays(schema, random)
    elif kind == "object":
        yield from _objects(schema, random)


def _numbers(schema: Schema, random: Random, *, whole: bool) -> Iterator[float]:
    """The bounds, what is next to them, and some between."""
    least = schema.get("minimum", schema.get("exclusiveMinimum"))
    most = schema.get("maximum", schema.get("exclusiveMaximum"))
    low = least if least is not None else (most if most is not None else 0) - _FAR
    high = most if most is not None else low + 2 * _FAR
    step = 1 if whole else (high - low) / 1000
    near = [least, most] + ([low + step] if "exclusiveMinimum" in schema else [])
    near += [high - step] if "exclusiveMaximum" in schema else []
    yield from (value for value in near if value is not None)
    for _ in range(3):
        if whole:
            yield random.randint(math.ceil(low), math.floor(high))
        else:
            yield round(random.uniform(low, high), 3)


def _texts(schema: Schema, random: Random) -> Iterator[str]:
    yield from _TEXTS
    length = min(schema.get("maxLength", 40), 300)
    yield "B" * length
    yield "".join(random.choice("ABCDEF 123") for _ in range(max(1, length // 2)))


def _arrays(schema: Schema, random: Random) -> Iterator[list[Any]]:
    first = schema.get("prefixItems")
    if first is not None:
        parts = [values(item, random) for item in first]
        yield from ([random.choice(part) for part in parts] for _ in range(3) if all(parts))
        return
    yield []
    items = values(schema.get("items", {}), random)
    least = schema.get("minItems", 1)
    for count in (least, least + 1, min(schema.get("maxItems", len(items)), len(items))):
        yield items[:count]


def _objects(schema: Schema, random: Random) -> Iterator[dict[str, Any]]:
    """With what is required alone, and with everything."""
    parts = {name: values(part, random) for name, part in schema.get("properties", {}).items()}
    for names in (schema.get("required", ()), tuple(parts)):
        if all(parts.get(name) for name in names):
            yield {name: random.choice(parts[name]) for name in names}


def _same(one: Any, other: Any) -> bool:
    """JSON's equality: true is not 1."""
    return isinstance(one, bool) == isinstance(other, bool) and one == other
