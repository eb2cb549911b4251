"""A kind of finding as text: what it means, why it matters, what to do, and its example."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from difflib import SequenceMatcher
from textwrap import wrap
from typing import TYPE_CHECKING

from headrace.findings import CATALOGUE, Kind, Severity

if TYPE_CHECKING:
    from headrace.findings.example import Example

_WIDTH = 78
_WIDEST = 100
_SHORT = 11
_AROUND = 2

AREAS = {
    "J": "a file as a job",
    "L": "the language",
    "R": "recipe, machine and set-up files",
    "M": "what a job does on the described machine",
    "P": "plugins and contracts",
    "C": "the card",
    "S": "the run sheet and times",
}
"""The areas of findings by the letter in their ids."""

_WEIGHTS = {
    Severity.REFUSE: "refused: not written to the card",
    Severity.WARN: "a warning: the file is written, look at it before you run it",
    Severity.NOTE: "a note: for information",
}


def listed() -> Iterator[str]:
    """All kinds by area, a line each: id, severity, name."""
    for letter, area in AREAS.items():
        kinds = [kind for kind in CATALOGUE.values() if kind.id[2] == letter]
        yield f"{area}:"
        for kind in sorted(kinds, key=lambda kind: kind.id):
            yield f"  {kind.id}  {kind.severity:<6}  {kind.name}"
        yield ""
    yield "`headrace explain NAME` tells all about one, with an example."


def explained(kind: Kind, example: Example, said: Sequence[str]) -> Iterator[str]:
    """Everything about one kind, in lines; `said` is what headrace says to the failing example."""
    yield f"{kind.id} {kind.name}"
    yield _WEIGHTS[kind.severity]
    yield ""
    yield from _filled(_sentence(example.meaning))
    yield ""
    yield from _filled(f"why: {kind.why}", "     ")
    yield from _filled(f"do:  {kind.remedy}", "     ")
    yield ""
    yield from _both(example)
    yield "Failing:"
    yield ""
    yield from _shown(example.failing, example.mended, example.shown[0])
    yield from _filled(f"  $ headrace {example.runs[0]}", "      ")
    for line in said:
        yield from [_cut(f"  {line}")] if _is_excerpt(line) else _filled(f"  {line}", "      ")
    yield ""
    yield "Mended:"
    yield ""
    yield from _shown(example.mended, example.failing, example.shown[1])
    if example.runs[1] != example.runs[0]:
        yield from _filled(f"  $ headrace {example.runs[1]}", "      ")
        yield ""
    if not example.situation:
        yield "The other files are the same in both. To have them all, and try it:"
        yield f"  $ headrace explain {kind.name} --to FOLDER"


def _both(example: Example) -> Iterator[str]:
    """What the workshops have in common and the base has not."""
    common = [
        name
        for name, content in example.failing.items()
        if example.mended.get(name) == content != example.base.get(name)
    ]
    if common:
        yield "In both:"
        yield ""
        for name in common:
            yield from _file(name, example.failing[name], example.base.get(name, b""), " ")


def _shown(here: Mapping[str, bytes], there: Mapping[str, bytes], words: str) -> Iterator[str]:
    """The files that the other workshop has not, or otherwise; or what happens, in words."""
    if words:
        yield from _filled(f"  {words}", "  ")
        yield ""
    for name, content in here.items():
        if there.get(name) != content:
            yield from _file(name, content, there.get(name, b""), ">")
    if gone := [name for name in there if name not in here]:
        yield from _filled(f"  without {', '.join(gone)}", "      ")
        yield ""


def _file(name: str, content: bytes, other: bytes, mark: str) -> Iterator[str]:
    """A file with a mark before each line that the other has not, and where it lacks some; of a
    long one no more than is around the marks."""
    lines, others = _lines(content), _lines(other)
    marked: set[int] = set()
    lacking: dict[int, int] = {}
    near = set(range(len(lines))) if len(lines) <= _SHORT else set[int]()
    for tag, first, last, start, stop in SequenceMatcher(None, others, lines, False).get_opcodes():
        if tag == "equal":
            continue
        marked.update(range(start, stop))
        if start == stop:
            lacking[start] = last - first
        near.update(range(start - _AROUND, max(stop, start + 1) + _AROUND))
    yield f"  {name}"
    for index, line in enumerate([*lines, None]):
        if index in lacking:
            count = lacking[index]
            yield f"  {mark}        ({count} line{'s' * (count > 1)} fewer here)"
        if line is not None and index in near:
            yield _cut(f"  {mark if index in marked else ' '}{index + 1:>4} | {line}".rstrip())
        elif line is not None and (index == 0 or index - 1 in near):
            yield "         ..."
    if not lines:
        yield "         (empty)"
    yield ""


def _lines(content: bytes) -> list[str]:
    """Lines as they can be shown: what is no text, or cannot be seen, as an escape."""
    text = content.decode("utf-8", "backslashreplace")
    lines = text.removesuffix("\n").split("\n") if text else []
    return ["".join(_visible(c) for c in line) for line in lines]


def _visible(character: str) -> str:
    if character.isprintable():
        return character
    return character.encode("unicode_escape").decode()


def _cut(line: str) -> str:
    return line if len(line) <= _WIDEST else f"{line[: _WIDEST - 1]}…"


def _is_excerpt(line: str) -> bool:
    return line[7:8] == "|"


def _sentence(text: str) -> str:
    return " ".join(text.split())


def _filled(text: str, indent: str = "") -> list[str]:
    """A text in lines; those behind the first begin with `indent`. Id and name stay together."""
    whole = re.sub(r"\[(HR[A-Z]\d+) ", "[\\1\u00a0", text)
    lines = wrap(
        whole, _WIDTH, subsequent_indent=indent, break_on_hyphens=False, break_long_words=False
    )
    return [line.replace("\u00a0", " ") for line in lines]
