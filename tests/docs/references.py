"""The reference pages, made of the code: transforms and options, fields of what people write,
findings. `python tests/docs/references.py` writes them anew."""

from __future__ import annotations

import ast
import inspect
import json
import sys
from collections.abc import Callable, Iterator, Mapping
from itertools import pairwise
from pathlib import Path
from typing import Any

import headrace
import headrace.testing
from headrace.findings import CATALOGUE, Severity
from headrace.findings.example import example_of
from headrace.plugins.registry import load_registry
from headrace.plugins.transform import Transform
from headrace.recipe.schema import schema
from headrace.report.explain_text import AREAS

TREE = Path(__file__).parents[2]
MUST = " \\*"
MADE = "<!-- Made by tests/docs/references.py: change the code, then run that. -->"
Fields = Iterator[tuple[str, Mapping[str, Any], bool]]


def transforms_page() -> Iterator[str]:
    """The bundled transforms with their options, facets, and the names of the public doors."""
    transforms = [
        each
        for each in load_registry().transforms.values()
        if each.provider.startswith("headrace ")
    ]
    yield "# Transforms that come with headrace"
    yield MADE
    yield (
        "A recipe names them under `steps`, in the order in which they are to be done. What a "
        "transform does not declare stays as it is: that is proved on every run.\n"
        "`headrace transforms` lists all that are installed, and `headrace transforms NAME` shows "
        "one."
    )
    yield _table(("Transform", "What it does"), (
        (f"[`{each.name}`](#{each.name})", each.summary) for each in transforms
    ))  # fmt: skip
    for each in transforms:
        yield from _transform(each)
    yield "## facets"
    yield ("What a transform's contract may name under `changes`, as `Facet.COMMENTS` and so on.")
    yield _table(("Facet", "What it views"), _facets())
    for door in (headrace, headrace.testing):
        yield f"## {door.__name__}"
        yield str(door.__doc__).splitlines()[0]
        yield _table(("Name", "What it is"), (
            (f"`{name}`", _first_line(getattr(door, name))) for name in door.__all__
        ))  # fmt: skip


def _transform(each: Transform) -> Iterator[str]:
    yield f"## {each.name}"
    yield each.doc
    if each.options:
        yield _table(("Option", "Values", "If left out", "Meaning"), (
            (
                f"`{name}`",
                _values(option),
                "*must be given*" if name in each.required else _default(option),
                option["description"],
            )
            for name, option in each.options.items()
        ))  # fmt: skip
    else:
        yield "No options."
    facets = ", ".join(sorted(each.may_change)) or "nothing"
    motion = "; adds motion outside the job's own" if each.adds_motion else ""
    yield f"May change: {facets}{motion}."


def _facets() -> Iterator[tuple[str, str]]:
    """The members, each with the text behind it in the source."""
    body = ast.parse(inspect.getsource(headrace.Facet)).body[0]
    assert isinstance(body, ast.ClassDef)
    for member, told in pairwise(body.body):
        if isinstance(member, ast.Assign) and isinstance(told, ast.Expr):
            assert isinstance(told.value, ast.Constant)
            assert isinstance(member.targets[0], ast.Name)
            yield f"`{headrace.Facet[member.targets[0].id]}`", str(told.value.value)


def _first_line(value: object) -> str:
    if isinstance(value, tuple):
        return ", ".join(f"`{each}`" for each in value)
    return str(inspect.getdoc(value)).split("\n\n")[0]


def fields_page() -> Iterator[str]:
    """The fields of recipes, machine descriptions and set-ups."""
    yield "# Fields of recipes, machine files and set-ups"
    yield MADE
    yield (
        "A field that must be given is marked with `*`. Lengths are in mm, feeds in mm/min, times "
        "in s, speeds in rev/min, whatever the jobs are written in. What is left out of a machine "
        "file without a default counts as not known: whatever hangs on it is refused or told, and "
        "never guessed."
    )
    for kind, title in (("recipe", "Recipe"), ("machine", "Machine file"), ("setup", "Set-up")):
        whole = schema(kind)
        yield f"## {title}"
        yield str(whole["description"])
        yield _table(("Field", "Values", "If left out", "Meaning"), (
            (f"`{path}`{MUST if must else ''}", _values(field), _default(field), _said(field))
            for path, field, must in _fields(whole, whole, "")
        ))  # fmt: skip


