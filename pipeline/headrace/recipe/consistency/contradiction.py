"""Two values that cannot both be meant, as a finding at the place of one of them."""

from __future__ import annotations

from headrace.findings import Finding
from headrace.recipe.node import Leaf, Node, Path, find, key_place_at, place_at


def contradiction(
    root: Node, path: Path, what: str, remedy: str | None = None, *, key: bool = False
) -> Finding:
    """`what` contradicts itself at `path`, told at the value, or where `key` says so, or where the
    value is not a single one, at its key."""
    place = key_place_at(root, path) if key or not isinstance(find(root, path), Leaf) else None
    return Finding.of("recipe-contradiction", what, place or place_at(root, path), remedy=remedy)
