"""YAML documents as nodes with places.

The nodes are built from the reader's events, one after the other, so that depth, number and
aliases are bounded before anything grows, and every value is read by our own rules.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from headrace.errors import RecipeError
from headrace.findings import Finding, Place
from headrace.recipe.node import Entry, Items, Leaf, Node, Table
from headrace.recipe.scalar import Doubt, read_plain
from headrace.recipe.source_text import SourceText, decoded, has_unseen, read_source
from headrace.recipe.yaml_fault import yaml_fault

if TYPE_CHECKING:
    from yaml.events import Event, NodeEvent

MOST_DEPTH = 32
MOST_VALUES = 10_000
MOST_BLANKS = 20
"""Blanks told of one file; what comes after is not looked at."""


@dataclass(frozen=True, slots=True)
class Document:
    """One YAML file, read: where it is, what it holds, its lines."""

    path: Path
    root: Node
    lines: tuple[str, ...]


def read_document(path: Path) -> Document:
    """Read a YAML file. RecipeError says what is wrong, where, and what to do."""
    return _document(path, read_source(path))


def parse_document(data: bytes, path: Path) -> Document:
    """The same from bytes; `path` only names them."""
    return _document(path, decoded(data, str(path)))


def parse_node(source: SourceText) -> Node:
    """The nodes of a checked text. RecipeError says what is wrong, where, and what to do."""
    return _Builder(source).run()


def _document(path: Path, source: SourceText) -> Document:
    return Document(path, parse_node(source), source.lines)


def _events(text: str) -> Iterator[Event]:
    import yaml

    # The reader in C gives the same events several times faster; not every build has it.
    loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    return yaml.parse(text, Loader=loader)


@dataclass(slots=True)
class _Open:
    """A mapping or a list that is still being read."""

    place: Place
    is_table: bool
    entries: dict[str, Entry] = field(default_factory=dict)
    items: list[Node] = field(default_factory=list)
    key: tuple[str, Place] | None = None

    @property
    def wants_key(self) -> bool:
        return self.is_table and self.key is None

    def add(self, node: Node) -> None:
        if self.key is not None:
            text, place = self.key
            self.entries[text] = Entry(place, node)
            self.key = None
        else:
            self.items.append(node)

    def close(self) -> Node:
        if self.is_table:
            return Table(self.entries, self.place)
        return Items(tuple(self.items), self.place)


class _Builder:
    """Events in, one node out."""

    def __init__(self, source: SourceText) -> None:
        self._source = source
        self._open: list[_Open] = []
        self._values = 0
        self._root: Node | None = None
        self._blank: list[Finding] = []

    def run(self) -> Node:
        import yaml

        try:
            for event in _events(self._source.text):
                self._read(event)
        except (yaml.YAMLError, ValueError) as error:
            fault = yaml_fault(error, self._source, self._opened())
            raise RecipeError(findings=[fault]) from None
        if self._blank:
            raise RecipeError(findings=self._blank)
        if self._root is None:
            refuse("recipe-empty", f"{self._source.file} is empty", self._source.place(0, 0))
        return self._root

    def _read(self, event: Event) -> None:
        from yaml import events as kind

        match event:
            case kind.ScalarEvent():
                self._scalar(event)
            case kind.MappingStartEvent() | kind.SequenceStartEvent():
                self._begin(event, isinstance(event, kind.MappingStartEvent))
            case kind.MappingEndEvent() | kind.SequenceEndEvent():
                self._add(self._open.pop().close())
            case kind.AliasEvent():
                what = f"`*{event.anchor}` repeats a value from elsewhere"
                refuse("recipe-alias", what, self._place(event))
            case kind.DocumentStartEvent():
                self._begin_document(event)

    def _opened(self) -> Place | None:
        """Where the innermost bracket opens that is still open."""
        for level in reversed(self._open):
            if level.place.excerpt[level.place.column - 1 :][:1] in ("[", "{"):
                return level.place
        return None

    def _begin_document(self, event: Any) -> None:
        if self._root is not None:
            what = "a second document begins here"
            refuse("recipe-documents", what, self._place(event))
        # One of the readers leaves out directives that it does not know, so the lines are asked.
        for number, line in enumerate(self._source.lines[: event.start_mark.line + 1]):
            if line.startswith("%"):
                place = self._source.place(number, 0, len(line))
                refuse("recipe-tag", "a directive stands before the document", place)

    def _begin(self, event: Any, is_table: bool) -> None:
        place = self._admit(event)
        if self._open and self._open[-1].wants_key:
            refuse("recipe-key", "a list or a mapping cannot be a key", place)
        if len(self._open) == MOST_DEPTH:
            refuse("recipe-too-deep", f"more than {MOST_DEPTH} levels of nesting", place)
        self._open.append(_Open(place, is_table))

    def _scalar(self, event: Any) -> None:
        place = self._admit(event)
        text: str = event.value
        if has_unseen(text):
            refuse("recipe-character", "an escape makes a character that cannot be seen", place)
        is_plain = event.style is None or event.style == ""
        if self._open and self._open[-1].wants_key:
            self._open[-1].key = (self._key(text, is_plain, place), place)
        elif not is_plain:
            self._add(Leaf(text, place))
        elif event.end_mark.line > event.start_mark.line and text:
            self._several_lines(event.start_mark.line)
        elif not text:
            self._no_value(place)
        else:
            value = read_plain(text)
            if isinstance(value, Doubt):
                what = f"`{_short(text)}` is {value.what}"
                refuse(value.name, what, place, value.remedy)
            self._add(Leaf(value, place))

    def _key(self, text: str, is_plain: bool, place: Place) -> str:
        if is_plain and text == "<<":
            refuse("recipe-merge-key", "`<<` takes keys over from elsewhere", place)
        if is_plain and not text:
            refuse("recipe-key", "a key is missing before the `:`", place)
        if is_plain and not isinstance(read_plain(text), str):
            refuse("recipe-key", f"the key `{_short(text)}` is not certainly text", place)
        if (first := self._open[-1].entries.get(text)) is not None:
            what = f"`{_short(text)}` is here for the second time; the first is in line"
            refuse("recipe-duplicate-key", f"{what} {first.key.line}", place)
        return text

    def _several_lines(self, line: int) -> NoReturn:
        """Shown is the second line, since that one is probably not meant to go on with the text."""
        line += 1
        while not (text := self._source.lines[line]).strip():
            line += 1
        place = self._source.place(line, len(text) - len(text.lstrip()), len(text.strip()))
        refuse("recipe-several-lines", "this line goes on with the text of the line above", place)

    def _no_value(self, place: Place) -> None:
        """Blanks are told all at once, where nothing else is wrong: a form that waits to be filled
        in has many."""
        if not self._open:
            refuse("recipe-empty", f"{self._source.file} says nothing", place)
        keys = [level.key for level in self._open if level.key is not None]
        if self._open[-1].key is None:
            what, remedy = "an item of the list is empty", "write the item"
            self._blank.append(Finding.of("recipe-no-value", what, place, remedy=remedy))
        else:
            what = f"`{_short('.'.join(text for text, _ in keys))}` has no value"
            self._blank.append(Finding.of("recipe-no-value", what, keys[-1][1]))
        if len(self._blank) == MOST_BLANKS:
            raise RecipeError(findings=self._blank)
        self._add(Leaf(None, place))

    def _add(self, node: Node) -> None:
        if self._open:
            self._open[-1].add(node)
        else:
            self._root = node

    def _admit(self, event: NodeEvent) -> Place:
        """What every value must pass before it is looked at."""
        place = self._place(event)
        if event.anchor is not None:
            what = f"`&{event.anchor}` marks a value to be repeated"
            refuse("recipe-alias", what, place)
        if getattr(event, "tag", None) is not None:
            tag = place.excerpt[place.column - 1 :].split()[0]
            refuse("recipe-tag", f"`{_short(tag)}` states how to read a value", place)
        self._values += 1
        if self._values > MOST_VALUES:
            refuse("recipe-too-large", f"more than {MOST_VALUES:,} values", place)
        indentation = place.excerpt[: place.column - 1]
        if "\t" in indentation and not indentation.strip():
            column = indentation.index("\t")
            tab = self._source.place(place.line - 1, column)
            refuse("recipe-tab", "a tab stands where a line is indented", tab)
        return place

    def _place(self, event: Any) -> Place:
        start, end = event.start_mark, event.end_mark
        whole = len(self._source.lines[min(start.line, len(self._source.lines) - 1)])
        length = (end.column if end.line == start.line else whole) - start.column
        return self._source.place(start.line, start.column, length)


def _short(text: str) -> str:
    return text if len(text) <= 40 else f"{text[:39]}…"


def refuse(name: str, what: str, place: Place, remedy: str | None = None) -> NoReturn:
    """Raise RecipeError with one finding."""
    raise RecipeError(findings=[Finding.of(name, what, place, remedy=remedy)])
