"""Texts for the operator and for whoever reads the file: plain ASCII, in the machine's style."""

from __future__ import annotations

import re
import textwrap
import unicodedata

from headrace import Machine, number_text
from headrace_transforms.telling.refusing import refusal

_NOT_ASCII = re.compile("[^ -~]")


def folded(text: str) -> str:
    """`text` in ASCII: accents go, what has no ASCII letter becomes `?`.

    >>> folded("Brut für Bär"), folded("5 µ")
    ('Brut fur Bar', '5 ?')
    """
    if text.isascii() and text.isprintable():
        return text
    return _NOT_ASCII.sub(_plain, unicodedata.normalize("NFD", text))


def _plain(found: re.Match[str]) -> str:
    """Nothing in the place of an accent, a question mark in that of any other character."""
    return "" if unicodedata.combining(found[0]) else "?"


def operator_text(text: str) -> str:
    """`text` as a display shows it, in capitals; JobRefused where a character has no place there.

    Accents are dropped, since the letter below stays readable; nothing else is replaced.
    """
    upper = folded(text.upper())
    lost = upper.count("?") - text.count("?")
    bad = sorted({character for character in upper if character in "();"})
    if lost or bad or not upper.strip():
        what = f"the text {text!r} cannot stand in a comment"
        if bad:
            what += f": it holds {' '.join(bad)}"
        raise refusal("text-unwritable", what)
    return upper


def notes(machine: Machine, *texts: str) -> tuple[str, ...]:
    """Comment lines for whoever reads the file, wrapped to what the machine reads and shows."""
    if machine.comments.style == "none":
        return ()
    width = machine.line_length - 2
    if machine.pause.text == "before":
        width = min(width, machine.pause.width)
    lines = [line for text in texts for line in textwrap.wrap(text, max(width, 1))]
    return tuple(machine.comments.written(line) for line in lines)


def mm(value: float) -> str:
    """A length for a message: at most three decimals.

    >>> mm(50.379999), mm(3.0)
    ('50.38', '3')
    """
    return number_text(value, 3)
