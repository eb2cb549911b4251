"""Verifying: does every file stand on the card as its list says? Nothing is written or taken away.

The list is the card's own, or that of the folder on the computer that the card was copied from.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from headrace.card.checked import Checked, State, Stranger
from headrace.card.discrepancies import discrepancies
from headrace.card.folder import held
from headrace.card.manifest import INTENDED_NAME, LIST_NAME, Entry, Manifest, read_manifest
from headrace.card.run_sheet import read_mark, sheet_findings, sheet_names
from headrace.card.writing import Content, content_of, in_plain_words, leftovers
from headrace.errors import CardError
from headrace.findings import Finding, Severity


@dataclass(frozen=True, slots=True)
class Verified:
    """How a card stands: the files of its list in run order, those of earlier runs behind them;
    strangers; and what a run that was cut short left, its unlisted new files with it."""

    files: tuple[Checked, ...]
    strangers: tuple[Stranger, ...]
    unfinished: tuple[str, ...]
    findings: tuple[Finding, ...]

    @property
    def ready(self) -> bool:
        """Whether every file is as written. Strangers do not count."""
        return all(finding.severity is not Severity.REFUSE for finding in self.findings)

    @property
    def exit_code(self) -> int:
        return 0 if self.ready else CardError.exit_code


def verify_card(path: Path, against: Path | None = None) -> Verified:
    """Compare a card folder with its list, or with the list at `against` or in that folder.

    Raises CardError where there is no such folder, a run is busy with it, or the list at `against`
    cannot be used. What is wrong with the card's own list is a finding.
    """
    with ExitStack() as kept:
        folder = _kept(path, kept)
        card = _looked_at(folder)
        own = folder / card.named(LIST_NAME)
        if against is None:
            try:
                listed = _list(own, path)
            except CardError as error:
                return Verified((), (), card.left, error.findings)
            return _compared(card, listed, None)
        theirs = _kept(against, kept) / LIST_NAME if against.is_dir() else against
        return _compared(card, _list(theirs, against), against)


@dataclass(frozen=True, slots=True)
class _Card:
    """Everything in a card folder by its name: the size of plain files (bytes), None for the rest;
    names by the same names folded to one case; and what an unfinished run left."""

    folder: Path
    standing: Mapping[str, int | None]
    folded: Mapping[str, str]
    left: tuple[str, ...]

    def named(self, name: str) -> str:
        """The name there of the file that is called so, capitals or not; the same for none."""
        return name if name in self.standing else self.folded.get(name.casefold(), name)

    def read(self, names: Iterable[str]) -> dict[str, Content]:
        """What plain files hold; those that cannot be read are left out."""
        contents = {}
        for name in names:
            if self.standing[name] is not None:
                try:
                    contents[name] = content_of(self.folder / name)
                except OSError:
                    continue
        return contents


def _kept(path: Path, kept: ExitStack) -> Path:
    """A folder, with no other run writing to it as long as `kept` lasts. CardError."""
    if not path.is_dir():
        what = f"{path} is no folder" if path.exists() else f"there is no folder {path}"
        raise CardError(findings=[Finding.of("card-missing", what)])
    folder = path.resolve()
    kept.enter_context(held(folder, reading=True))
    return folder


def _looked_at(folder: Path) -> _Card:
    with in_plain_words(f"{folder} cannot be read"), os.scandir(folder) as entries:
        standing = {
            entry.name: entry.stat().st_size if entry.is_file(follow_symlinks=False) else None
            for entry in sorted(entries, key=lambda entry: entry.name)
        }
    folded = {name.casefold(): name for name in standing}
    with in_plain_words(f"{folder} cannot be read"):
        left = tuple(found.name for found in leftovers(folder))
    return _Card(folder, standing, folded, left)


def _list(path: Path, where: Path) -> Manifest:
    """A list that names a file at least. CardError."""
    listed = read_manifest(path)
    if not listed.entries:
        there = path.exists()
        what = f"{path.name} in {where} names no file" if there else f"{where} has no {path.name}"
        raise CardError(findings=[Finding.of("card-list-missing", what)])
    return listed


def _compared(card: _Card, listed: Manifest, against: Path | None) -> Verified:
    comparison = _Comparison(card, listed)
    files = comparison.files()
    passed = {name for file in files if file.state is State.RENAMED for name in file.others}
    pages = [name for name in sheet_names(card.folder) if read_mark(card.folder / name)]
    fresh, strangers = comparison.others(passed.union(pages))
    unfinished = (*card.left, *fresh)
    findings = list(discrepancies(files, strangers, unfinished, against))
    findings += sheet_findings(card.folder, pages, listed)
    findings += _of_the_list(card, against)
    return Verified(files, strangers, unfinished, tuple(findings))


class _Comparison:
    """A card and a list, side by side."""

    def __init__(self, card: _Card, listed: Manifest) -> None:
        self.card = card
        self.listed = listed
        self.intended = _intended(card)
        self.found = {entry.name: card.named(entry.name) for entry in listed.entries}
        self.ours = {name for name in self.found.values() if name in card.standing}
        entries = (*listed.entries, *self.intended.entries)
        sizes = {entry.content.size for entry in entries}
        self.contents = card.read(
            name for name, size in card.standing.items() if name in self.ours or size in sizes
        )
        self.holders = _by_content(self.contents.items())
        self.wanted = _by_content((entry.name, entry.content) for entry in listed.entries)

    def files(self) -> tuple[Checked, ...]:
        """The files of the list, those of the last run first, in run order."""
        places = {name.casefold(): place for place, name in enumerate(self.listed.order)}
        last = len(places)
        entries = sorted(
            self.listed.entries,
            key=lambda entry: (places.get(entry.name.casefold(), last), entry.name),
        )
        return tuple(self._checked(entry) for entry in entries)

    def others(self, passed: set[str]) -> tuple[tuple[str, ...], tuple[Stranger, ...]]:
        """Files that an unfinished run has added to the card; and all that is no file of headrace's
        and not `passed` by."""
        passed = {*passed, *self.ours, *self.card.left, self.card.named(LIST_NAME)}
        extensions = {Path(entry.name).suffix.casefold() for entry in self.listed.entries}
        twins = {entry.name.casefold(): entry.name for entry in self.listed.entries}
        fresh, strangers = [], []
        for name in self.card.standing.keys() - passed:
            content = self.contents.get(name)
            if content is not None and self._intends(name, content):
                fresh.append(name)
                continue
            copy_of = () if content is None else self.wanted.get(content, ())
            listed = Path(name).suffix.casefold() in extensions
            listed = listed and self.card.standing[name] is not None
            strangers.append(Stranger(name, listed, tuple(copy_of), twins.get(name.casefold())))
        return tuple(sorted(fresh)), tuple(sorted(strangers, key=lambda other: other.name))

    def _intends(self, name: str, content: Content) -> bool:
        """Whether an unfinished run meant to write this."""
        entry = self.intended.get(name)
        return entry is not None and entry.content == content

    def _checked(self, entry: Entry) -> Checked:
        found, wanted = self.found[entry.name], entry.content
        elsewhere = tuple(name for name in self.holders.get(wanted, ()) if name not in self.ours)
        if found not in self.card.standing:
            if any(name in self.card.left for name in elsewhere):
                return Checked(entry, State.UNFINISHED)
            return Checked(entry, State.RENAMED if elsewhere else State.MISSING, others=elsewhere)
        if self.card.standing[found] is None:
            return Checked(entry, State.NO_FILE, found, others=elsewhere)
        content = self.contents.get(found)
        if content is None:
            return Checked(entry, State.UNREADABLE, found, others=elsewhere)
        if content == wanted:
            return Checked(entry, State.AS_WRITTEN, found, content)
        if self._intends(entry.name, content):
            return Checked(entry, State.UNFINISHED, found, content)
        if content in self.wanted:
            return self._mixed_up(entry, found, content)
        more = content.size - wanted.size
        state = State.LONGER if more > 0 else State.SHORTER if more < 0 else State.CHANGED
        return Checked(entry, state, found, content, elsewhere)

    def _mixed_up(self, entry: Entry, found: str, content: Content) -> Checked:
        """A file that holds the bytes of others on the list: swapped where one holds its own."""
        theirs = self.wanted[content]
        swapped = [name for name in theirs if self.contents.get(self.found[name]) == entry.content]
        if swapped:
            return Checked(entry, State.SWAPPED, found, content, tuple(swapped[:1]))
        return Checked(entry, State.MIXED_UP, found, content, tuple(theirs))


def _by_content(items: Iterable[tuple[str, Content]]) -> dict[Content, list[str]]:
    """Names by what they hold."""
    names: dict[Content, list[str]] = {}
    for name, content in items:
        names.setdefault(content, []).append(name)
    return names


def _intended(card: _Card) -> Manifest:
    """What an unfinished run meant the list to be; empty where nothing tells."""
    try:
        return read_manifest(card.folder / card.named(INTENDED_NAME))
    except CardError:
        return Manifest()


def _of_the_list(card: _Card, against: Path | None) -> Iterator[Finding]:
    """What is odd about the card's own list, as long as that keeps nobody from using it."""
    name = card.named(LIST_NAME)
    if name not in card.standing:
        return
    if name != LIST_NAME:
        yield Finding.of("card-name-capitals", f"{LIST_NAME} stands on the card as {name}")
    if against is not None:
        theirs = against / LIST_NAME if against.is_dir() else against
        with in_plain_words(f"{theirs} cannot be read"):
            if card.read([name]).get(name) != content_of(theirs):
                what = f"{name} on the card is another list than {theirs}"
                yield Finding.of("card-list-differs", what)
