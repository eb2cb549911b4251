"""A value put into the text of a machine file, so that all that people wrote into it stays."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from headrace.errors import RecipeError
from headrace.findings import Finding, Place
from headrace.interview.draft import Draft, said_by
from headrace.interview.notes import meaning, note
from headrace.recipe.node import Path as Way
from headrace.recipe.scalar import read_plain
from headrace.recipe.wording import label

if TYPE_CHECKING:
    from yaml.nodes import MappingNode, Node, ScalarNode

_PLAIN = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9 ._/-]*[A-Za-z0-9])?")


def with_value(draft: Draft, text: str, path: Way, value: Any, found: str) -> str:
    """`text`, which is that of the draft as far as it has come, with a value at `path`.

    Raises RecipeError where the file is written so that nothing can be put in there.
    """
    made = _edited(text, path, value, found)
    if made is None or not _says(made, draft.path, _with(said_by(text, draft.path), path, value)):
        raise unplaced(draft, path, value)
    return made


def _says(text: str, path: Path, wanted: dict[str, Any]) -> bool:
    try:
        return said_by(text, path) == wanted
    except RecipeError:
        return False


def unplaced(draft: Draft, path: Way, value: Any) -> RecipeError:
    """The error to raise where a value has no place in the text."""
    what = f"{draft.path} is written so that {label(path)} cannot be put in without writing it anew"
    remedy = f"put it in by hand: {written(_nested(path, value))}"
    place = Place(str(draft.path), 1)
    return RecipeError(findings=[Finding.of("answer-unplaced", what, place, remedy=remedy)])


def written(value: Any) -> str:
    """A value as YAML in one line.

    >>> written({"quick": 120, "word": "G38.2"}), written("by hand, today")
    ('{quick: 120, word: G38.2}', '"by hand, today"')
    """
    if isinstance(value, dict):
        return "{" + ", ".join(f"{written(k)}: {written(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(written(item) for item in value) + "]"
    if isinstance(value, str) and _PLAIN.fullmatch(value) and isinstance(read_plain(value), str):
        return value
    return json.dumps(value, ensure_ascii=False)


def _with(said: dict[str, Any], path: Way, value: Any) -> dict[str, Any]:
    key, rest = str(path[0]), path[1:]
    inner = _with(said.get(key, {}), rest, value) if rest else value
    return {**said, key: inner}


def _nested(path: Way, value: Any) -> dict[str, Any]:
    return _with({}, path, value)


def _edited(text: str, path: Way, value: Any, found: str) -> str | None:
    """The text with the value; None where its place is nothing that can be added to."""
    import yaml
    from yaml.nodes import MappingNode

    root = yaml.compose(text, getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    around: MappingNode | None = None
    here: Node | None = root
    depth = 0
    key: ScalarNode | None = None
    while depth < len(path) and isinstance(here, MappingNode):
        entry = next((each for each in here.value if each[0].value == path[depth]), None)
        around = here
        if entry is None:
            break
        key, here = entry
        depth += 1
    if depth == len(path) and key is not None and here is not None:
        return _replaced(text, path, key, here, value, found)
    if around is None or here is not around:
        return None
    if around.flow_style:
        return _among_braces(text, around, path[depth:], value)
    return _below(text, around, path, depth, value, found)


def _replaced(
    text: str, path: Way, key: ScalarNode, node: Node, value: Any, found: str
) -> str | None:
    start, end = int(node.start_mark.index), _end(text, node)
    if "#" in text[start:end]:
        return None  # perhaps a comment, which would be lost
    made = text[:start] + written(value) + text[end:]
    return _noted_anew(made, path, int(key.start_mark.index), found)


def _noted_anew(text: str, path: Way, start: int, found: str) -> str:
    """The text with the note above a key written anew, where it is one of the interview's own."""
    line = text.rfind("\n", 0, start) + 1
    indent = start - line
    above = first = line
    lines: list[str] = []
    while above:
        first = text.rfind("\n", 0, above - 1) + 1
        words = text[first:above].strip()
        if not words.startswith("# "):
            break
        lines.insert(0, words[2:])
        above = first
        own = " ".join(lines)
        if own.startswith(f"{meaning(path)} (") and own.endswith(")"):
            return text[:above] + note(path, found, indent, _newline(text)) + text[line:]
    return text


def _among_braces(text: str, around: MappingNode, rest: Way, value: Any) -> str:
    key, inner = next(iter(_nested(rest, value).items()))
    entry = f"{written(key)}: {written(inner)}"
    if not around.value:
        at = int(around.start_mark.index) + 1
        return text[:at] + entry + text[at:]
    end = _end(text, around.value[-1][1])
    return f"{text[:end]}, {entry}{text[end:]}"


def _below(text: str, around: MappingNode, path: Way, depth: int, value: Any, found: str) -> str:
    """The entry on lines of its own: behind the last one of its mapping, or at the end."""
    newline = _newline(text)
    indent = int(around.start_mark.column)
    end = text.find("\n", _end(text, around.value[-1][1])) + 1 if depth else len(text)
    before, behind = text[: end or None], text[end:] if end else ""
    lines = "" if before.endswith("\n") else newline
    lines += "" if depth else newline
    for key in path[depth:-1]:
        lines += f"{' ' * indent}{key}:{newline}"
        indent += 2
    lines += note(path, found, indent, newline)
    lines += f"{' ' * indent}{path[-1]}: {written(value)}{newline}"
    return before + lines + behind


def _end(text: str, node: Node) -> int:
    """Where the text of a node ends; that of a block ends with its last value."""
    from yaml.nodes import CollectionNode

    while isinstance(node, CollectionNode) and not node.flow_style and node.value:
        last = node.value[-1]
        node = last[1] if isinstance(last, tuple) else last
    return len(text[: node.end_mark.index].rstrip())


def _newline(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"
