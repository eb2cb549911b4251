"""The card folder: held by one run at a time, looked over, and tidied after a run cut short."""

from __future__ import annotations

import errno
import os
from collections.abc import Collection, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from headrace import __version__
from headrace.card.manifest import INTENDED_NAME, LIST_NAME, Manifest, read_manifest
from headrace.card.names import STAGED_EXTENSION
from headrace.card.writing import (
    Content,
    content_of,
    in_plain_words,
    remove_leftovers,
    stage,
    sync_folder,
)
from headrace.errors import CardError
from headrace.findings import Finding

_NEXT_NAME = f"HR_NEXT.{STAGED_EXTENSION}"


@dataclass(frozen=True, slots=True)
class CardFolder:
    """A card folder as a run finds it.

    `listed` is headrace's list, `standing` what is there: names, folded to one case, to paths.
    """

    path: Path
    listed: Manifest
    standing: dict[str, Path]
    findings: tuple[Finding, ...]

    def path_of(self, name: str) -> Path:
        """Where a file of this name stands or will stand.

        Raises CardError where that is no plain file, or a file whose name differs by capitals and
        that the file system does not take for the same.
        """
        wanted = self.path / name
        found = self.standing.get(name.casefold())
        if found is None:
            return wanted
        if found.is_symlink() or not found.is_file():
            what = f"{found.name} on the card is no plain file"
            raise CardError(findings=[Finding.of("card-not-a-file", what)])
        if found.name != name and not (wanted.exists() and wanted.samefile(found)):
            what = f"{found.name} on the card differs from {name} by capitals only"
            raise CardError(findings=[Finding.of("card-foreign-file", what)])
        return found

    def content_of(self, name: str) -> Content | None:
        """What stands under a name; None where nothing does."""
        path = self.path_of(name)
        if name.casefold() not in self.standing:
            return None
        with in_plain_words(f"{path} cannot be read"):
            return content_of(path)


@contextmanager
def card_folder(path: Path, sources: Collection[Path]) -> Iterator[CardFolder]:
    """Hold a card folder for one run.

    What an earlier run left unfinished is brought in order first, and what this one leaves
    unfinished is taken away at the end. Raises CardError where the folder is not there, is in use
    or holds one of the `sources`.
    """
    if not path.is_dir():
        what = f"{path} is no folder" if path.exists() else f"there is no folder {path}"
        raise CardError(findings=[Finding.of("card-missing", what)])
    folder = path.resolve()
    for source in sources:
        if source.resolve().parent == folder or source.parent.resolve() == folder:
            what = f"{source} lies in {path}, which is to be the card folder"
            raise CardError(findings=[Finding.of("card-holds-sources", what)])
    with _held(folder):
        with in_plain_words(f"{path} cannot be tidied"):
            removed = _in_order(folder)
        listed = read_manifest(folder / LIST_NAME)
        findings = [_leftover(name) for name in removed]
        standing = _standing(folder)
        findings += _changes(listed, standing)
        try:
            yield CardFolder(folder, listed, standing, tuple(findings))
        finally:
            _in_order(folder, quietly=True)


def settle(folder: Path) -> None:
    """Bring the list up to date with files that got their name in a run that was cut short.

    The list that such a run meant to write holds for the files that stand there as it says.
    Raises OSError or CardError.
    """
    try:
        intended = read_manifest(folder / INTENDED_NAME)
    except CardError:
        return  # cut short while it was written: no file has got its name yet
    if not intended.entries:
        return
    listed = read_manifest(folder / LIST_NAME)
    standing = _standing(folder)
    placed = [
        entry
        for entry in intended.entries
        if (path := standing.get(entry.name.casefold())) is not None
        and path.is_file()
        and content_of(path) == entry.content
    ]
    if all(listed.get(entry.name) == entry for entry in placed):
        return
    settled = listed.with_entries(placed, listed.order).to_bytes(__version__)
    staged = folder / _NEXT_NAME
    stage(staged, [settled], Content.of(settled))
    staged.replace(folder / LIST_NAME)
    sync_folder(folder)


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
def _held(folder: Path) -> Iterator[None]:
    """Keep other runs out; the system lets go by itself when the process ends."""
    try:
        import fcntl
    except ImportError:  # no such locks here: names opened exclusively must do
        yield
        return
    with in_plain_words(f"{folder} cannot be opened"):
        descriptor = os.open(folder, os.O_RDONLY)
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
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


def _changes(listed: Manifest, standing: dict[str, Path]) -> Iterator[Finding]:
    """What of the list is no longer so, as far as names and sizes tell."""
    for entry in listed.entries:
        path = standing.get(entry.name.casefold())
        if path is None:
            yield Finding.of("card-file-gone", f"{entry.name} is no longer on the card")
            continue
        try:
            size = path.stat().st_size
        except OSError:
            size = -1
        if size != entry.content.size:
            what = f"{entry.name} on the card has not the {entry.content.size} bytes written to it"
            yield Finding.of("card-file-altered", what)
