"""What a JSON Schema (2020-12) has to say of nodes, as findings with exact places.

Unknown keys are shown where they stand, values where they stand, and what is missing where the
mapping is named that lacks it. One mistake gives one finding.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from headrace.errors import PluginError
from headrace.findings import Finding, Place
from headrace.recipe.complaint import complaint
from headrace.recipe.mismatch import Mismatch, mismatches
from headrace.recipe.node import Node, Path, key_place_at, place_at, plain
from headrace.recipe.wording import label, listed, lowered, nearest, told

MOST_FINDINGS = 20
"""Findings told of one document or list of steps; what comes after is only counted."""


@dataclass(frozen=True, slots=True)
class Subject:
    """What is validated: a node, how findings call it, and the place that stands for its root."""

    node: Node
    owner: str = ""
    root: Place | None = None

    def label(self, path: Path) -> str:
        if not self.owner:
            return label(path)
        return f"{label(path)} of {self.owner}" if path else self.owner

    def value(self, path: Path) -> Place:
        return place_at(self.node, path) if path or self.root is None else self.root

    def key(self, path: Path) -> Place:
        return key_place_at(self.node, path) if path or self.root is None else self.root


def schema_findings(subject: Subject, schema: Mapping[str, Any]) -> list[Finding]:
    """Everything in which `subject` departs from `schema`, in the order of the text.

    Raises PluginError when the schema itself cannot be used, which is its author's fault.
    """
    try:
        found = mismatches(plain(subject.node), schema)
    except Exception as error:
        said = f"{type(error).__name__}: {error}".splitlines()[0]
        what = f"the schema of {subject.owner or 'the file'} cannot be used: {said}"
        raise PluginError(findings=[Finding.of("plugin-faulty", what, subject.root)]) from error
    return shortened(sorted(_findings(found, subject), key=_position))


def shortened(found: list[Finding], most: int = MOST_FINDINGS) -> list[Finding]:
    """At most `most` findings, and one more that counts the rest."""
    if len(found) <= most:
        return found
    rest = len(found) - most
    what = f"{rest} more findings are not shown" if rest > 1 else "one more finding is not shown"
    return [*found[:most], Finding.of("recipe-more-findings", what, found[most].place)]


def _position(finding: Finding) -> tuple[str, int, int]:
    place = finding.place
    return (place.file, place.line, place.column) if place else ("", 0, 0)


def _findings(found: list[Mismatch], subject: Subject) -> Iterator[Finding]:
    misspelt: set[Path] = set()
    seen: set[Path] = set()
    # Unknown keys first: what one of them probably means is not missing. Then the sort of a value
    # before its size, since each value is complained of once.
    for mismatch in sorted(found, key=_rank):
        path = mismatch.path
        if mismatch.keyword == "additionalProperties":
            yield from _unknown_keys(mismatch, subject, misspelt)
        elif mismatch.keyword == "required":
            yield from _missing_keys(mismatch, subject, misspelt)
        elif mismatch.about_key:
            yield _bad_key(mismatch, subject)
        elif path not in seen:
            seen.add(path)
            yield _bad_value(mismatch, subject)


def _rank(mismatch: Mismatch) -> int:
    ranks = {"additionalProperties": 0, "type": 1, "const": 1, "enum": 1}
    return ranks.get(mismatch.keyword, 2)


def _unknown_keys(mismatch: Mismatch, subject: Subject, misspelt: set[Path]) -> Iterator[Finding]:
    path, known = mismatch.path, list(mismatch.schema.get("properties", {}))
    patterns = list(mismatch.schema.get("patternProperties", {}))
    unknown = [
        key
        for key in mismatch.value
        if key not in known and not any(re.search(pattern, key) for pattern in patterns)
    ]
    for number, key in enumerate(unknown):
        # Looking for spellings takes time, which a file full of nonsense shall not have.
        close = nearest(key, known) if number <= MOST_FINDINGS else None
        if close is not None and close not in mismatch.value:
            misspelt.add((*path, close))
        hint = f"did you mean `{close}`? " if close else ""
        what = f"{subject.label(path)} has no key {told(key)}"
        remedy = f"{hint}known here: {listed(known)}"
        yield Finding.of("recipe-unknown-key", what, subject.key((*path, key)), remedy=remedy)


def _missing_keys(mismatch: Mismatch, subject: Subject, misspelt: set[Path]) -> Iterator[Finding]:
    """One finding for each, although the validator tells of each one separately."""
    path = mismatch.path
    for key in mismatch.limit:
        if key in mismatch.value or (*path, key) in misspelt:
            continue
        misspelt.add((*path, key))
        description = mismatch.schema.get("properties", {}).get(key, {}).get("description", "")
        what = f"{subject.label(path)} lacks `{key}`"
        remedy = f"add `{key}`: {lowered(description)}" if description else f"add `{key}`"
        yield Finding.of("recipe-missing-key", what, subject.key(path), remedy=remedy)


def _bad_key(mismatch: Mismatch, subject: Subject) -> Finding:
    path = mismatch.path
    what = f"{subject.label(path)} cannot have the key {told(mismatch.value)}"
    description = mismatch.schema.get("description")
    remedy = f"a key here is {lowered(str(description))}" if description else None
    place = subject.key((*path, str(mismatch.value)))
    return Finding.of("recipe-unknown-key", what, place, remedy=remedy)


def _bad_value(mismatch: Mismatch, subject: Subject) -> Finding:
    path = mismatch.path
    if mismatch.keyword == "uniqueItems":
        items = mismatch.value
        path = (*path, next(at for at, item in enumerate(items) if item in items[:at]))
    name, what, remedy = complaint(mismatch, subject.label(path))
    return Finding.of(name, what, subject.value(path), remedy=remedy)
