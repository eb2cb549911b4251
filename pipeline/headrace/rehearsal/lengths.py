"""Lengths: when two are the same, and how findings tell one."""

from __future__ import annotations

from headrace.program import number_text

NEAR = 1e-6
"""Lengths (mm) that differ by less are the same."""


def mm(length: float) -> str:
    """A length as findings tell it."""
    return number_text(length, 3)
