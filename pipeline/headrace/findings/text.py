"""Findings as text for a terminal: message, place, excerpt with a caret, why, what to do, and why
a recipe lowers it."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator

from headrace.findings.finding import Finding, Place

_WIDEST = 100


def render(finding: Finding) -> str:
    """The whole finding as lines of plain text, without a final newline."""
    return "\n".join(_lines(finding))


def _lines(finding: Finding) -> Iterator[str]:
    where = f" at {finding.place}" if finding.place else ""
    yield f"{finding.severity}: {finding.what}  [{finding.id} {finding.name}]{where}"
    if finding.place and finding.place.excerpt:
        yield from _excerpt(finding.place)
    if finding.why:
        yield f"   why: {finding.why}"
    if finding.remedy:
        yield f"    do: {finding.remedy}"
    if finding.lowered:
        yield f"   but: lowered by the recipe: {finding.lowered}"


def _excerpt(place: Place) -> Iterator[str]:
    """The line and, below it, a caret under each character meant."""
    text = place.excerpt
    first = max(0, min(place.column - 1, len(text)))
    start = max(0, first - _WIDEST // 2) if len(text) > _WIDEST else 0
    shown = text[start : start + _WIDEST]
    lead = "…" if start else ""
    tail = "…" if start + _WIDEST < len(text) else ""
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
