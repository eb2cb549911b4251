"""A finding: one thing that a person should know, and where it is."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding weighs."""

    REFUSE = "refuse"
    """Nothing is written."""
    WARN = "warn"
    """Written, and the person is told."""
    NOTE = "note"
    """For information."""


@dataclass(frozen=True, slots=True)
class Place:
    """A place in a file: line and column count from 1, columns in characters.

    `excerpt` is the text of that line, `length` the number of characters meant.
    """

    file: str
    line: int
    column: int = 1
    length: int = 1
    excerpt: str = ""

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True)
class Finding:
    """What was found, where, why it matters and what to do.

    `name` is a key of the catalogue, which gives the stable id and the usual severity. `lowered`
    is the reason that a recipe gives for telling a warning as a note.
    """

    name: str
    severity: Severity
    what: str
    place: Place | None = None
    why: str = ""
    remedy: str = ""
    lowered: str = ""

    @classmethod
    def of(
        cls,
        name: str,
        what: str,
        place: Place | None = None,
        *,
        why: str | None = None,
        remedy: str | None = None,
        severity: Severity | None = None,
    ) -> Finding:
        """A finding of the catalogue's kind `name`; KeyError when there is no such kind."""
        from headrace.findings.catalogue import CATALOGUE

        kind = CATALOGUE[name]
        return cls(
            name=name,
            severity=severity or kind.severity,
            what=what,
            place=place,
            why=kind.why if why is None else why,
            remedy=kind.remedy if remedy is None else remedy,
        )

    @property
    def id(self) -> str:
        """The stable id, such as `HRL003`; never given to another kind."""
        from headrace.findings.catalogue import CATALOGUE

        return CATALOGUE[self.name].id
