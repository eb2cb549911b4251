"""Who says what: every value of a recipe, its machine and its set-up, with the place it is from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from headrace.findings import Place
from headrace.recipe.composed import Composed
from headrace.recipe.node import Items, Leaf, Node, Table, plain


@dataclass(frozen=True, slots=True)
class Said:
    """A value, where it was written, and its name: that by which `--set` calls it, or with the
    numbers of items, which count from 1."""

    name: str
    value: Any
    place: Place


def said(composed: Composed) -> Iterator[Said]:
    """All that the files and `--set` say, the recipe first. A list of single values is one value:
    a child replaces lists as a whole."""
    for key, entry in composed.recipe.entries.items():
        if key != "setup" or isinstance(entry.node, Leaf):
            yield from _below(entry.node, (key,))
    for key, document in (("machine", composed.machine), ("setup", composed.setup)):
        if document is not None and (document.entries or key in composed.recipe.entries):
            yield from _below(document, (key,))


def _below(node: Node, way: tuple[str, ...]) -> Iterator[Said]:
    if isinstance(node, Table) and node.entries:
        for key, entry in node.entries.items():
            yield from _below(entry.node, (*way, key))
    elif isinstance(node, Items) and not _is_single(node, way):
        for number, item in enumerate(node.items, 1):
            yield from _below(item, (*way, str(number)))
    else:
        yield Said(".".join(way), plain(node), node.place)


def _is_single(node: Items, way: tuple[str, ...]) -> bool:
    """Whether a list is one value: of nothing but single ones, and no list of steps."""
    return way[-1] != "steps" and not any(isinstance(item, Table) for item in node.items)
