"""Descriptions that `headrace describe` has begun, and that lack something still."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from headrace.findings import Finding, Place

OPEN_MARK = "#?"
"""Lines that begin so tell what is not answered yet."""


def unfinished_findings(found: Iterable[Finding]) -> Iterator[Finding]:
    """Where to go on, for each file that has such lines among those which lack a key."""
    lacking = [each.place for each in found if each.name == "recipe-missing-key" and each.place]
    for file in dict.fromkeys(place.file for place in lacking):
        try:
            lines = Path(file).read_text("utf-8", "replace").splitlines()
        except OSError:
            continue
        line = next((n for n, text in enumerate(lines, 1) if text.startswith(OPEN_MARK)), None)
        if line is not None:
            yield Finding.of(
                "description-unfinished",
                f"{file} was begun by an interview that is not done yet",
                Place(file, line, 1, len(lines[line - 1]), lines[line - 1]),
                remedy=f"run `headrace describe {file}`: it asks for what is open",
            )
