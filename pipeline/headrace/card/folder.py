"""The card folder: held by one run at a time, looked over, and tidied after a run cut short."""

from __future__ import annotations

import errno
import os
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from headrace.card.manifest import LIST_NAME, Manifest, read_manifest
from headrace.card.room import LISTS, Room
from headrace.card.seen import Seen
from headrace.card.settling import settle
from headrace.card.writing import Content, in_plain_words, remove_leftovers
from headrace.errors import CardError
from headrace.findings import Finding


@dataclass(frozen=True, slots=True)
class CardFolder:
    """A card folder as a run finds it.

    `listed` is headrace's list, `standing` what is there: names, folded to one case, to paths.
    `contents` is what the files of the list held when the run began, by the same names.
    """

    path: Path
    listed: Manifest
    standing: dict[str, Path]
    findings: tuple[Finding, ...]
    contents: Mapping[str, Content] = field(default_factory=dict)
    seen: Seen = field(default_factory=Seen)

    def path_of(self, name: str) -> Path:
        """Where a file of this name stands or will stand.

        Raises CardError where that is no plain file, or a file whose name differs by capitals and
        that the file system does not take for the same.
        """
        wanted = self.path / name
        found = self.standing.get(name.casefold())
        if found is None:
            return wanted
        with in_plain_words(f"{found} cannot be looked at"):
            plain = found.is_file() and not found.is_symlink()
            same = found.name == name or (wanted.exists() and wanted.samefile(found))
        if not plain:
            what = f"{found.name} on the card is no plain file"
            raise CardError(findings=[Finding.of("card-not-a-file", what)])
        if not same:
            what = f"{found.name} on the card differs from {name} by capitals only"
            raise CardError(findings=[Finding.of("card-foreign-file", what)])
        return found

    def content_of(self, name: str) -> Content | None:
        """What stood under a name when the run began; None where nothing did. CardError."""
        path = self.path_of(name)
        return self.contents.get(name.casefold()) or self._read(path)

    def content_now(self, name: str) -> Content | None:
        """What stands under a name; None where nothing does. CardError."""
        return self._read(self.path_of(name))

    def _read(self, path: Path) -> Content | None:
        if path.name.casefold() not in self.standing:
            return None
        with in_plain_words(f"{path} cannot be read"):
            return self.seen.content_of(path)

    def need_room(self, names: Collection[str]) -> None:
        """Raise CardError where it is certain that no new file can be written.

        How long files will be is not known before they are prepared, nor whether those that are
        there already change at all. But a name that is not there yet takes a cluster at least,
        with another for each list, whatever becomes of the others.
        """
        new = [name for name in names if name.casefold() not in self.standing]
        if new:
            with in_plain_words(f"{self.path} cannot be looked at"):
                Room.of(self.path).need([1] * (1 + LISTS), self.path)


@contextmanager
def card_folder(
    path: Path, sources: Collection[Path], seen: Seen | None = None
) -> Iterator[CardFolder]:
    """Hold a card folder for one run.

    What an earlier run left unfinished is brought in order first, and what this one leaves
    unfinished is taken away at the end. What was `seen` by an earlier run of this process is not
    read again. Raises CardError where the folder is not there, is in use or holds one of the
    `sources`.
    """
    with in_plain_words(f"{path} cannot be looked at"):
        folder = _found(path, sources)
    with held(folder):
        with in_plain_words(f"{path} cannot be tidied"):
            removed = _in_order(folder)
        listed = read_manifest(folder / LIST_NAME)
        standing = _standing(folder)
        seen = seen or Seen()
        contents = _contents(listed, standing, seen)
        findings = (*map(_leftover, removed), *_changes(listed, standing, contents))
        try:
            yield CardFolder(folder, listed, standing, findings, contents, seen)
        finally:
            _in_order(folder, quietly=True)


def _found(path: Path, sources: Collection[Path]) -> Path:
    """The folder itself, also where a link leads to it. Raises OSError or CardError."""
    if not path.is_dir():
        what = f"{path} is no folder" if path.exists() else f"there is no folder {path}"
        raise CardError(findings=[Finding.of("card-missing", what)])
    folder = path.resolve()
    holding = {each for each in {source.parent for source in sources} if each.resolve() == folder}
    for source in sources:
        linked = source.is_symlink() and source.resolve().parent == folder
        if linked or source.parent in holding:
            what = f"{source} lies in {path}, which is to be the card folder"
            raise CardError(findings=[Finding.of("card-holds-sources", what)])
    return folder


def _in_order(folder: Path, quietly: bool = False) -> list[str]:
    """Settle, then take leftovers away. Quietly where another error is on its way already, or
    where the next run does the same anyway."""
    try:
        settle(folder)
        return remove_leftovers(folder)
    except (OSError, CardError):
        if not quietly:
            raise
        return []


@contextmanager
def held(folder: Path, reading: bool = False) -> Iterator[None]:
    """Keep other runs out; the system lets go by itself when the process ends. Those that are
    only `reading` do not keep each other out. Raises CardError where another run holds it."""
    try:
        import fcntl
    except ImportError:  # no such locks here: names opened exclusively must do
        yield
        return
    with in_plain_words(f"{folder} cannot be opened"):
        descriptor = os.open(folder, os.O_RDONLY)
    try:
        try:
            fcntl.flock(descriptor, (fcntl.LOCK_SH if reading else fcntl.LOCK_EX) | fcntl.LOCK_NB)
        except OSError as error:
            if error.errno in (errno.EAGAIN, errno.EACCES):
                what = f"another run of headrace is writing to {folder}"
                raise CardError(findings=[Finding.of("card-busy", what)]) from error
            # a file system without locks: go on as where there are none
        yield
    finally:
        with suppress(OSError):  # there is nothing more to lose
            os.close(descriptor)


def _standing(folder: Path) -> dict[str, Path]:
    """Everything in the folder by its name, folded to one case. CardError."""
    found: dict[str, Path] = {}
    with in_plain_words(f"{folder} cannot be read"):
        for path in sorted(folder.iterdir()):
            found.setdefault(path.name.casefold(), path)
    return found


def _leftover(name: str) -> Finding:
    return Finding.of("card-leftover", f"{name}, left by a run that was cut short, was taken away")


def _contents(listed: Manifest, standing: Mapping[str, Path], seen: Seen) -> dict[str, Content]:
    """What the files of the list hold, those that are plain files. CardError where the card gives
    something back that it cannot read: then it is no card to write to."""
    found = {}
    for entry in listed.entries:
        name = entry.name.casefold()
        path = standing.get(name)
        with in_plain_words(f"{path} cannot be read"):
            if path is not None and path.is_file() and not path.is_symlink():
                found[name] = seen.content_of(path)
    return found


def _changes(
    listed: Manifest, standing: Mapping[str, Path], contents: Mapping[str, Content]
) -> Iterator[Finding]:
    """What of the list is no longer so."""
    for entry in listed.entries:
        name = entry.name.casefold()
        found = contents.get(name)
        if found == entry.content:
            continue
        if name not in standing:
            yield Finding.of("card-file-gone", f"{entry.name} was no longer on the card")
            continue
        if found is None:
            what = f"{entry.name} on the card is no plain file any more"
        elif found.size != entry.content.size:
            what = f"{entry.name} on the card has not the {entry.content.size} bytes written to it"
        else:
            what = f"{entry.name} on the card holds other bytes than were written to it"
        yield Finding.of("card-file-altered", what)
