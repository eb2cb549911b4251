"""The catalogue of findings: ids, words, and that source and catalogue name the same kinds."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

import headrace
import headrace_transforms
from headrace.findings import CATALOGUE, Finding, Severity
from headrace.findings.catalogue import Kind
from headrace.language.arcs import FAULTS

ROOTS = (
    Path(str(headrace.__file__)).parent,
    Path(str(headrace_transforms.__file__)).parent,
    Path(__file__).parents[3] / "recipes",
)
NAMING = {"of": 0, "ReadingError": 0, "Fault": 0, "refusal": 0, "report": 0, "_add": 0}
"""Calls whose first argument is the name of a kind."""


def trees() -> Iterator[tuple[Path, ast.Module]]:
    for root in ROOTS:
        for path in sorted(root.rglob("*.py")):
            if path.parent.name != "kinds":
                yield path, ast.parse(path.read_text("utf-8"), str(path))


def named() -> Iterator[tuple[str, str]]:
    """Where a call names a kind outright, and the name."""
    for path, tree in trees():
        for call in (node for node in ast.walk(tree) if isinstance(node, ast.Call)):
            function = call.func
            name = function.attr if isinstance(function, ast.Attribute) else ""
            name = function.id if isinstance(function, ast.Name) else name
            owner = function.value if isinstance(function, ast.Attribute) else None
            if name not in NAMING or not call.args:
                continue
            if name == "of" and not (isinstance(owner, ast.Name) and owner.id == "Finding"):
                continue
            first = call.args[0]
            if isinstance(first, ast.Constant) and isinstance(first.value, str):
                yield f"{path.name}:{call.lineno}", first.value


def texts() -> set[str]:
    """Every text in the source but docstrings."""
    found = set()
    for _, tree in trees():
        documented = {
            id(node.body[0].value)
            for node in ast.walk(tree)
            if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef))
            and node.body
            and isinstance(node.body[0], ast.Expr)
        }
        for node in ast.walk(tree):
            text = isinstance(node, ast.Constant) and isinstance(node.value, str)
            if text and id(node) not in documented:
                found.add(node.value)
    return found


@pytest.mark.parametrize("kind", CATALOGUE.values(), ids=lambda kind: kind.name)
def test_kind_is_well_formed(kind: Kind) -> None:
    assert re.fullmatch(r"HR[JLRMPCS]\d{3}", kind.id)
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", kind.name)
    assert isinstance(kind.severity, Severity)
    for text in (kind.why, kind.remedy):
        assert text
        assert text == text.strip()
        assert "\n" not in text
        assert not text.endswith(".")


def test_ids_and_names_are_unique() -> None:
    kinds = list(CATALOGUE.values())

    assert [at for at, count in Counter(kind.id for kind in kinds).items() if count > 1] == []
    assert list(CATALOGUE) == [kind.name for kind in kinds]


def test_no_name_is_given_twice() -> None:
    """A later kind of the same name would take the place of the earlier one without a word."""
    kinds = sorted((ROOTS[0] / "findings" / "kinds").glob("*.py"))
    names = [
        call.args[1].value
        for path in kinds
        for call in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(call, ast.Call)
        and isinstance(call.func, ast.Name)
        and call.func.id == "Kind"
        and isinstance(call.args[1], ast.Constant)
    ]

    assert len(names) > 100
    assert sorted(set(names), key=str) == sorted(names, key=str)
    assert len(names) == len(CATALOGUE)


def test_what_the_source_names_is_in_the_catalogue() -> None:
    found = list(named())

    assert len(found) > 100
    assert [(where, name) for where, name in found if name not in CATALOGUE] == []
    assert {fault for fault in FAULTS if fault} <= set(CATALOGUE)


def test_what_is_in_the_catalogue_is_used() -> None:
    assert sorted(set(CATALOGUE) - texts()) == []


@pytest.mark.parametrize("kind", CATALOGUE.values(), ids=lambda kind: kind.name)
def test_finding_of_a_kind(kind: Kind) -> None:
    finding = Finding.of(kind.name, "what it is")

    assert (finding.id, finding.severity) == (kind.id, kind.severity)
    assert (finding.why, finding.remedy, finding.place) == (kind.why, kind.remedy, None)


def test_a_finding_may_say_it_in_its_own_words() -> None:
    finding = Finding.of("no-end", "it", why="", remedy="mend it", severity=Severity.NOTE)

    assert (finding.why, finding.remedy, finding.severity) == ("", "mend it", Severity.NOTE)
    assert finding.id == CATALOGUE["no-end"].id


def test_there_is_no_finding_of_an_unknown_kind() -> None:
    with pytest.raises(KeyError):
        Finding.of("no-such-kind", "it")
