"""Unsure means no: where a description is silent, say which field to fill in."""

from __future__ import annotations

from typing import TypeVar

from headrace.errors import JobRefused
from headrace.findings import Finding, Place

T = TypeVar("T")


def needed(value: T | None, field: str, purpose: str) -> T:
    """`value`, or JobRefused naming the `field` that the `purpose` needs.

    >>> needed(12.0, "setup.plate.thickness", "touch-off")
    12.0
    """
    if value is None:
        owner = field.split(".", 1)[0]
        raise JobRefused(
            findings=[
                Finding.of(
                    "not-described",
                    f"{purpose} cannot tell: {field} is not given",
                    remedy=f"fill in `{field.split('.', 1)[1]}` in the {owner} file",
                )
            ]
        )
    return value


def unknown(field: str, question: str, place: Place | None = None) -> Finding:
    """That a `question` (such as "whether the nut clears the clamps") stays open, as the `field`
    that would answer it is not given."""
    owner, name = field.split(".", 1)
    return Finding.of(
        "cannot-tell",
        f"cannot tell {question}: {field} is not given",
        place,
        remedy=f"fill in `{name}` in the {owner} file",
    )
