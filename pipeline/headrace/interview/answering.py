"""An answer taken into a draft: read, judged, put into the text."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from headrace.interview.answers import Unusable, read_answers, read_truth
from headrace.interview.draft import Draft, objections, said_by, with_present
from headrace.interview.entry import with_value
from headrace.interview.fields import field_schema
from headrace.interview.notes import absence, found_by, with_open, without_absence, without_open
from headrace.interview.question import Question
from headrace.recipe.node import Path as Way
from headrace.recipe.source_text import has_unseen

_BEHIND = " #"


def answered(draft: Draft, question: Question, typed: str) -> Draft:
    """The draft with an answer as it was typed; behind ` #` may stand how it was found.

    Raises Unusable with the reason where it cannot be taken, RecipeError where the file is written
    so that it has no place in it.
    """
    if has_unseen(typed) or not typed.isprintable():
        raise Unusable("it holds a character that cannot be seen; type it anew")
    said, found = parted(question, typed)
    if not question.fields:
        return _part_said(draft, question, read_truth(said))
    schemas = [field_schema(path) for path in question.fields]
    names = [".".join(map(str, path)) for path in question.fields]
    values = read_answers(said, schemas, names)
    return with_values(draft, question, values, found_by(found, question.card_file))


def parted(question: Question, typed: str) -> tuple[str, str]:
    """An answer, and how it was found; in free text a `#` means nothing."""
    schema = field_schema(question.fields[0]) if question.fields else {"type": "boolean"}
    if schema.get("type") == "string" and "pattern" not in schema and "enum" not in schema:
        return typed.strip(), ""
    said, _, found = f" {typed}".partition(_BEHIND)
    return said.strip(), found.strip()


def with_values(draft: Draft, question: Question, values: list[Any], found: str) -> Draft:
    """The draft with values for the fields of a question. Raises Unusable, RecipeError."""
    data = draft.data
    for path, value in zip(question.fields, values, strict=True):
        data = _put(data, path, value)
    if against := objections(draft, data):
        raise Unusable(". ".join(against))
    text = without_open(draft.text)
    for path, value in zip(question.fields, values, strict=True):
        text = with_value(draft, text, path, value, found)
    return _settled(replace(draft, data=data), text)


def _part_said(draft: Draft, question: Question, there: bool) -> Draft:
    part = question.part
    bare = without_open(without_absence(draft.text, part))
    if there:
        return _settled(with_present(draft, part), bare)
    if part in draft.data:
        raise Unusable(f"the file describes its `{part}`; take that out by hand first")
    newline = "\r\n" if "\r\n" in bare else "\n"
    gap = "" if bare.endswith("\n") else newline
    gone = replace(draft, absent=draft.absent | {part}, present=draft.present - {part})
    return _settled(gone, f"{bare}{gap}{newline}{absence(part, newline)}")


def _settled(draft: Draft, text: str) -> Draft:
    """The draft with a text, at whose end stands what is open now."""
    newline = "\r\n" if "\r\n" in text else "\n"
    whole = with_open(text, draft.open_questions(), newline)
    return replace(draft, text=whole, data=said_by(whole, draft.path))


def _put(data: dict[str, Any], path: Way, value: Any) -> dict[str, Any]:
    key, rest = str(path[0]), path[1:]
    return {**data, key: _put(data.get(key, {}), rest, value) if rest else value}
