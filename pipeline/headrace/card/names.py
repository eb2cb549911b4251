"""File names for the card, by the rules of the machine's card reader.

Short names are eight characters and an extension of three, as every FAT directory holds them
(FAT32 File System Specification 1.03, "FAT Directory Structure"). Long names have 64 characters at
the most with their extension. Both are of ASCII letters, digits and what the machine file allows
beside them.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from headrace.errors import CardError
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.machine import Card

LIST_STEM = "HEADRACE"
"""The name of headrace's own list on the card; no job gets it."""

STAGED_EXTENSION = "HRT"
"""The extension of files that are not finished yet."""

CHARACTERS = "_-.!#$%&()@{}^"
"""What a name may hold at the most beside letters and digits: on every FAT card legal, and no way
out of the folder."""

_SHORT = 8
_LONG = 64
_DEVICES = frozenset(
    ["CON", "PRN", "AUX", "NUL", *(f"{port}{n}" for port in ("COM", "LPT") for n in range(10))]
)
_CASES: dict[str, Callable[[str], str]] = {
    "upper": str.upper,
    "lower": str.lower,
    "as-is": str,
}
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


def is_card_name(name: str) -> bool:
    """Whether this may be the name of a file that headrace has written to a card folder."""
    own = re.escape(CHARACTERS)
    return re.fullmatch(rf"(?![.])[A-Za-z0-9{own}]+", name) is not None


def fitting(name: str, card: Card) -> str:
    """The nearest name that a file which is no job may have on the card; the same where it may have
    this one. The machine is to list no such file among the jobs."""
    rules = _Rules(card, 0)
    stem, _, extension = name.rpartition(".")
    most = 3 if rules.short else _LONG
    extension = rules.cased(re.sub(r"[^A-Za-z0-9]", "", extension)[:most])
    if extension.upper() in (rules.extension.upper(), STAGED_EXTENSION, "JSON", ""):
        extension = rules.cased("htm")
    limit = _SHORT if rules.short else _LONG - len(extension) - 1
    own = _legal(stem, rules, limit)
    return f"{own}.{extension}"


@dataclass(frozen=True)
class _Rules:
    """The reader's rules for stems: `limit` characters, `digits` of which are for the number."""

    card: Card
    count: int

    @cached_property
    def short(self) -> bool:
        return self.card.names == "short"

    @cached_property
    def extension(self) -> str:
        """Raises CardError where no card can hold it."""
        extension = self.cased(self.card.extension)
        fine = re.fullmatch(
            r"[A-Za-z0-9_-]{1,3}" if self.short else r"[A-Za-z0-9_-]{1,16}", extension
        )
        if fine is None or extension.upper() in (STAGED_EXTENSION, "JSON"):
            what = f"{self.card.extension!r} cannot be the extension of files on the card"
            raise CardError(findings=[Finding.of("card-extension", what)])
        return extension

    @cached_property
    def digits(self) -> int:
        return max(2, len(str(self.count))) if self.card.numbered else 0

    @cached_property
    def limit(self) -> int:
        """Characters of a stem without its number."""
        most = _SHORT if self.short else _LONG - len(self.extension) - 1
        return min(most, self.card.length or most) - self.digits

    @cached_property
    def characters(self) -> str:
        """What is allowed beside letters and digits."""
        usual = "_-" if self.short else "._-"
        told = usual if self.card.characters is None else self.card.characters
        return "".join(c for c in CHARACTERS if c in told and not (self.short and c == "."))

    @cached_property
    def illegal(self) -> re.Pattern[str]:
        return re.compile(rf"[^A-Za-z0-9{re.escape(self.characters)}]+")

    @cached_property
    def mark(self) -> str:
        """What stands for illegal characters and before numbers."""
        return next((c for c in "_-" if c in self.characters), "")

    def cased(self, text: str) -> str:
        return _CASES[self.card.case or ("upper" if self.short else "as-is")](text)

    def clean(self, text: str) -> str:
        """Legal characters only."""
        return self.illegal.sub(self.mark, self.cased(text))