def _fields(node: Mapping[str, Any], whole: Mapping[str, Any], path: str) -> Fields:
    for name, field in node.get("properties", {}).items():
        resolved = _resolved(field, whole)
        here = f"{path}{name}"
        yield here, resolved, name in node.get("required", ())
        yield from _fields(resolved, whole, f"{here}.")
        items = resolved.get("items")
        if isinstance(items, Mapping):
            yield from _fields(_resolved(items, whole), whole, f"{here}[].")


def _resolved(field: Mapping[str, Any], whole: Mapping[str, Any]) -> Mapping[str, Any]:
    if "$ref" not in field:
        return field
    name = field["$ref"].removeprefix("#/$defs/")
    return {**whole["$defs"][name], **{k: v for k, v in field.items() if k != "$ref"}}


def findings_page() -> Iterator[str]:
    """Every finding that there is."""
    yield "# What headrace may find"
    yield MADE
    yield (
        "An id stays with its finding for good. `refuse` writes nothing; `warn` writes, and wants "
        "to be looked at; `note` informs. A recipe may lower a warning, with a reason. "
        "`headrace explain NAME` shows each of them with an example, failing and mended."
    )
    for letter, area in AREAS.items():
        kinds = sorted((k for k in CATALOGUE.values() if k.id[2] == letter), key=lambda k: k.id)
        refusals = sum(kind.severity is Severity.REFUSE for kind in kinds)
        yield f"## {area[0].upper()}{area[1:]}"
        yield f"{len(kinds)} findings, {refusals} of which refuse."
        yield _table(("Id", "Name", "Weight", "What it means", "Why it matters", "What to do"), (
            (k.id, f"`{k.name}`", k.severity, example_of(k.name).meaning, k.why, k.remedy)
            for k in kinds
        ))  # fmt: skip


PAGES: Mapping[str, Callable[[], Iterator[str]]] = {
    "plugins/REFERENCE.md": transforms_page,
    "recipes/REFERENCE.md": fields_page,
    "pipeline/headrace/findings/REFERENCE.md": findings_page,
}


def page(name: str) -> str:
    return "\n\n".join(PAGES[name]()) + "\n"


def _table(head: tuple[str, ...], rows: Iterator[tuple[str, ...]]) -> str:
    lines = [f"| {' | '.join(head)} |", f"|{' --- |' * len(head)}"]
    lines += [f"| {' | '.join(_cell(cell) for cell in row)} |" for row in rows]
    return "\n".join(lines)


def _cell(text: str) -> str:
    return " ".join(str(text).split()).replace("|", "\\|").replace("<", "&lt;")


def _said(field: Mapping[str, Any]) -> str:
    examples = field.get("examples", ())
    shown = f" Such as {_code(examples[0])}." if examples else ""
    return f"{field.get('description', '')}{shown}"


def _default(field: Mapping[str, Any]) -> str:
    return _code(field["default"]) if "default" in field else ""


def _values(field: Mapping[str, Any]) -> str:
    if "enum" in field:
        return ", ".join(_code(value) for value in field["enum"])
    if "const" in field:
        return _code(field["const"])
    kind = field.get("type", "any")
    told = " or ".join(kind) if isinstance(kind, list) else str(kind)
    for key, words in _BOUNDS:
        if key in field:
            told += f", {words} {field[key]}"
    return told


_BOUNDS = (
    ("minimum", "at least"),
    ("exclusiveMinimum", "above"),
    ("maximum", "at most"),
    ("exclusiveMaximum", "below"),
    ("maxLength", "characters at most:"),
    ("minItems", "entries at least:"),
    ("maxItems", "entries at most:"),
)


def _code(value: Any) -> str:
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return f"`{text}`" if text else "nothing"


if __name__ == "__main__":
    for name in sys.argv[1:] or PAGES:
        (TREE / name).write_text(page(name), "utf-8", newline="\n")
