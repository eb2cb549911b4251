"""The reference pages say what the code says."""

from __future__ import annotations

import re

import pytest
from docs.pages import GENERATED, TREE, text_of
from docs.references import PAGES, page

import headrace
import headrace.testing
from headrace.findings import CATALOGUE
from headrace.plugins.registry import load_registry
from headrace.recipe.schema import schema


def test_there_are_no_other_references() -> None:
    assert tuple(PAGES) == GENERATED
    found = {path.relative_to(TREE).as_posix() for path in TREE.glob("*/**/REFERENCE.md")}
    assert {name for name in found if not name.startswith(".")} == set(GENERATED)


@pytest.mark.parametrize("name", GENERATED)
def test_is_what_the_code_says(name: str) -> None:
    """`python tests/docs/references.py` writes it anew."""
    assert text_of(name) == page(name)


def test_nothing_is_missing() -> None:
    """Counted otherwise than the pages are made."""
    transforms, fields, findings = (text_of(name) for name in GENERATED)
    bundled = [
        each
        for each in load_registry().transforms.values()
        if each.provider.startswith("headrace ")
    ]

    assert transforms.count("\n## ") == len(bundled) + 3
    for name in (*headrace.Facet, *headrace.__all__, *headrace.testing.__all__):
        assert re.search(rf"^\| `{name}` \| \S.* \|$", transforms, re.M), name
    for each in bundled:
        section = transforms.split(f"\n## {each.name}\n")[1].split("\n## ")[0]
        assert all(f"| `{option}` |" in section for option in each.options)
    for kind in CATALOGUE.values():
        assert f"| {kind.id} | `{kind.name}` | {kind.severity} |" in findings
    for kind in ("recipe", "machine", "setup"):
        for name in _names(schema(kind)):
            assert f"{name}`" in fields, name


def _names(node: object) -> set[str]:
    """Every name of a property, wherever it stands."""
    if isinstance(node, dict):
        own = set(node.get("properties", {})) if isinstance(node.get("properties"), dict) else set()
        return own.union(*(_names(value) for value in node.values()))
    if isinstance(node, list):
        return set().union(*(_names(value) for value in node))
    return set()
