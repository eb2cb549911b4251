"""Recipes of older formats: that they are, and what is wrong with them in their own words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from headrace.findings import Finding, Place
from headrace.recipe.composition import load_chain
from headrace.recipe.formats import former, newest, number_of
from headrace.recipe.node import Table
from headrace.recipe.schema import schema
from headrace.recipe.validation import Subject, schema_findings


def older_formats(recipe: Path) -> list[Finding]:
    """That a recipe, or one that it extends, is of an older format. Raises RecipeError where one
    of them cannot be read."""
    return [_older(place) for place in older_places(recipe)]


def older_places(recipe: Path) -> list[Place]:
    """Where a recipe, and those that it extends, state an older format. Raises RecipeError."""
    return [root.entries["format"].node.place for root in load_chain(recipe).older]


def _older(place: Place) -> Finding:
    what = f"the recipe is of an older format than `{newest('recipe')}`"
    remedy = f"`headrace upgrade {place.file}` shows what would change; with --write it is written"
    return Finding.of("recipe-format-old", what, place, remedy=remedy)


def in_own_words(found: Iterable[Finding], recipe: Table, older: Sequence[Table]) -> list[Finding]:
    """Findings on a recipe, whose parents are merged in: those on a document of an older format as
    its own schema has it, and where a key is called otherwise by now, that name."""
    own = {
        (each.name, each.place): each
        for root in older
        for each in schema_findings(Subject(root), schema(f"recipe-{number_of(root, 'recipe')}"))
    }
    names = {
        entry.key: (old, new)
        for old, new in former("recipe").items()
        if (entry := recipe.entries.get(old)) is not None
    }
    told: list[Finding] = []
    for each in found:
        each = own.get((each.name, each.place), each)
        if each.name == "recipe-unknown-key" and each.place in names:
            old, new = names[each.place]
            remedy = f"in {newest('recipe')} `{old}` is called `{new}`: write that"
            each = replace(each, remedy=remedy)
        told.append(each)
    return told