def card_names(card_files: Sequence[str], jobs: Sequence[str], card: Card) -> tuple[Naming, ...]:
    """Names in run order: the recipe's card files as they stand there, then the jobs by name.

    No two are equal, also where capitals do not count; of jobs that would share a name all but
    the first get a number. Files that are counted (`lid-1`, `lid-2`) keep their counts, and are cut
    and numbered together. Raises CardError for an extension that no card can hold, and where there
    are more files than names.
    """
    rules = _Rules(card, len(card_files) + len(jobs))
    extension = rules.extension
    taken = {LIST_STEM.casefold()}
    wanted = [(source, source, "") for source in card_files]
    wanted += [(source, *_counted(_own_stem(source))) for source in sorted(jobs)]
    families: dict[str, list[int]] = {}
    for number, (source, own, count) in enumerate(wanted):
        at = source.rfind(own + count) + len(own)
        family = source[:at] + "-" + source[at + len(count) :] if count else f"{number}/"
        families.setdefault(family, []).append(number)
    stems = [""] * len(wanted)
    tried: dict[str, int] = {}
    for members in families.values():
        named = _family([wanted[number][1:] for number in members], taken, rules, tried)
        for number, stem in zip(members, named, strict=True):
            stems[number] = stem
        taken.update(stem.casefold() for stem in named)
    return tuple(
        Naming(
            source,
            f"{_turn(turn, rules)}{stem}.{extension}",
            stem.casefold() != (own + count).casefold(),
        )
        for turn, ((source, own, count), stem) in enumerate(zip(wanted, stems, strict=True), 1)
    )


def _turn(turn: int, rules: _Rules) -> str:
    """The number of a file in run order, where files are numbered."""
    return f"{turn:0{rules.digits}}" if rules.digits else ""


def _own_stem(source: str) -> str:
    """The name of a job's file without folders and extension."""
    name = source.rsplit("/", 1)[-1]
    stem, point, _ = name.rpartition(".")
    return stem if point and stem.strip(".") else name


def _legal(own: str, rules: _Rules, limit: int) -> str:
    """The nearest legal stem."""
    bare = unicodedata.normalize("NFKD", own.translate(_PLAIN))
    plain = "".join(c for c in bare if not unicodedata.combining(c)).strip().lstrip(".-")
    stem = rules.clean(plain.rstrip(". ")).lstrip(".-")
    if not re.search("[A-Za-z0-9]", stem):
        stem = rules.cased("job")
    stem = stem[:limit].rstrip(".")
    if _is_device(stem):
        base, point, rest = stem.partition(".")
        stem = f"{base[: limit - 1]}{rules.mark or rules.cased('x')}{point}{rest}"[:limit]
    return stem.rstrip(".")


def _is_device(stem: str) -> bool:
    """Whether some systems take a file of this stem for a device."""
    return stem.partition(".")[0].upper() in _DEVICES


def _counted(own: str) -> tuple[str, str]:
    """A stem in two: what the files of one job share, and the count at its end (`-2`, or nothing).

    >>> _counted("entrance-reducer-2")
    ('entrance-reducer', '-2')
    """
    found = re.fullmatch(r"(.*[A-Za-z0-9].*?)(-[0-9]{1,3})", own, re.DOTALL)
    return (found[1], found[2]) if found else (own, "")


def _family(
    members: Sequence[tuple[str, str]], taken: set[str], rules: _Rules, tried: dict[str, int]
) -> list[str]:
    """The stems of files that are counted together; of each by itself where names are too short
    for their counts. Raises CardError where they are too short for that too."""
    try:
        return _free(members, taken, rules, tried)
    except CardError:
        if not any(count for _, count in members):
            raise
    stems: list[str] = []
    for own, count in members:
        others = taken.union(stem.casefold() for stem in stems)
        stems += _free([(own + count, "")], others, rules, tried)
    return stems


def _free(
    members: Sequence[tuple[str, str]], taken: set[str], rules: _Rules, tried: dict[str, int]
) -> list[str]:
    """The stems of files that are counted together: none is taken, and all are cut alike, before
    their counts; with the first number that makes them free. Raises CardError where none does.

    `tried` has, for files that are numbered alike, the number up to which none is free.
    """
    room = max(1, rules.limit - 2)
    alike = "/".join(_legal(own, rules, room) + count for own, count in members)
    number, mark = 1, ""
    while True:
        stems = [_stem(own, mark, count, rules) for own, count in members]
        folded = {stem.casefold() for stem in stems}
        distinct = taken.isdisjoint(folded) and len(folded) == len(stems)
        if distinct and not any(_is_device(stem) for stem in stems):
            tried[alike] = number
            return stems
        number = max(number, tried.get(alike, 0)) + 1
        mark = f"{rules.mark}{number}"


def _stem(own: str, mark: str, count: str, rules: _Rules) -> str:
    """The nearest legal stem with a number and a count at its end. CardError where it has no room
    for them."""
    limit = rules.limit
    whole = _legal(own + count, rules, _LONG)
    if not mark and len(whole) <= limit:
        return whole
    tail = mark + rules.clean(count)
    if len(tail) >= limit:
        what = f"there are more files like {own}{count} than names of length {limit}"
        raise CardError(findings=[Finding.of("card-names-used-up", what)])
    cut = _legal(own, rules, limit - len(tail))
    return (cut.rstrip("-_") or cut if count else cut) + tail
