"""What the controller makes of words, comments and file names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class WorkZero:
    """The words that make a place the work zero.

    `word` is `G92` (shifts the numbers where the machine stands), `G10 L2` (states the origin of
    a work offset system in machine coordinates) or `G10 L20` (makes the place where the machine
    stands read the given numbers in a work offset system).
    """

    word: str
    systems: tuple[str, ...]
    kept_after_end: bool | None

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> WorkZero:
        return cls(
            word=data["word"],
            systems=tuple(data.get("systems", ())),
            kept_after_end=data.get("kept-after-end"),
        )


@dataclass(frozen=True, slots=True)
class Pause:
    """How the machine waits for its operator, and how much text it shows.

    `text` says where a text must stand to be shown: `before` (a comment line before the word),
    `same-line` (a comment behind the word) or `none` (nothing is shown).
    """

    word: str
    text: str
    width: int

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Pause:
        return cls(
            word=data.get("word", "M0"), text=data.get("text", "none"), width=data.get("width", 20)
        )


@dataclass(frozen=True, slots=True)
class ArcWords:
    """What the controller reads of G2 and G3: the forms, planes, helices and full circles, how
    centres count (`increments`, `absolute`), and along what F counts on a helix (`path`,
    `projection`). The defaults are those of RS274/NGC."""

    centre: bool = True
    radius: bool = True
    planes: tuple[str, ...] = ("G17", "G18", "G19")
    helix: bool = True
    full_circles: bool = True
    centres: str = "increments"
    feed: str = "path"

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> ArcWords:
        forms = data.get("forms", ("centre", "radius"))
        return cls(
            centre="centre" in forms,
            radius="radius" in forms,
            planes=tuple(data.get("planes", ("G17", "G18", "G19"))),
            helix=data.get("helix", True),
            full_circles=data.get("full-circles", True),
            centres=data.get("centres", "increments"),
            feed=data.get("feed", "path"),
        )


@dataclass(frozen=True, slots=True)
class Comments:
    """The comments that the controller reads: `parentheses`, `semicolon`, `both` or `none`."""

    style: str

    @property
    def parentheses(self) -> bool:
        return self.style in ("parentheses", "both")

    @property
    def semicolon(self) -> bool:
        return self.style in ("semicolon", "both")

    def written(self, text: str) -> str:
        """`text` as one comment; nothing where none are read."""
        if self.parentheses:
            return f"({text})"
        return f"; {text}" if self.semicolon else ""


@dataclass(frozen=True, slots=True)
class Card:
    """What the controller's card reader accepts as file names, and how it lists them.

    `case`, `characters` and `length` are None where they are as usual for these `names`.
    """

    names: str
    extension: str
    case: str | None = None
    characters: str | None = None
    length: int | None = None
    order: str | None = None
    numbered: bool = False

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Card:
        return cls(
            names=data.get("names", "short"),
            extension=data.get("extension", "NC"),
            case=data.get("case"),
            characters=data.get("characters"),
            length=data.get("length"),
            order=data.get("order"),
            numbered=data.get("numbered", False),
        )
