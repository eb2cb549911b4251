"""Handing over: staged files get their names, one after the other, and the list comes last."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from headrace import __version__
from headrace.card.folder import CardFolder
from headrace.card.manifest import INTENDED_NAME, LIST_NAME, Entry, Manifest
from headrace.card.writing import Content, in_plain_words, stage, sync_folder
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


def deliver(folder: CardFolder, deliveries: Sequence[Delivery]) -> tuple[Fate, ...]:
    """Give every staged file its name, in this order, and write the list last.

    Nothing is touched unless everything may be. Raises CardError; one that comes after the first
    file has got its name says how far things went.
    """
    if not deliveries:
        return ()
    fates = _judged(folder, deliveries)
    intended = _intended(folder, [delivery.entry for delivery in deliveries])
    listed = folder.path / LIST_NAME
    if all(fate is Fate.UNCHANGED for fate in fates) and _holds(listed, intended):
        return fates
    staged_list = folder.path / INTENDED_NAME
    stage(staged_list, [intended], Content.of(intended))
    placed: list[str] = []
    try:
        with in_plain_words("the files could not be given their names"):
            sync_folder(folder.path)
            for delivery, fate in zip(deliveries, fates, strict=True):
                if fate is Fate.UNCHANGED or delivery.staged is None:
                    continue
                target = folder.path_of(delivery.entry.name)
                if fate is Fate.WRITTEN and os.path.lexists(target):
                    raise CardError(findings=[_foreign(target.name)])
                delivery.staged.replace(target)
                placed.append(delivery.entry.name)
            sync_folder(folder.path)
            staged_list.replace(listed)
            sync_folder(folder.path)
    except CardError as error:
        if not placed:
            raise
        raise CardError(findings=[*error.findings, _unfinished(placed, fates)]) from error
    return fates


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
    found = folder.content_of(entry.name)
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
    if known.source != entry.source:
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
    return entry.source if entry.source is not None else f"the card file of {entry.recipe}"


def _unfinished(placed: Sequence[str], fates: Sequence[Fate]) -> Finding:
    meant = sum(fate is not Fate.UNCHANGED for fate in fates)
    what = f"{len(placed)} of {meant} files are new on the card: {', '.join(placed)}"
    return Finding.of("card-unfinished", what)
