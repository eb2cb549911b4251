"""Unsure means no: where a description is silent, say which field to fill in."""

from __future__ import annotations

from typing import TypeVar

from headrace.errors import JobRefused
from headrace.findings import Finding, Place, Severity

T = TypeVar("T")

_FILES = {"setup": "set-up"}


def needed(value: T | None, field: str, purpose: str) -> T:
    """`value`, or JobRefused naming the `field` that the `purpose` needs.

    >>> needed(12.0, "setup.plate.thickness", "touch-off")
    12.0
    """
    if value is None:
        what = f"{purpose} cannot tell: {field} is not given"
        raise JobRefused(findings=[Finding.of("not-described", what, remedy=_filled_in(field))])
    return value


def unknown(
    field: str, question: str, place: Place | None = None, *, severity: Severity | None = None
) -> Finding:
    """That a `question` (such as "whether the nut clears the clamps") stays open, as the `field`
    that would answer it is not given."""
    what = f"cannot tell {question}: {field} is not given"
    return Finding.of("cannot-tell", what, place, remedy=_filled_in(field), severity=severity)


def _filled_in(field: str) -> str:
    owner, name = field.split(".", 1)
    return f"fill in `{name}` in the {_FILES.get(owner, owner)} file"
