"""How the files of a card stand, as a look at it tells."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from headrace.card.manifest import Entry
from headrace.card.writing import Content


class State(StrEnum):
    """How a file of the list stands on the card."""

    AS_WRITTEN = "as written"
    CHANGED = "changed"
    SHORTER = "shorter"
    LONGER = "longer"
    SWAPPED = "swapped"
    MIXED_UP = "mixed up"
    RENAMED = "renamed"
    MISSING = "missing"
    UNFINISHED = "unfinished"
    NO_FILE = "no plain file"
    UNREADABLE = "unreadable"


@dataclass(frozen=True, slots=True)
class Checked:
    """A file of the list, and how it stands on the card.

    `found` is its name there, in the card's capitals (None where nothing has it), `content` what
    that holds (None where it cannot be told). `others` are the files that the state tells of: those
    whose bytes it holds, or those that hold the bytes that it should.
    """

    entry: Entry
    state: State
    found: str | None = None
    content: Content | None = None
    others: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        return self.entry.name


@dataclass(frozen=True, slots=True)
class Stranger:
    """Something on the card that is not on the list.

    `listed` where the machine would list it as it lists the jobs; `copy_of` names the files of the
    list whose bytes it holds, `twin_of` the one whose name differs by capitals only.
    """

    name: str
    listed: bool
    copy_of: tuple[str, ...] = ()
    twin_of: str | None = None
