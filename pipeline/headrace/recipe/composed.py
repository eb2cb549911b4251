"""A recipe, its machine and its set-up as three documents, in which every value has its origin."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from headrace.errors import RecipeError
from headrace.findings import Finding, Place
from headrace.recipe.composition import load_chain, load_file, referenced
from headrace.recipe.node import Leaf, Node, Table, leaves
from headrace.recipe.node import Path as Way
from headrace.recipe.override import WITHOUT_RECIPE, Override, applied, read_overrides


@dataclass(frozen=True, slots=True)
class Composed:
    """What came of merging parents and applying overrides; not yet held against any schema.

    `machine` and `setup` are None where the recipe names none, or not by text. `sources` are the
    files that were read, the recipe first; `older` the recipes of older formats among them, as they
    are written.
    """

    recipe: Table
    machine: Table | None
    setup: Table | None
    has_own_setup: bool
    sources: tuple[Path, ...]
    older: tuple[Table, ...] = ()

    def origins(self) -> Iterator[tuple[Way, Node]]:
        """Every value with its way, as `--set` would name it; the node knows its place."""
        for way, node in leaves(self.recipe):
            if way[0] != "setup" or self.has_own_setup:
                yield way, node
        if self.machine is not None:
            yield from leaves(self.machine, ("machine",))
        if self.setup is not None and not self.has_own_setup:
            yield from leaves(self.setup, ("setup",))


def compose(path: Path, texts: Sequence[str] = ()) -> tuple[Composed | None, list[Finding]]:
    """The documents of the recipe at `path`, with `--set` overrides, and what is wrong with them.

    None when the recipe itself cannot be read; a machine or set-up that cannot be is left out.
    """
    found: list[Finding] = []
    try:
        overrides = read_overrides(texts)
        chain = load_chain(path)
        recipe = applied(chain.root, overrides, "recipe")
    except RecipeError as error:
        return None, list(error.findings)
    documents: dict[str, Table | None] = {}
    sources = list(chain.files)
    for kind in ("machine", "setup"):
        try:
            documents[kind] = _document(recipe, kind, overrides, sources)
        except RecipeError as error:
            documents[kind] = None
            found.extend(error.findings)
    own = not isinstance(recipe.get("setup"), Leaf)
    machine, setup = documents["machine"], documents["setup"]
    return Composed(recipe, machine, setup, own, tuple(sources), chain.older), found


def compose_alone(
    machine: Path, setup: Path | None, texts: Sequence[str] = ()
) -> tuple[Composed | None, list[Finding]]:
    """The same of a machine and a set-up without a recipe; without a set-up file, of an empty one.

    None when an override is at fault; a file that cannot be read is left out.
    """
    try:
        overrides = read_overrides(texts, WITHOUT_RECIPE)
    except RecipeError as error:
        return None, list(error.findings)
    nothing = Table({}, Place(str(machine), 1))
    found: list[Finding] = []
    documents: dict[str, Table | None] = {}
    for kind, path in (("machine", machine), ("setup", setup)):
        try:
            root = nothing if path is None else load_file(path, kind, None)
            documents[kind] = applied(root, overrides, kind)
        except RecipeError as error:
            documents[kind] = None
            found.extend(error.findings)
    sources = (machine,) if setup is None else (machine, setup)
    own = setup is None
    return Composed(nothing, documents["machine"], documents["setup"], own, sources), found


def _document(
    recipe: Table, kind: str, overrides: Sequence[Override], sources: list[Path]
) -> Table | None:
    named = recipe.get(kind)
    if isinstance(named, Leaf) and isinstance(named.value, str) and named.value:
        path = referenced(named)
        root = load_file(path, kind, named.place)
        sources.append(path)
    elif kind == "setup" and (named is None or isinstance(named, Table)):
        root = named or Table({}, recipe.place)
    else:
        return None
    return applied(root, overrides, kind)
