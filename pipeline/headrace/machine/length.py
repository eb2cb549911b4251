"""Lengths and places as a document has them, where it has them at all."""

from __future__ import annotations

from typing import Any


def length(value: float | None) -> float | None:
    """A length; None where it is not described."""
    return None if value is None else float(value)


def pair(value: Any) -> tuple[float, float] | None:
    """X and Y; None where they are not described."""
    return None if value is None else (float(value[0]), float(value[1]))
