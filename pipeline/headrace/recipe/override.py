"""`--set path=value`: what is measured on the day, over what the files say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NoReturn

from headrace.errors import RecipeError
from headrace.findings import Finding, Place
from headrace.recipe.document import parse_node
from headrace.recipe.node import Entry, Items, Leaf, Node, Table
from headrace.recipe.source_text import SourceText
from headrace.recipe.wording import listed, nearest, told

FILE = "--set"
"""What places call the text of an override."""

_SCALARS = ("name", "description")
_ROOTS = ("setup", "machine", "steps", "assume", *_SCALARS)
WITHOUT_RECIPE = ("setup", "machine")
"""What can be set where there is no recipe."""


@dataclass(frozen=True, slots=True)
class Override:
    """A value, the way to it, and the place of every part of that way."""

    path: tuple[str, ...]
    places: tuple[Place, ...]
    node: Node

    @property
    def target(self) -> str:
        """What it changes: `machine`, `setup` or `recipe`."""
        return self.path[0] if self.path[0] in ("machine", "setup") else "recipe"

    @property
    def text(self) -> str:
        return ".".join(self.path)


def read_overrides(texts: Sequence[str], roots: Sequence[str] = _ROOTS) -> tuple[Override, ...]:
    """All overrides of a command line, each of a part of one of the `roots`. Raises RecipeError
    for the first that is at fault."""
    overrides: list[Override] = []
    for text in texts:
        override = read_override(text, roots)
        for other in overrides:
            shorter = min(len(other.path), len(override.path))
            if other.path[:shorter] == override.path[:shorter]:
                what = f"`{override.text}` and `{other.text}` set the same value"
                _refuse(what, _whole(override), "leave one of them")
        overrides.append(override)
    return tuple(overrides)


def read_override(text: str, roots: Sequence[str] = _ROOTS) -> Override:
    """One override. Raises RecipeError."""
    source = SourceText.of(FILE, text)
    path, equals, value = text.partition("=")
    if not equals:
        _refuse(f"{told(text)} sets nothing", source.place(0, 0, len(text)))
    if len(source.lines) > 1:
        _refuse("an override is one line", source.place(0, 0))
    places: list[Place] = []
    at = 0
    for part in path.split("."):
        place = source.place(0, at, len(part))
        if not part or part != part.strip():
            _refuse(f"the path {told(path)} has an empty part or a blank in it", place)
        places.append(place)
        at += len(part) + 1
    parts = tuple(path.split("."))
    _check_root(parts, places, roots)
    return Override(parts, tuple(places), _value(source, len(path) + 1, value))


def _check_root(parts: tuple[str, ...], places: list[Place], roots: Sequence[str]) -> None:
    if parts[0] not in roots:
        close = None if parts[0] in _ROOTS else nearest(parts[0], roots)
        hint = f"did you mean `{close}`? " if close else ""
        what = f"{told(parts[0])} is nothing that can be set"
        if parts[0] in _ROOTS:
            what += " without a recipe"
        _refuse(what, places[0], f"{hint}can be set: {listed(roots)}")
    if parts[0] in _SCALARS:
        if len(parts) > 1:
            _refuse(f"`{parts[0]}` has no parts", places[1])
    elif parts[0] == "steps" and len(parts) < 3:
        what = "what is set must be an option of a step"
        _refuse(what, places[-1], "write `--set steps.<name>.<option>=value`")
    elif len(parts) < 2:
        what = f"`{parts[0]}` cannot be set as a whole"
        _refuse(what, places[0], f"name the part of it: `--set {parts[0]}.<key>=value`")


def _value(source: SourceText, start: int, value: str) -> Node:
    """The value, read by YAML's rules, with its columns in the whole text."""
    text = source.text
    place = source.place(0, start, len(value))
    if not value.strip():
        _refuse("no value stands behind the `=`", place)
    if _has_comment(value):
        _refuse("what stands behind ` #` would be left out", place, "put text in quotes")
    node = parse_node(replace(source, text=" " * start + value, lines=(text,)))
    if not _is_simple(node, text):
        what = f"{told(value)} is neither a single value nor a list in brackets"
        _refuse(what, place, "put text in quotes, and set the parts of a mapping one by one")
    return node


def _has_comment(value: str) -> bool:
    value = value.strip()
    quoted = len(value) > 1 and value[0] == value[-1] and value[0] in "\"'"
    return not quoted and (value.startswith("#") or " #" in value or "\t#" in value)


def _is_simple(node: Node, text: str) -> bool:
    if isinstance(node, Items):
        bracket = text[node.place.column - 1] == "["
        return bracket and all(_is_simple(item, text) for item in node.items)
    return isinstance(node, Leaf)


def applied(root: Table, overrides: Sequence[Override], kind: str) -> Table:
    """`root`, which is a document of `kind`, with its overrides. Raises RecipeError."""
    for override in overrides:
        if override.target != kind:
            continue
        if override.path[0] == "steps":
            root = _in_step(root, override)
        else:
            depth = 0 if kind == "recipe" else 1
            root = _set(root, override, depth)
    return root


def _set(table: Table, override: Override, depth: int) -> Table:
    key, place = override.path[depth], override.places[depth]
    entry = table.entries.get(key)
    if depth == len(override.path) - 1:
        node = override.node
    else:
        below = Table({}, place) if entry is None else entry.node
        if not isinstance(below, Table):
            whole = ".".join(override.path[: depth + 1])
            what = f"`{whole}` has no parts; it is written as one value in {below.place}"
            _refuse(what, override.places[depth + 1], f"set `{whole}` as a whole")
        node = _set(below, override, depth + 1)
    entries = {**table.entries, key: Entry(place if entry is None else entry.key, node)}
    return Table(entries, table.place)


def _in_step(root: Table, override: Override) -> Table:
    """Set an option of the first step of the given name."""
    steps = root.get("steps")
    items = list(steps.items) if isinstance(steps, Items) else []
    name, place = override.path[1], override.places[1]
    names = [step_name(item) for item in items]
    if steps is None or name not in names:
        close = nearest(name, [known for known in names if known])
        hint = f"did you mean `{close}`? " if close else ""
        remedy = f"{hint}steps here: {listed(dict.fromkeys(n for n in names if n))}"
        _refuse(f"the recipe has no step {told(name)}", place, remedy)
    at = names.index(name)
    item = items[at]
    if not isinstance(item, Table):
        item = Table({name: Entry(item.place, Table({}, item.place))}, item.place)
    items[at] = _set(item, override, 1)
    entries = {**root.entries}
    entries["steps"] = Entry(entries["steps"].key, Items(tuple(items), steps.place))
    return Table(entries, root.place)


def step_name(item: Node) -> str | None:
    """The name in a step as a recipe writes it, None where it is written wrongly."""
    if isinstance(item, Leaf):
        return item.value if isinstance(item.value, str) else None
    if isinstance(item, Table) and len(item.entries) == 1:
        return next(iter(item.entries))
    return None


def _whole(override: Override) -> Place:
    first = override.places[0]
    return replace(first, length=len(override.text))


def _refuse(what: str, place: Place, remedy: str | None = None) -> NoReturn:
    raise RecipeError(findings=[Finding.of("recipe-override", what, place, remedy=remedy)])
