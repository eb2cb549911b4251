"""What an answer may be, in words: from the schema of the fields, and what the question adds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from headrace.interview.answers import shown
from headrace.interview.fields import field_schema, unit
from headrace.interview.question import Question

_COUNTS = {2: "two", 3: "three"}


def wanted(question: Question) -> Iterator[str]:
    """Lines that say what may be answered."""
    if not question.fields:
        yield "yes or no"
        return
    schemas = [field_schema(path) for path in question.fields]
    schema = schemas[0]
    row = schema.get("enum") or _items(schema).get("enum")
    if row and question.choices:
        yield from _choices(row, question)
        if len(schemas) > 1:
            yield f"{_COUNTS[len(schemas)]} of these words, one after the other"
        elif "enum" not in schema:
            yield "one, or several with blanks between" + _or_none(schema)
    else:
        yield _one_line(question, schemas, row)


def range_of(question: Question) -> str:
    """The bounds that the schema sets to a number, in words; nothing where there are none."""
    schema = field_schema(question.fields[0]) if question.fields else {}
    schema = _items(schema) or schema
    least, above, most = (schema.get(k) for k in ("minimum", "exclusiveMinimum", "maximum"))
    parts = [
        f"{words} {value}"
        for words, value in (("at least", least), ("more than", above), ("at most", most))
        if value is not None
    ]
    return ", ".join(parts)


def left_open(question: Question) -> str:
    """What headrace goes by where the question stays open: the schema's default, or nothing."""
    defaults = [field_schema(path).get("default") for path in question.fields]
    if not defaults or None in defaults:
        return "not known"
    told = dict.fromkeys(shown(value) for value in defaults)
    return f"taken for {' '.join(told)}"


def _choices(row: list[Any], question: Question) -> Iterator[str]:
    widest = max(len(str(word)) for word in row)
    for number, word in enumerate(row, 1):
        yield f"{number}  {word:<{widest}}  {question.choices.get(str(word), '')}".rstrip()


def _one_line(question: Question, schemas: list[Mapping[str, Any]], row: list[Any] | None) -> str:
    schema = schemas[0]
    units = list(dict.fromkeys(unit(path) for path in question.fields))
    measure = f" in {units[0]}" if len(units) == 1 and units[0] else ""
    if row:
        end = f", one or several{_or_none(schema)}" if "enum" not in schema else ""
        return f"{', '.join(map(str, row))}{end}"
    if schema.get("type") == "boolean":
        return "yes or no"
    if len(schemas) > 1:
        return f"{_COUNTS[len(schemas)]} numbers{measure}{_such_as(schemas)}"
    if schema.get("type") in ("number", "integer"):
        whole = "whole " if schema["type"] == "integer" else ""
        return f"a {whole}number{measure}{_such_as(schemas)}"
    if schema.get("type") == "array" and _items(schema).get("type") == "number":
        return f"two numbers{measure}{_such_as(schemas)}"
    return f"{_kind(schema)}{_such_as(schemas)}"


def _kind(schema: Mapping[str, Any]) -> str:
    """What an answer is called that is no number, choice or truth."""
    if str(schema.get("pattern", "")).startswith(("^G", "^M")):
        return "a word"
    if schema.get("type") == "array":
        return "groups" if "enum" in _items(_items(schema)) else "pairs"
    if schema.get("type") == "object":
        return "a rule" if "properties" in schema else "pairs"
    return "text"


def _such_as(schemas: list[Mapping[str, Any]]) -> str:
    examples = [schema.get("examples", [schema.get("default")])[0] for schema in schemas]
    if None in examples:
        return ""
    return f", such as {' '.join(shown(value) for value in examples)}"


def _items(schema: Mapping[str, Any]) -> Mapping[str, Any]:
    items: Mapping[str, Any] = schema.get("items", {})
    return items


def _or_none(schema: Mapping[str, Any]) -> str:
    return "" if schema.get("minItems") else ", or none"
