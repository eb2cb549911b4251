"""The files that a recipe leads to, whether or not they are there or can be read."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from headrace.errors import RecipeError
from headrace.recipe.composition import MOST_PARENTS, referenced
from headrace.recipe.document import read_document
from headrace.recipe.formats import upgraded
from headrace.recipe.node import Items, Leaf, Node, Table


def named_files(recipe: Path) -> frozenset[Path]:
    """The recipe, its parents, and every machine, set-up and Python file that one of them names.

    What is at fault in them is not told here; a file that cannot be read names no others.
    """
    found: set[Path] = set()
    path = recipe
    for _ in range(MOST_PARENTS + 1):
        found.add(path)
        try:
            root = read_document(path).root
        except RecipeError:
            break
        if not isinstance(root, Table):
            break
        root = upgraded(root, "recipe")
        for key in ("machine", "setup", "python"):
            found.update(_named_by(root.get(key)))
        parents = list(_named_by(root.get("extends")))
        if len(parents) != 1 or parents[0] in found:
            break
        path = parents[0]
    return frozenset(found)


def _named_by(node: Node | None) -> Iterator[Path]:
    """The paths that a value holds, or each value of a list."""
    for item in node.items if isinstance(node, Items) else (node,):
        if isinstance(item, Leaf) and isinstance(item.value, str) and item.value:
            yield referenced(item)
