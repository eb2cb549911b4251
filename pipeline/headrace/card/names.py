"""File names for the card, by the rules of the machine's card reader.

Short names are eight characters and an extension of three, as every FAT directory holds them
(FAT32 File System Specification 1.03, "FAT Directory Structure"). Long names are letters, digits,
point, underscore and dash, 64 characters at the most with their extension.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from headrace.errors import CardError
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.machine.description import Card

LIST_STEM = "HEADRACE"
"""The name of headrace's own list on the card; no job gets it."""

STAGED_EXTENSION = "HRT"
"""The extension of files that are not finished yet."""

_SHORT = 8
_LONG = 64
_DEVICES = frozenset(
    ["CON", "PRN", "AUX", "NUL", *(f"{port}{n}" for port in ("COM", "LPT") for n in range(10))]
)
_NOT_SHORT = re.compile(r"[^A-Z0-9_-]+")
_NOT_LONG = re.compile(r"[^A-Za-z0-9._-]+")
_PLAIN = str.maketrans(
    {"ß": "ss", "æ": "ae", "Æ": "AE", "ø": "o", "Ø": "O", "œ": "oe", "Œ": "OE", "ð": "d",
     "Ð": "D", "þ": "th", "Þ": "TH", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ı": "i", "ħ": "h",
     "Ħ": "H", "ŋ": "n", "Ŋ": "N"}
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Naming:
    """What a file is called on the card. `changed` tells that its own name would not do."""

    source: str
    name: str
    changed: bool


def card_names(card_files: Sequence[str], jobs: Sequence[str], rules: Card) -> tuple[Naming, ...]:
    """Names in run order: the recipe's card files as they stand there, then the jobs by name.

    No two are equal, also where capitals do not count; of jobs that would share a name all but
    the first get a number. Files that are counted (`lid-1`, `lid-2`) keep their counts, and are cut
    and numbered together. Raises CardError for an extension that no card can hold.
    """
    extension = _extension(rules)
    limit = _SHORT if rules.names == "short" else _LONG - len(extension) - 1
    taken = {LIST_STEM.casefold()}
    wanted = [(source, source, "") for source in card_files]
    wanted += [(source, *_counted(_own_stem(source))) for source in sorted(jobs)]
    families: dict[str, list[int]] = {}
    for number, (source, own, count) in enumerate(wanted):
        at = source.rfind(own + count) + len(own)
        family = source[:at] + "-" + source[at + len(count) :] if count else f"{number}/"
        families.setdefault(family, []).append(number)
    stems = [""] * len(wanted)
    for members in families.values():
        for number, stem in zip(
            members, _free([wanted[n][1:] for n in members], taken, rules, limit), strict=True
        ):
            stems[number] = stem
        taken.update(stems[number].casefold() for number in members)
    return tuple(
        Naming(source, f"{stem}.{extension}", stem.casefold() != (own + count).casefold())
        for (source, own, count), stem in zip(wanted, stems, strict=True)
    )


def _extension(rules: Card) -> str:
    short = rules.names == "short"
    extension = rules.extension.upper() if short else rules.extension
    fine = re.fullmatch(r"[A-Z0-9_-]{1,3}" if short else r"[A-Za-z0-9_-]{1,16}", extension)
    if fine is None or extension.upper() in (STAGED_EXTENSION, "JSON"):
        what = f"{rules.extension!r} cannot be the extension of files on the card"
        raise CardError(findings=[Finding.of("card-extension", what)])
    return extension


def _own_stem(source: str) -> str:
    """The name of a job's file without folders and extension."""
    name = source.rsplit("/", 1)[-1]
    stem, point, _ = name.rpartition(".")
    return stem if point and stem.strip(".") else name


def _legal(own: str, rules: Card, limit: int) -> str:
    """The nearest legal stem."""
    bare = unicodedata.normalize("NFKD", own.translate(_PLAIN))
    plain = "".join(c for c in bare if not unicodedata.combining(c)).strip().lstrip(".-")
    plain = plain.rstrip(". ")
    if rules.names == "short":
        stem = _NOT_SHORT.sub("_", plain.upper())
    else:
        stem = _NOT_LONG.sub("_", plain)
    stem = stem.lstrip(".-")
    if not re.search("[A-Za-z0-9]", stem):
        stem = "JOB" if rules.names == "short" else "job"
    base, point, rest = stem.partition(".")
    if base.upper() in _DEVICES:
        stem = f"{base}_{point}{rest}"
    return stem[:limit].rstrip(".")


def _counted(own: str) -> tuple[str, str]:
    """A stem in two: what the files of one job share, and the count at its end (`-2`, or nothing).

    >>> _counted("entrance-reducer-2")
    ('entrance-reducer', '-2')
    """
    found = re.fullmatch(r"(.*[A-Za-z0-9].*?)(-[0-9]{1,3})", own, re.DOTALL)
    return (found[1], found[2]) if found else (own, "")


def _free(
    members: Sequence[tuple[str, str]], taken: set[str], rules: Card, limit: int
) -> list[str]:
    """The stems of files that are counted together: none is taken, and all are cut alike, before
    their counts; with the first number that makes them free."""
    number, mark = 1, ""
    while True:
        stems = [_stem(own, mark, count, rules, limit) for own, count in members]
        if taken.isdisjoint(stem.casefold() for stem in stems):
            return stems
        number += 1
        mark = f"_{number}"


def _stem(own: str, mark: str, count: str, rules: Card, limit: int) -> str:
    """The nearest legal stem with a number and a count at its end."""
    whole = _legal(own + count, rules, _LONG)
    if not mark and len(whole) <= limit:
        return whole
    tail = mark + count
    cut = _legal(own, rules, limit - len(tail))
    return (cut.rstrip("-_") or cut if count else cut) + tail
