"""How many there are, in words."""

from __future__ import annotations


def count_text(number: int, noun: str) -> str:
    """How many there are, the noun in its number.

    >>> count_text(1, "pause"), count_text(4, "pause")
    ('1 pause', '4 pauses')
    """
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
