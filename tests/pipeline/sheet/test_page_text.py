"""Whatever people write into names, titles and comments stays text, and can be read as it is."""

from __future__ import annotations

import unicodedata
from dataclasses import fields, is_dataclass, replace
from enum import Enum
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from workshop.markup import Element, parsed
from workshop.sheets import SHEET

from headrace.findings import Finding
from headrace.picture.drawing import Drawing
from headrace.sheet.page import page

TEXTS = st.text(st.characters(codec=None, exclude_categories=()), min_size=1, max_size=30)
HOSTILE = [
    "<script>alert(1)</script>",
    "</script><img src=x onerror=alert(1)>",
    "</title></style><!-- <bdi>",
    "\"'><input autofocus onfocus=alert(1)>",
    "&lt;b&gt; &amp;amp; &#x202e;",
    "{{ sheet.title }} {% include 'page.html' %} {# no #}",
    "lid\u202egnp.exe\u2066\u200f",
    "LID\x00\x07\x1b[31m\x7f\x85\r\n\t",
    "\ud800lone \udfff",
    "x" * 300,
    "\N{HEBREW LETTER ALEF}\N{HEBREW LETTER BET} 12.5",
    "javascript:alert(1)",
]
TRUSTED = {"svg", "view", "track", "sha256", "severity"}
"""What headrace itself made: not text of people."""


def filled(value: Any, text: str) -> Any:
    """The same facts, with this text in place of every text that people may have written."""
    if is_dataclass(value) and not isinstance(value, type):
        changed = {}
        for each in fields(value):
            inner = getattr(value, each.name)
            if each.name in TRUSTED or (isinstance(value, Finding) and each.name == "name"):
                continue
            changed[each.name] = filled(inner, text)
        return replace(value, **changed)
    if isinstance(value, tuple):
        return tuple(filled(part, text) for part in value)
    if isinstance(value, Enum):
        return value
    return text if isinstance(value, str) else value


def shape(element: Element) -> list[Any]:
    """Tags and attributes without what a text may change: their titles."""
    given = sorted(element.attributes.items())
    if element.tag == "meta":
        given = [(name, value) for name, value in given if name != "content"]
    parts = [shape(part) for part in element.inside if isinstance(part, Element)]
    return [element.tag, given, *parts]


def visible(text: str) -> str:
    """As the page tells it, by Unicode's own categories (the Unicode Standard, 4.5): C* and Z*, but
    for the blank, are told by their numbers."""
    odd = ("C", "Z")
    return "".join(
        f"‹U+{ord(c):04X}›" if unicodedata.category(c)[0] in odd and c != " " else c for c in text
    )


HARMLESS = shape(parsed(page(filled(SHEET, "lid"))))


@settings(max_examples=60)
@given(TEXTS)
@example("lid")
def test_text_stays_text(text: str) -> None:
    told = page(filled(SHEET, text))
    tree = parsed(told)

    assert shape(tree) == HARMLESS
    assert tree.one("h1").text == visible(text)


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_text_stays_text(text: str) -> None:
    tree = parsed(page(filled(SHEET, text)))

    assert shape(tree) == HARMLESS
    assert tree.one("h1").text == visible(text)
    assert tree.one("head").one("title").text == f"Run sheet: {visible(text)}"
    first = next(each for each in tree.all("pre"))
    assert first.text == visible(text)


def test_nothing_turns_the_direction_or_hides() -> None:
    """Bidirectional controls and their kin (UAX #9, 2; UTS #39) never reach the page's text."""
    odd = "".join(
        map(chr, [*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200B, 0x200E, 0xFEFF])
    )
    text = page(filled(SHEET, f"lid{odd}")).decode()

    assert not set(odd) & set(text)
    assert "lid‹U+202A›‹U+202B›" in text


def test_free_text_is_set_apart_in_its_direction() -> None:
    """Each in its own `bdi` (HTML Standard, 4.5.24), or in a line that runs to the right."""
    word = "\N{HEBREW LETTER ALEF}"
    tree = parsed(page(filled(SHEET, word)))

    def look(element: Element, apart: bool) -> None:
        apart = apart or element.tag in {"bdi", "title"} or "dir" in element.attributes
        for part in element.inside:
            if isinstance(part, Element):
                look(part, apart)
            else:
                assert apart or word not in part, element

    look(tree, False)


def test_pictures_come_as_they_are_made() -> None:
    drawing = Drawing("top", "t", "t", 5, 180, 60, "<svg><title>a &lt; b</title></svg>")
    told = page(replace(SHEET, bedding=drawing)).decode()

    assert drawing.svg in told


def test_what_is_no_text_and_no_number_is_refused() -> None:
    broken = replace(SHEET, title=None)  # type: ignore[arg-type]

    with pytest.raises(TypeError, match="None is nothing to write on a page"):
        page(broken)
