"""How an export is written: the same words look otherwise from every CAM program."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

BOM = b"\xef\xbb\xbf"
UNIT = 1000
"""Lengths are whole numbers of this part of a unit, so that arcs close exactly."""


@dataclass(frozen=True, slots=True)
class Manner:
    """`end` ends every line, `gap` stands between words, `numbers` is the step of N words (0:
    none), `places` are the decimals that are always written (None: as many as are needed),
    `sticky` leaves out a G word that holds already, `header` states units and modes, `frame` sets
    % lines around, `last` is the program end (empty: there is none)."""

    end: str
    gap: str
    lower: bool
    numbers: int
    places: int | None
    bare_point: bool
    sticky: bool
    semicolon: bool
    header: bool
    inch: bool
    centres: bool
    frame: bool
    last: str
    mark: bool
    closed: bool

    @classmethod
    def drawn(cls, random: Random) -> Manner:
        """One of the manners that exports have; most are plain."""

        def seldom(share: float = 0.2) -> bool:
            return random.random() < share

        last = random.choice(("M30", "M30", "M30", "M2", ""))
        return cls(
            end=random.choice(("\n", "\n", "\r\n", "\r\n", "\r")),
            gap="" if seldom() else "  " if seldom(0.05) else " ",
            lower=seldom(0.15),
            numbers=random.choice((0, 0, 1, 5, 10)),
            places=random.choice((None, None, 3, 4)),
            bare_point=seldom(),
            sticky=seldom(0.5),
            semicolon=seldom(0.3),
            header=not seldom(0.1),
            inch=seldom(),
            centres=not seldom(0.3),
            frame=not last or seldom(0.3),
            last=last,
            mark=seldom(0.1),
            closed=not seldom(0.1),
        )

    def number(self, thousandths: int) -> str:
        """A length, in thousandths of a unit, as text.

        A manner with `places=3` writes 12500 as `12.500`, one with `bare_point` 500 as `.5`.
        """
        sign = "-" if thousandths < 0 else ""
        whole, part = divmod(abs(thousandths), UNIT)
        digits = f"{part:03d}".rstrip("0") if self.places is None else f"{part:03d}"
        digits = digits.ljust(self.places or 0, "0")
        if self.bare_point and not whole and digits.strip("0"):
            return f"{sign}.{digits}"
        if not digits:
            return f"{sign}{whole}." if self.bare_point else f"{sign}{whole}"
        return f"{sign}{whole}.{digits}"

    def note(self, text: str) -> str:
        """A comment."""
        return f"; {text}" if self.semicolon else f"({text})"

    def line(self, words: tuple[str, ...], note: str = "") -> str:
        """One line without its number; `note` is a comment behind the words."""
        text = self.gap.join(words)
        text = text.lower() if self.lower else text
        return f"{text} {self.note(note)}".lstrip() if note else text

    def written(self, lines: list[str]) -> bytes:
        """A whole file: line numbers, % lines, line ends and the byte-order mark."""
        if self.numbers:
            lines = [_numbered(line, at * self.numbers, self) for at, line in enumerate(lines, 1)]
        if self.frame:
            lines = ["%", *lines, "%"]
        text = self.end.join(lines) + (self.end if self.closed else "")
        return (BOM if self.mark else b"") + text.encode()


def _numbered(line: str, number: int, manner: Manner) -> str:
    """A line with its number; a slash stands before it (RS274/NGC 3.3)."""
    slash = line.startswith("/")
    word = f"n{number}" if manner.lower else f"N{number}"
    return f"{'/' if slash else ''}{word}{manner.gap}{line[slash:]}"
