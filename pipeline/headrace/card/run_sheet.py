"""Run sheets as files: told from others by a mark in their last line, written whole or not at all.

The mark is a comment behind the page. It names the card files that the page tells of, with what
they held, and has the SHA-256 of all that comes before: so a page that is not as headrace wrote it
is known, and so is one that is older than the files beside it.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.card.delivery import Fate
from headrace.card.manifest import Manifest
from headrace.card.names import fitting
from headrace.card.paper import need_free, put
from headrace.card.writing import Content, in_plain_words
from headrace.errors import CardError
from headrace.findings import Finding, Severity
from headrace.findings.text import few

if TYPE_CHECKING:
    from headrace.machine import Card

ENDS = (".htm", ".html")
"""What the names of run sheets end in, capitals or not."""

_BEGIN, _END = b"\n<!-- headrace-sheet/1 ", b" -->\n"
_LARGEST = 1 << 28


@dataclass(frozen=True, slots=True)
class Mark:
    """What a run sheet says of itself: the card files that it tells of with what they hold, and
    whether it is still as it was written."""

    files: Mapping[str, Content]
    whole: bool


def marked(page: bytes, files: Mapping[str, Content]) -> bytes:
    """A page with its mark."""
    said = json.dumps(
        [{"name": name, "sha256": held.sha256, "size": held.size} for name, held in files.items()]
    ).encode("ascii")
    return page + _BEGIN + _digest(page, said) + b" " + said + _END


def mark_of(data: bytes) -> Mark | None:
    """The mark of a run sheet; None where it has none."""
    page, _, behind = data.rpartition(_BEGIN)
    mark, end, more = behind.partition(_END)
    digest, _, said = mark.partition(b" ")
    if not end:
        return None
    try:
        files = {item["name"]: Content(item["sha256"], item["size"]) for item in json.loads(said)}
    except (ValueError, KeyError, TypeError, RecursionError):
        return None
    return Mark(files, digest == _digest(page, said) and not more)


def read_mark(path: Path) -> Mark | None:
    """The mark of a plain file; None where that is no run sheet, or cannot be read."""
    with suppress(OSError):
        if path.is_file() and not path.is_symlink() and path.stat().st_size <= _LARGEST:
            return mark_of(path.read_bytes())
    return None


def _digest(page: bytes, said: bytes) -> bytes:
    return sha256(page + said).hexdigest().encode("ascii")


# --- writing ----------------------------------------------------------------------------------


def need_fit(path: Path, card: Path, rules: Card) -> None:
    """Raise CardError where a run sheet cannot be called so: `card` is the card folder, whose
    reader has `rules` for names."""
    need_free(path, _in_the_way)
    with in_plain_words(f"{path.parent} cannot be looked at"):
        beside = path.parent.resolve() == card.resolve()
    named = path.name if path.name.casefold().endswith(ENDS) else f"{path.stem}.html"
    wanted = fitting(named, rules) if beside else named
    if wanted != path.name:
        what, remedy = f"{path.name} is no name for a run sheet", f"call it {wanted}"
        if beside:
            what += " in this card folder"
            remedy += ", or name a file outside the card folder"
        raise CardError(findings=[Finding.of("sheet-name-unfit", what, remedy=remedy)])


def put_sheet(path: Path, page: bytes, files: Mapping[str, Content]) -> Fate:
    """Write a page, marked as telling of some card files; an earlier one gives way to it. Whoever
    calls holds the folder.

    Raises CardError, with all as it was, where that cannot be done.
    """
    return put(path, marked(page, files), _in_the_way)


def _in_the_way(path: Path) -> Iterator[Finding]:
    """What writing there would overwrite that is not ours."""
    mark = read_mark(path)
    if mark is None:
        what = f"{path} is there already and is no run sheet that headrace wrote"
        yield Finding.of("sheet-not-ours", what)
    elif not mark.whole:
        yield Finding.of("sheet-altered", f"{path} was changed after headrace wrote it")


# --- beside the card's files ------------------------------------------------------------------


def sheet_names(folder: Path) -> list[str]:
    """The files of a folder that are called as run sheets are, by name. CardError."""
    with in_plain_words(f"{folder} cannot be read"), os.scandir(folder) as entries:
        return sorted(entry.name for entry in entries if entry.name.casefold().endswith(ENDS))


def sheet_findings(folder: Path, names: Iterable[str], listed: Manifest) -> Iterator[Finding]:
    """What is wrong with the run sheets among files of a card folder, whose list is `listed`."""
    for name in names:
        mark = read_mark(folder / name)
        if mark is None:
            continue
        if not mark.whole:
            what = f"{name} on the card was changed after headrace wrote it"
            yield Finding.of("sheet-altered", what, severity=Severity.WARN)
        if said := _how_outdated(mark, listed):
            yield Finding.of("sheet-outdated", f"{name} on the card {' and '.join(said)}")


def _how_outdated(mark: Mark, listed: Manifest) -> list[str]:
    """In which ways a run sheet does not tell of the files of a list."""
    told = {name.casefold() for name in mark.files}
    held = {name: listed.get(name) for name in mark.files}
    older = [n for n, entry in held.items() if entry and entry.content != mark.files[n]]
    gone = [name for name, entry in held.items() if entry is None]
    new = [name for name in listed.order if name.casefold() not in told]
    said = []
    if older:
        said.append(f"is not of {few(older)} as {'it is' if len(older) == 1 else 'they are'} now")
    if gone:
        said.append(f"tells of {few(gone)}, which {'is' if len(gone) == 1 else 'are'} gone")
    if new:
        said.append(f"does not tell of {few(new)}")
    return said
