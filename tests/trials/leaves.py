"""A page as a tree, and a card file's pauses: a few lines that share nothing with headrace."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from xml.etree import ElementTree

_VOID = frozenset(
    ("area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track",
     "wbr")
)  # fmt: skip
"""Elements without an end (HTML, void elements)."""


class Tree(HTMLParser):
    """A page as a tree. ValueError where elements are not nested."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.root = ElementTree.Element("root")
        self._open = [self.root]
        self.feed(text)
        self.close()
        if len(self._open) > 1:
            raise ValueError(f"{self._open[-1].tag} is not closed")

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        made = ElementTree.SubElement(
            self._open[-1], tag, {name: value or "" for name, value in attrs}
        )
        if tag not in _VOID:
            self._open.append(made)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in _VOID:
            self._open.pop()

    def handle_endtag(self, tag: str) -> None:
        if self._open[-1].tag != tag:
            raise ValueError(f"</{tag}> where {self._open[-1].tag} is open, {self.getpos()}")
        self._open.pop()

    def handle_data(self, data: str) -> None:
        at = self._open[-1]
        if len(at):
            at[-1].tail = (at[-1].tail or "") + data
        else:
            at.text = (at.text or "") + data


def classes(element: ElementTree.Element) -> list[str]:
    return element.get("class", "").split()


def with_class(root: ElementTree.Element, name: str) -> Iterator[ElementTree.Element]:
    return (element for element in root.iter() if name in classes(element))


def text_of(element: ElementTree.Element) -> str:
    return "".join(element.itertext())


def pause_lines(data: bytes) -> dict[int, dict[str, list[str]]]:
    """Lines of a card file that have M0 or M1, counted from 1, each with the comments on the
    `same-line` and those on the line `before`."""
    found: dict[int, dict[str, list[str]]] = {}
    before: list[str] = []
    for number, line in enumerate(re.split(r"\r\n|\n|\r", data.decode("utf-8", "replace")), 1):
        own = re.findall(r"\(([^)]*)\)", line) + re.findall(r";(.*)", line)
        words = re.sub(r"\([^)]*\)|;.*|\s", "", line).upper()
        if re.search(r"M0*[01](?![0-9.])", words) and not words.startswith("/"):
            found[number] = {"same-line": own, "before": before}
        before = own
    return found


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)
