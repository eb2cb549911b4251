"""Lines that hold nothing but a plain move, taken apart as bytes, many at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from headrace import Program

Bools = npt.NDArray[np.bool_]
Bytes = npt.NDArray[np.uint8]
Longs = npt.NDArray[np.int64]

_LETTERS = b"NGXYZIJKRF"
_ALLOWED = np.zeros(256, np.bool_)
_ALLOWED[list(_LETTERS + _LETTERS.lower() + b"0123456789+-. \t\r\n")] = True
_DIGIT = np.zeros(256, np.bool_)
_DIGIT[list(b"0123456789.")] = True
_UPPER = 0xDF
"""Bits of a letter that are those of the capital."""


@dataclass(frozen=True, slots=True, eq=False)
class PlainLines:
    """Some lines (k) as bytes, one behind the other in `data`.

    `plain` (k) tells which hold one motion code of G0 to G3 at the most, axes, offsets, a radius,
    a feed and a line number, and end as the program's lines do; what follows is theirs. `number`
    and `feed` (k, 2) are where these words begin and end, blanks beside them included; `code` (k)
    is the motion code, -1 without one; `blank` and `small` (k) tell whether there are blanks
    between the words, and small letters.
    """

    data: Bytes
    plain: Bools
    number: Longs
    feed: Longs
    code: Longs
    blank: Bools
    small: Bools

    @classmethod
    def of(cls, program: Program, lines: Longs) -> PlainLines:
        """Some lines, ascending, at least one."""
        data, begun, end = line_bytes(program, lines)
        return cls._taken_apart(data, begun, end, program.line_end.encode())

    def where(self, chosen: Longs) -> PlainLines:
        """Some of the lines."""
        return PlainLines(
            self.data,
            self.plain[chosen],
            self.number[chosen],
            self.feed[chosen],
            self.code[chosen],
            self.blank[chosen],
            self.small[chosen],
        )

    @classmethod
    def _taken_apart(cls, data: Bytes, begun: Longs, end: Longs, line_end: bytes) -> PlainLines:
        count = len(begun)
        plain = np.logical_and.reduceat(_ALLOWED[data], begun)
        closing = np.frombuffer(line_end, np.uint8)
        for at, byte in enumerate(closing):
            plain &= data[np.maximum(end - len(closing) + at, 0)] == byte
        blanks = (data == ord(" ")) | (data == ord("\t"))
        words = np.flatnonzero(data >= ord("A"))
        line = np.searchsorted(begun, words, "right") - 1
        letter, small = data[words] & _UPPER, np.zeros(count, np.bool_)
        small[line[data[words] >= ord("a")]] = True
        behind = np.append(words[1:], len(data))
        behind = np.minimum(behind, (end - len(closing))[line])
        number, feed = np.zeros((count, 2), np.int64), np.zeros((count, 2), np.int64)
        numbered, fed = letter == ord("N"), letter == ord("F")
        number[line[numbered]] = np.column_stack([words, behind])[numbered]
        # blanks before the feed are those before it, not those behind it
        solid = np.maximum.accumulate(np.where(blanks, 0, np.arange(len(data))))
        lead = words - (blanks[np.maximum(words - 1, 0)] & (words > begun[line]))
        feed[line[fed]] = np.column_stack([lead, solid[np.maximum(behind - 1, 0)] + 1])[fed]
        coded = letter == ord("G")
        plain &= np.bincount(line[coded], minlength=count) <= 1
        code = np.full(count, -1)
        value, fits = _codes(data, words[coded])
        code[line[coded]] = value
        plain[line[coded][~fits]] = False
        blank = np.zeros(count, np.bool_)
        inner = blanks[np.maximum(words - 1, 0)] & (words > begun[line])
        blank[line[inner]] = True
        return cls(data, plain, number, feed, code, blank, small)


def _codes(data: Bytes, at: Longs) -> tuple[Longs, Bools]:
    """The motion codes of G words that stand at some places, and whether they are G0 to G3."""
    padded = np.append(data, np.zeros(3, np.uint8))
    zero = (padded[at + 1] == ord("0")) & _DIGIT[padded[at + 2]] & (padded[at + 2] != ord("."))
    digit = padded[at + 1 + zero]
    fits = (digit >= ord("0")) & (digit <= ord("3")) & ~_DIGIT[padded[at + 2 + zero]]
    return digit.astype(np.int64) - ord("0"), fits


def line_bytes(program: Program, lines: Longs) -> tuple[Bytes, Longs, Longs]:
    """The bytes of some lines (ascending), one behind the other, and where each begins and ends."""
    parts, lengths = [np.zeros(0, np.uint8)], [np.zeros(0, np.int64)]
    for first, piece in program.numbered_pieces():
        low, high = np.searchsorted(lines, (first, first + len(piece)))
        if low == high:
            continue
        at = lines[low:high] - first + piece.start
        begun, end = piece.text.starts[at], piece.text.starts[at + 1]
        size = end - begun
        places = np.repeat(begun - (np.cumsum(size) - size), size) + np.arange(int(size.sum()))
        parts.append(np.frombuffer(piece.text.data, np.uint8)[places])
        lengths.append(size)
    sizes = np.concatenate(lengths)
    ends = np.cumsum(sizes)
    return np.concatenate(parts), ends - sizes, ends
