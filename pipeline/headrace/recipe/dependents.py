"""What changed files lead to: the recipes that read them, and descriptions that no recipe reads."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from headrace.errors import RecipeError
from headrace.findings import Finding
from headrace.recipe.composition import load_file
from headrace.recipe.consistency import machine_findings, setup_findings
from headrace.recipe.named_files import named_files
from headrace.recipe.plan import Transforms, check_recipe
from headrace.recipe.schema import schema
from headrace.recipe.unfinished import unfinished_findings
from headrace.recipe.validation import Subject, schema_findings

_FORMAT = re.compile(
    rb"""^(?:\xef\xbb\xbf)?\{?[ ]*["']?format["']?[ ]*:[ ]*["']?headrace-([a-z]+)/""", re.M
)
_ENOUGH = 1 << 16
"""So many bytes of a file are looked at for its format."""
_YAML = (".yaml", ".yml")


@dataclass(frozen=True, slots=True)
class Dependents:
    """Recipes to be checked, and which of them others extend; machines and set-ups to be checked by
    themselves, each with its kind; and files that are nothing of headrace's, as far as one can
    tell."""

    recipes: tuple[Path, ...]
    extended: frozenset[Path]
    alone: tuple[tuple[Path, str], ...]
    others: tuple[Path, ...]


def dependents(files: Iterable[Path], folder: Path) -> Dependents:
    """What `files`, which need not be there any more, lead to among all recipes below `folder`."""
    changed = {path.resolve(): path for path in files}
    recipes = {path.resolve(): path for path in _below(folder) if kind_of(path) == "recipe"}
    kinds = {whole: kind_of(path) for whole, path in changed.items()}
    for whole, path in changed.items():
        if kinds[whole] == "recipe":
            recipes.setdefault(whole, path)
    read = {whole: _resolved(named_files(path)) for whole, path in recipes.items()}
    reached = set().union(*read.values())
    extended = {other for whole, named in read.items() for other in named if other != whole}
    found = {
        recipes[whole]: whole for whole, named in read.items() if not named.isdisjoint(changed)
    }
    return Dependents(
        recipes=tuple(sorted(found)),
        extended=frozenset(path for path, whole in found.items() if whole in extended),
        alone=tuple(
            (path, kind)
            for whole, path in changed.items()
            if (kind := kinds[whole]) in ("machine", "setup") and whole not in reached
        ),
        others=tuple(
            path for whole, path in changed.items() if kinds[whole] is None and whole not in reached
        ),
    )


def recipe_findings(path: Path, registry: Transforms, is_extended: bool) -> list[Finding]:
    """All that is wrong with a recipe; one that others extend may lack what they add."""
    found = check_recipe(path, registry)
    return [each for each in found if not (is_extended and each.name == "recipe-missing-key")]


def description_findings(path: Path, kind: str) -> Sequence[Finding]:
    """All that is wrong with a machine or a set-up by itself."""
    try:
        root = load_file(path, kind, None)
    except RecipeError as error:
        return error.findings
    judge = machine_findings if kind == "machine" else setup_findings
    unsound = schema_findings(Subject(root), schema(kind))
    return [*unfinished_findings(unsound), *unsound] or judge(root)


def kind_of(path: Path) -> str | None:
    """What a YAML file says that it is: `recipe`, `machine` or `setup`; None where it is none of
    these, or cannot be read."""
    if path.suffix.lower() not in _YAML:
        return None
    try:
        with path.open("rb") as file:
            found = _FORMAT.search(file.read(_ENOUGH))
    except OSError:
        return None
    kind = found[1].decode() if found else None
    return kind if kind in ("recipe", "machine", "setup") else None


def _below(folder: Path) -> Iterator[Path]:
    """All files of a folder and those in it; hidden folders are left out."""
    for root, folders, files in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        yield from (Path(root, name) for name in sorted(files))


def _resolved(paths: Iterable[Path]) -> frozenset[Path]:
    return frozenset(path.resolve() for path in paths)
