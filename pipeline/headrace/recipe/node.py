"""Values that know where they were written.

Nodes of one tree may come from several files: after merging, each still points at its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

from headrace.findings import Place

Scalar: TypeAlias = "str | int | float | bool | None"
Path: TypeAlias = "tuple[str | int, ...]"
"""The way from a root to a node: keys, and positions in lists (from 0)."""


@dataclass(frozen=True, slots=True)
class Leaf:
    """A single value."""

    value: Scalar
    place: Place


@dataclass(frozen=True, slots=True)
class Items:
    """A list."""

    items: tuple[Node, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Entry:
    """A value under a key, and the place of that key."""

    key: Place
    node: Node


@dataclass(frozen=True, slots=True)
class Table:
    """A mapping; `place` is where it begins."""

    entries: Mapping[str, Entry]
    place: Place

    def get(self, key: str) -> Node | None:
        """The value under `key`, or None."""
        entry = self.entries.get(key)
        return None if entry is None else entry.node


Node: TypeAlias = "Leaf | Items | Table"


def plain(node: Node) -> Any:
    """The value as Python's own dicts, lists and scalars."""
    if isinstance(node, Leaf):
        return node.value
    if isinstance(node, Items):
        return [plain(item) for item in node.items]
    return {key: plain(entry.node) for key, entry in node.entries.items()}


def find(root: Node, path: Path) -> Node | None:
    """The node at the end of `path`, or None where there is none."""
    node: Node | None = root
    for part in path:
        if isinstance(node, Table) and isinstance(part, str):
            node = node.get(part)
        elif isinstance(node, Items) and isinstance(part, int) and 0 <= part < len(node.items):
            node = node.items[part]
        else:
            return None
    return node


def place_at(root: Node, path: Path) -> Place:
    """Where the value at `path` stands; where the nearest one above it stands if it is absent."""
    while (node := find(root, path)) is None:
        path = path[:-1]
    return node.place


def key_place_at(root: Node, path: Path) -> Place:
    """Where the key at the end of `path` stands.

    Items of a list have no key, so theirs is the place of the item; the root's is its beginning.
    """
    if path and isinstance(table := find(root, path[:-1]), Table):
        entry = table.entries.get(str(path[-1]))
        if entry is not None:
            return entry.key
    return place_at(root, path)


def leaves(root: Node, path: Path = ()) -> Iterator[tuple[Path, Node]]:
    """Every value without parts, with the way to it: what there is to tell of a tree's origins."""
    if isinstance(root, Table) and root.entries:
        for key, entry in root.entries.items():
            yield from leaves(entry.node, (*path, key))
    elif isinstance(root, Items) and root.items:
        for number, item in enumerate(root.items):
            yield from leaves(item, (*path, number))
    else:
        yield path, root
