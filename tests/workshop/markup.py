"""An HTML page taken apart by Python's own parser: a tree of elements, and whether they close."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

_NAMES = "area base br col embed hr img input link meta param source track wbr"
VOID = frozenset(_NAMES.split())
"""Elements that have no end tag (HTML Standard, 13.1.2)."""

UNSEEN = frozenset(("script", "style", "title", "head"))
RUNNING = frozenset(("a", "b", "bdi", "code", "mark", "span", "strong"))
"""Elements that stand in a line of text; around all others a person sees a gap."""


@dataclass
class Element:
    """A tag, its attributes, and what is in it: elements and text in turn."""

    tag: str
    attributes: dict[str, str]
    inside: list[Element | str] = field(default_factory=list)

    def all(self, *tags: str) -> Iterator[Element]:
        """This one and all in it, in order; those of these tags only."""
        if not tags or self.tag in tags:
            yield self
        for part in self.inside:
            if isinstance(part, Element):
                yield from part.all(*tags)

    def one(self, tag: str) -> Element:
        """The only one of this tag."""
        (found,) = self.all(tag)
        return found

    @property
    def text(self) -> str:
        """All the text in it, with blanks as they stand."""
        return "".join(part if isinstance(part, str) else part.text for part in self.inside)

    @property
    def read(self) -> str:
        """What a person reads of it: single blanks, without scripts, styles and titles."""
        return " ".join("".join(self._seen()).split())

    def _seen(self) -> Iterator[str]:
        for part in self.inside:
            if isinstance(part, str):
                yield part
            elif part.tag not in UNSEEN:
                gap = "" if part.tag in RUNNING else " "
                yield gap
                yield from part._seen()
                yield gap


class _Builder(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open = [Element("", {})]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(set(names)) == len(names), f"an attribute of <{tag}> stands there twice"
        element = Element(tag, {name: value or "" for name, value in attrs})
        self.open[-1].inside.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        element = self.open.pop()
        assert element.tag == tag, f"</{tag}> closes <{element.tag}>"

    def handle_data(self, data: str) -> None:
        self.open[-1].inside.append(data)

    def handle_comment(self, data: str) -> None:
        raise AssertionError(f"a comment: {data!r}")


def parsed(page: bytes) -> Element:
    """The page as a tree; AssertionError where an element is not closed, or twice."""
    builder = _Builder()
    builder.feed(page.decode("utf-8"))
    builder.close()
    assert len(builder.open) == 1, f"<{builder.open[-1].tag}> is not closed"
    return builder.open[0]


_FETCHING = (
    "src srcset href xlink:href action formaction data poster background cite manifest ping profile"
    " usemap longdesc imagesrcset archive"
)
FETCHING = frozenset(_FETCHING.split())
"""Attributes that hold an address (HTML Standard, index of attributes; SVG 2, 16.1)."""
LOADING = frozenset(("link", "base", "iframe", "object", "embed", "img", "image", "video", "audio"))
_ADDRESS = re.compile(r"url\(\s*[\"']?(.)")


def outside(tree: Element) -> list[str]:
    """What in a page leads out of it, or runs beside its own scripts."""
    found = []
    for element in tree.all():
        if element.tag in LOADING:
            found.append(f"<{element.tag}>")
        for name, value in element.attributes.items():
            wrong = name.startswith("on") or (name in FETCHING and not value.startswith("#"))
            if wrong or set(_ADDRESS.findall(value)) - {"#"}:
                found.append(f"<{element.tag} {name}={value!r}>")
        if element.tag == "style":
            found += ["@import"] * element.text.count("@import")
            found += [f"url({first}" for first in _ADDRESS.findall(element.text) if first != "#"]
    return found


def dangling(tree: Element) -> list[str]:
    """Names that stand in a page twice, and references to names that do not."""
    elements = list(tree.all())
    ids = [each.attributes["id"] for each in elements if "id" in each.attributes]
    found = [name for name in ids if ids.count(name) > 1]
    for each in elements:
        given = each.attributes
        meant = given.get("aria-labelledby", "").split() + given.get("aria-describedby", "").split()
        meant += [given.get("for", ""), given.get("data-track-id", "")]
        meant += [given.get(name, "#")[1:] for name in ("href", "xlink:href")]
        for value in given.values():
            meant += re.findall(r"url\(\s*[\"']?#([^\"')]*)", value)
        found += [name for name in meant if name and name not in ids]
    return found
