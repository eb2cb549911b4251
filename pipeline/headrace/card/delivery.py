"""Handing over: staged files get their names, one after the other, and the list comes last."""

from __future__ import annotations

import os
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from headrace import __version__
from headrace.card.exchange import give
from headrace.card.folder import CardFolder
from headrace.card.listing import Gaps
from headrace.card.manifest import INTENDED_NAME, LIST_NAME, Entry, Manifest
from headrace.card.placing import make_last, put_list, replace
from headrace.card.room import LISTS, Room
from headrace.card.writing import (
    Content,
    aside_path,
    content_of,
    differs,
    in_plain_words,
    remove_leftovers,
    stage,
    sync_folder,
)
from headrace.errors import CardError
from headrace.findings import Finding


class Fate(StrEnum):
    """What became of a file on the card."""

    WRITTEN = "written"
    REPLACED = "replaced"
    UNCHANGED = "unchanged"


@dataclass(frozen=True, slots=True)
class Delivery:
    """A file on its way: its entry in the list, and where it is staged (None: not at all, as the
    card holds it already)."""

    entry: Entry
    staged: Path | None


def deliver(
    folder: CardFolder, deliveries: Sequence[Delivery], in_turn: bool = False
) -> tuple[Fate, ...]:
    """Give every staged file its name, in this order, and write the list last. With `in_turn` new
    files come to lie in the folder in this order too, behind what is there, where it keeps one.

    Nothing is touched unless everything may be. Raises CardError; one that comes after the first
    file has got its name says how far things went.
    """
    if not deliveries:
        return ()
    fates = _judged(folder, deliveries)
    intended = _intended(folder, [delivery.entry for delivery in deliveries])
    if all(fate is Fate.UNCHANGED for fate in fates) and _holds(folder.path / LIST_NAME, intended):
        return fates
    due = [
        _Due(delivery.entry, delivery.staged, folder.path_of(delivery.entry.name), fate)
        for delivery, fate in zip(deliveries, fates, strict=True)
        if fate is not Fate.UNCHANGED and delivery.staged is not None
    ]
    with in_plain_words(f"{folder.path} cannot be tidied"):
        remove_leftovers(folder.path, but={file.staged for file in due})
    with in_plain_words(f"{folder.path} cannot be looked at"):
        Room.of(folder.path).need([len(intended)] * LISTS, folder.path)
    stage(folder.path / INTENDED_NAME, [intended], Content.of(intended))
    named: list[str] = []
    try:
        with in_plain_words("the files could not be given their names"):
            sync_folder(folder.path)
            gaps = Gaps(folder.path)
            for file in due:
                if in_turn and file.fate is Fate.WRITTEN:
                    gaps.fill()
                file.take_name()
                named.append(file.entry.name)
            make_last(folder.path, [path for file in due for path in (file.target, file.staged)])
            for file in due:
                if not file.stands():
                    named.remove(file.entry.name)
                    file.lose_name()
                    raise CardError(findings=[differs(file.target.name)])
            put_list(folder.path, intended)
    except CardError as error:
        if not named:
            raise
        raise CardError(findings=[*error.findings, _so_far(named, len(due))]) from error
    with suppress(OSError):  # the next run takes them away else
        remove_leftovers(folder.path)
    return fates


@dataclass(frozen=True, slots=True)
class _Due:
    """A file that is to get its name."""

    entry: Entry
    staged: Path
    target: Path
    fate: Fate

    def take_name(self) -> None:
        """OSError, or CardError where something has the name that was free before."""
        if self.fate is Fate.REPLACED:
            replace(self.staged, self.target, aside_path(self.staged))
            return
        try:
            give(self.staged, self.target)
        except FileExistsError as error:
            raise CardError(findings=[_foreign(self.target.name)]) from error

    def stands(self) -> bool:
        """Whether its bytes are there under its name. OSError."""
        return self.target.is_file() and content_of(self.target) == self.entry.content

    def lose_name(self) -> None:
        """Take the name from wrong bytes; what it was taken from gets it back behind the run.
        OSError."""
        aside = aside_path(self.staged)
        if os.path.lexists(self.target):
            give(self.target, self.staged if os.path.lexists(aside) else aside)


def _judged(folder: CardFolder, deliveries: Sequence[Delivery]) -> tuple[Fate, ...]:
    """What is to become of each file. Raises CardError with all that stands in the way."""
    fates = []
    faults: list[Finding] = []
    for delivery in deliveries:
        try:
            fates.append(_fate(folder, delivery.entry))
        except CardError as error:
            faults.extend(error.findings)
    if faults:
        raise CardError(findings=faults)
    return tuple(fates)


def _fate(folder: CardFolder, entry: Entry) -> Fate:
    found = folder.content_now(entry.name)
    if found is None:
        return Fate.WRITTEN
    if found == entry.content:
        return Fate.UNCHANGED
    known = folder.listed.get(entry.name)
    if known is None:
        raise CardError(findings=[_foreign(entry.name)])
    if known.content != found:
        what = f"{entry.name} on the card was changed after headrace wrote it"
        raise CardError(findings=[Finding.of("card-changed-file", what)])
    if (known.source, known.job) != (entry.source, entry.job):
        what = f"{entry.name} on the card was made from {_origin(known)}, not {_origin(entry)}"
        raise CardError(findings=[Finding.of("card-name-taken", what)])
    return Fate.REPLACED


def _intended(folder: CardFolder, entries: Sequence[Entry]) -> bytes:
    """The list as it will be: files that are gone leave it, others stay, these are new."""
    still = tuple(
        entry for entry in folder.listed.entries if entry.name.casefold() in folder.standing
    )
    order = tuple(entry.name for entry in entries)
    return Manifest(still).with_entries(entries, order).to_bytes(__version__)


def _holds(path: Path, data: bytes) -> bool:
    with in_plain_words(f"{path} cannot be read"):
        return path.is_file() and path.read_bytes() == data


def _foreign(name: str) -> Finding:
    what = f"{name} is on the card already and was not written by headrace"
    return Finding.of("card-foreign-file", what)


def _origin(entry: Entry) -> str:
    """What a file was made from, in words."""
    if entry.source is None:
        return f"the card file of {entry.recipe}"
    return entry.source if entry.piece is None else f"{entry.source} (a part of {entry.job})"


def _so_far(named: Sequence[str], meant: int) -> Finding:
    """How far things went when the card failed."""
    if len(named) == meant:
        what = f"in place on the card, but whether it lasts is not confirmed: {', '.join(named)}"
        return Finding.of("card-unconfirmed", what)
    what = f"{len(named)} of {meant} files are new on the card: {', '.join(named)}"
    return Finding.of("card-unfinished", what)
