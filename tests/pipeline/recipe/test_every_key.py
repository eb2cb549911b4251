"""Every key of a machine, a set-up and a recipe, and every option of every bundled transform:
whatever is wrong with it is one finding, at its line and column.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from copy import deepcopy
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from pipeline.recipe.slips import Slip, slips_of
from pipeline.recipe.workshop import MACHINE, SETUP

from headrace.findings import Finding, render
from headrace.plugins.registry import load_registry
from headrace.recipe.document import parse_document
from headrace.recipe.node import Table
from headrace.recipe.schema import schema
from headrace.recipe.step import step_findings
from headrace.recipe.validation import Subject, schema_findings

NAME = Path("wrong.yaml")
TRANSFORMS = load_registry().transforms
SOUND = {"machine": yaml.safe_load(MACHINE), "setup": yaml.safe_load(SETUP)}


@cache
def parts_of(kind: str) -> dict[tuple[Any, ...], Mapping[str, Any]]:
    """Every key that a schema knows, with the way to it; of lists of mappings, in their first."""
    whole = schema(kind)

    def below(node: Mapping[str, Any], way: tuple[Any, ...]) -> Iterator[tuple[Any, Any]]:
        for key, inner in node.get("properties", {}).items():
            if "$ref" in inner:
                inner = whole["$defs"][inner["$ref"].rsplit("/", 1)[1]] | inner
            yield (*way, key), inner
            yield from below(inner, (*way, key))
            if "properties" in (items := inner.get("items", {})):
                yield from below(items, (*way, key, 0))

    return dict(below(whole, ()))


def base_of(kind: str, way: tuple[Any, ...]) -> dict[str, Any]:
    """The sound document, with what lies on the way to a key, from the schema's own examples."""
    document = deepcopy(SOUND[kind])
    known = parts_of(kind)
    node = document
    for at, key in enumerate(way[:-1]):
        if not isinstance(key, str):
            node = node[key]
            continue
        wanted = list if isinstance(way[at + 1], int) else dict
        if known[way[: at + 1]].get("maxProperties") == 1:
            node[key] = {}  # whatever is tried stands alone there
        elif not isinstance(node.get(key), wanted) or not node[key]:
            examples = known[way[: at + 1]].get("examples", [{}])
            node[key] = deepcopy(next(each for each in examples if isinstance(each, wanted)))
        node = node[key]
    return document


def judged(found: list[Finding], slip: Slip) -> None:
    said = [render(each) for each in found]
    assert [each.name for each in found] == [slip.name], (slip.plain, said)
    place = found[0].place
    assert place is not None
    assert (place.line, place.column) == slip.place, (slip.text, said)
    for words in slip.words:
        assert words in said[0], (slip.text, said)
    assert "not valid under any" not in said[0]


@pytest.mark.parametrize(("kind", "least"), [("machine", 700), ("setup", 280)])
def test_every_key_of_a_description(kind: str, least: int) -> None:
    tried = 0
    for way, part in parts_of(kind).items():
        if way == ("format",):
            continue  # seen to before any schema is
        found = list(slips_of(base_of(kind, way), way, part))
        assert len(found) >= 3, way
        for slip in found:
            root = parse_document(slip.plain.encode(), NAME).root
            judged(schema_findings(Subject(root), schema(kind)), slip)
        tried += len(found)

    assert tried >= least


@pytest.mark.parametrize("name", sorted(TRANSFORMS))
def test_every_option_of_a_transform(name: str) -> None:
    """In a step of its own, with the options that it needs beside it."""
    transform = TRANSFORMS[name]
    needed = {
        key: part.get("default") or (part.get("examples") or part["enum"])[0]
        for key, part in transform.options.items()
        if key in transform.required
    }
    for option, part in transform.options.items():
        base = {"steps": [{name: dict(needed)}]}
        found = list(slips_of(base, ("steps", 0, name, option), part))
        assert len(found) >= 3, option
        for slip in found:
            root = parse_document(slip.plain.encode(), NAME).root
            assert isinstance(root, Table)
            steps = root.get("steps")
            assert steps is not None
            judged(step_findings(steps, TRANSFORMS), slip)
