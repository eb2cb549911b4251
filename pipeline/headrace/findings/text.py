"""Findings as text for a terminal: message, place, excerpt with a caret, why, what to do, and why
a recipe lowers it."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Sequence
from textwrap import wrap

from headrace.findings.finding import Finding, Place

_WIDEST = 100
_GUTTER = 11
"""Characters before and behind what an excerpt shows."""


def render(finding: Finding, width: int | None = None) -> str:
    """The whole finding as lines of plain text, without a final newline; for a terminal of this
    width folded to it."""
    if width is None:
        return "\n".join(_lines(finding, _WIDEST))
    lines = _lines(finding, max(1, min(_WIDEST, width - _GUTTER)))
    return "\n".join(part for line in lines for part in folded(line, width))


def folded(line: str, width: int) -> list[str]:
    """A line in parts that fit a width, cut between words; those behind the first stand farther in.
    The lines of an excerpt stay whole."""
    if len(line) <= width or line[7:8] == "|":
        return [line]
    inset = " " * min(len(line) - len(line.lstrip()) + 4, width // 2)
    return wrap(
        line, width, subsequent_indent=inset, break_on_hyphens=False, break_long_words=False
    ) or [line]


def few(names: Sequence[str], most: int = 5) -> str:
    """The first of some names in a row, and how many more there are.

    >>> few(["lid.nc", "rim.nc", "roof.nc"], 2)
    'lid.nc, rim.nc and 1 more'
    """
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return f"{', '.join(names[:most])}{more}"


def _lines(finding: Finding, widest: int) -> Iterator[str]:
    where = f" at {finding.place}" if finding.place else ""
    yield f"{finding.severity}: {finding.what}  [{finding.id} {finding.name}]{where}"
    if finding.place and finding.place.excerpt:
        yield from _excerpt(finding.place, widest)
    if finding.why:
        yield f"   why: {finding.why}"
    if finding.remedy:
        yield f"    do: {finding.remedy}"
    if finding.lowered:
        yield f"   but: lowered by the recipe: {finding.lowered}"


def _excerpt(place: Place, widest: int) -> Iterator[str]:
    """The line, no more than `widest` characters of it, and a caret under each character meant."""
    text = place.excerpt
    first = max(0, min(place.column - 1, len(text)))
    start = max(0, first - widest // 2) if len(text) > widest else 0
    shown = text[start : start + widest]
    lead = "…" if start else ""
    tail = "…" if start + widest < len(text) else ""
    gutter = f"{place.line:>6} | "
    yield f"{gutter}{lead}{''.join(_visible(c) for c in shown)}{tail}"
    before = sum(_width(c) for c in text[start:first]) + len(lead)
    length = max(1, min(place.length, start + len(shown) - first))
    under = sum(_width(c) for c in text[first : first + length]) or 1
    yield f"{' ' * (len(gutter) - 2)}| {' ' * before}{'^' * under}"


def _visible(character: str) -> str:
    if character == "\t":
        return " "
    return character if character.isprintable() else "�"


def _width(character: str) -> int:
    if unicodedata.combining(character):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1
