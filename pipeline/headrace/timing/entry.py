"""A timed run in a machine file: put in as text, so that every other byte of it stays."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.errors import RecipeError
from headrace.findings import Finding, Place
from headrace.machine import TimedRun
from headrace.program import number_text
from headrace.recipe.composition import load_chain, referenced
from headrace.recipe.document import parse_document
from headrace.recipe.node import Leaf, plain

if TYPE_CHECKING:
    from yaml.nodes import Node

_KEY = "timing"
_ABOVE = "# How a run with a watch compared with the plan (s, homing and pauses left out)."


def machine_file(recipe: Path) -> Path:
    """The machine file that a recipe names, or a parent of it. Raises RecipeError."""
    chain = load_chain(recipe)
    named = chain.root.get("machine")
    if not isinstance(named, Leaf):
        what = f"{recipe} names no machine"
        raise RecipeError(findings=[Finding.of("recipe-missing-key", what, chain.root.place)])
    return referenced(named)


def with_run(data: bytes, run: TimedRun, path: Path) -> bytes:
    """The bytes of a machine file with a run in place of the one that is there, or at its end.

    Raises RecipeError where the file says `timing` in a way that cannot be changed so.
    """
    text = data.decode("utf-8")
    written = _written(run)
    made = _edited(text, written).encode("utf-8")
    wanted = {**_said(data, path), _KEY: {key: json.loads(value) for key, value in written.items()}}
    try:
        kept = _said(made, path) == wanted
    except RecipeError:
        kept = False
    if not kept:
        what = f"{path} holds its keys in a way in which `{_KEY}` cannot be put among them"
        place = Place(str(path), 1)
        line = f"{_KEY}: {_line(written)}"
        raise RecipeError(
            findings=[
                Finding.of("timing-unplaced", what, place, remedy=f"put it in by hand: {line}")
            ]
        )
    return made


def _said(data: bytes, path: Path) -> dict[str, object]:
    said: dict[str, object] = plain(parse_document(data, path).root)
    return said


def _written(run: TimedRun) -> dict[str, str]:
    """The values of a run as they stand in the file: YAML that is JSON too."""
    numbers = {"factor": run.factor, "planned": run.planned, "took": run.took}
    return {
        **{key: number_text(value, 3) for key, value in numbers.items()},
        "job": json.dumps(run.job, ensure_ascii=False),
    }


def _line(written: dict[str, str]) -> str:
    return "{" + ", ".join(f"{key}: {value}" for key, value in written.items()) + "}"


def _edited(text: str, written: dict[str, str]) -> str:
    """The text with the values put in."""
    import yaml

    root = yaml.compose(text, yaml.SafeLoader)
    assert root is not None  # it has been read as a machine file
    there = _entries(root).get(_KEY)
    if there is not None:
        values = _entries(there)
        for key in sorted(values.keys() & written, key=lambda key: -_start(values[key])):
            start = _start(values[key])
            old = text[start : values[key].end_mark.index]
            text = text[:start] + written[key] + text[start + len(old.rstrip()) :]
        return text
    end = root.end_mark.index
    before, behind = text[:end], text[end:]
    newline = "\r\n" if "\r\n" in text else "\n"
    indent = " " * root.start_mark.column
    gap = "" if before.endswith("\n") else newline
    entry = newline.join((_ABOVE, f"{_KEY}: {_line(written)}", ""))
    lines = "".join(f"{indent}{line}" for line in entry.splitlines(keepends=True))
    return f"{before}{gap}{newline}{lines}{behind}"


def _entries(node: Node) -> dict[str, Node]:
    """The values of a mapping by their keys; nothing for any other node."""
    from yaml.nodes import MappingNode

    if not isinstance(node, MappingNode):
        return {}
    return {str(key.value): value for key, value in node.value}


def _start(node: Node) -> int:
    return int(node.start_mark.index)
