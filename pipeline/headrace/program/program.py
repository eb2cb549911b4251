"""A program: runs of lines over immutable texts.

A program is a row of pieces, each a run of lines of one text. Editing makes a new program that
shares every untouched piece with the old one: untouched lines come out byte for byte, every line
knows where it comes from, and what was worked out for a text serves all programs that hold it.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from headrace.findings import Place
from headrace.program.columns import BIT, COMMENT, ODD, RARE
from headrace.program.edits import Cause, Edit
from headrace.program.grammar import Scan
from headrace.program.line import Line
from headrace.program.lineage import Lineage
from headrace.program.text import Text

Longs = npt.NDArray[np.int64]

_SOME_ODD = 1 << 30
"""Beside the bits of letters: there are lines that no column holds."""


_SLASH = re.compile(
    rb"(?:\A(?:\xef\xbb\xbf)?|[\r\n])(?:[ \t]++|\((?:[^()\r\n]++|\([^()\r\n]*+\))*+\))*+/"
)
_NO_MEASURE = np.zeros(256, np.bool_)
_NO_MEASURE[list(b"GMN")] = True
"""Letters whose numbers are names."""


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """Lines `start` to `stop` of a text."""

    text: Text
    start: int
    stop: int
    lineage: Lineage

    def __len__(self) -> int:
        return self.stop - self.start

    @property
    def data(self) -> memoryview:
        """The bytes of these lines."""
        starts = self.text.starts
        return memoryview(self.text.data)[starts[self.start] : starts[self.stop]]


class Program:
    """An immutable run of lines. Reading never judges and never raises."""

    def __init__(self, pieces: Iterable[Piece], name: str, job_lines: int, next_id: int) -> None:
        """`job_lines` is the length of the job as it was read, `next_id` the first free id."""
        self.pieces: tuple[Piece, ...] = tuple(piece for piece in pieces if len(piece))
        self.name = name
        self.job_lines = job_lines
        self.next_id = next_id
        self._firsts = [0]
        for piece in self.pieces:
            self._firsts.append(self._firsts[-1] + len(piece))

    @classmethod
    def read(cls, data: bytes, name: str = "job") -> Program:
        """A program from a file's bytes; writing it gives the same bytes."""
        text = Text(data)
        return cls([Piece(text, 0, len(text), Lineage())], name, len(text), len(text))

    def __len__(self) -> int:
        return self._firsts[-1]

    def __iter__(self) -> Iterator[Line]:
        for first, piece in self.numbered_pieces():
            for at in range(piece.start, piece.stop):
                index = first + at - piece.start
                yield Line(index, piece.text, at, piece.lineage, self.job_lines)

    def __getitem__(self, index: int) -> Line:
        if not 0 <= index < len(self):
            raise IndexError(f"there is no line {index} in a program of {len(self)} lines")
        which = bisect_right(self._firsts, index) - 1
        piece = self.pieces[which]
        at = piece.start + index - self._firsts[which]
        return Line(index, piece.text, at, piece.lineage, self.job_lines)

    def numbered_pieces(self, line: int = 0) -> Iterator[tuple[int, Piece]]:
        """Each piece from that of `line` on, with the number of its first line in the program."""
        which = max(bisect_right(self._firsts, line) - 1, 0)
        return zip(self._firsts[which:], self.pieces[which:], strict=False)

    def pieces_between(self, start: int, stop: int) -> Iterator[tuple[int, Piece]]:
        """The pieces of the lines from `start` to `stop`, cut to these, each with the number of its
        first line in the program."""
        for first, piece in self.numbered_pieces(start):
            if first >= stop:
                return
            low, high = max(start, first), min(stop, first + len(piece))
            shift = piece.start - first
            if low < high:
                yield low, Piece(piece.text, low + shift, high + shift, piece.lineage)

    def parts(self) -> Iterator[memoryview]:
        """The bytes of the program, in order and without copying."""
        for piece in self.pieces:
            yield piece.data

    def to_bytes(self) -> bytes:
        """The whole program as bytes."""
        return b"".join(self.parts())

    @cached_property
    def line_end(self) -> str:
        """The line end that most lines of the longest text have; LF where there is none."""
        texts = (piece.text for piece in self.pieces)
        return max(texts, key=lambda text: len(text.data)).line_end if self.pieces else "\n"

    def lines_with(self, letter: str, *numbers: float) -> Longs:
        """Indices, ascending, of the lines that hold a word with this letter.

        With `numbers`, only of those where the word has one of the numbers. Words whose value is
        an expression are found by their letter alone.
        """
        found: list[Longs] = []
        for first, piece in self.numbered_pieces():
            if numbers:
                lines, values = _words(piece.text, letter)
                lines = _distinct(lines[np.isin(values, numbers)])
            else:
                lines = _lettered(piece.text, letter)
            low, high = np.searchsorted(lines, (piece.start, piece.stop))
            found.append(lines[low:high] + (first - piece.start))
        return np.concatenate(found) if found else np.zeros(0, np.int64)

    def codes(self) -> tuple[Longs, npt.NDArray[np.float64]]:
        """Lines, ascending, and numbers of all G words but G0 to G3 (n each), in order; NaN for
        expressions."""
        lines: list[Longs] = [np.zeros(0, np.int64)]
        numbers: list[npt.NDArray[np.float64]] = [np.zeros(0)]
        for first, piece in self.numbered_pieces():
            at, values = _codes(piece.text)
            low, high = np.searchsorted(at, (piece.start, piece.stop))
            lines.append(at[low:high] + (first - piece.start))
            numbers.append(values[low:high])
        return np.concatenate(lines), np.concatenate(numbers)

    def lines_finer(self, places: int) -> Longs:
        """Indices, ascending, of the lines that hold a number with more places behind its point.
        Codes (G, M) and line numbers are no such numbers, nor are expressions."""
        found = [np.zeros(0, np.int64)]
        for first, piece in self.numbered_pieces():
            lines = _finer(piece.text, places)
            low, high = np.searchsorted(lines, (piece.start, piece.stop))
            found.append(lines[low:high] + (first - piece.start))
        return np.concatenate(found)

    def lines_optional(self) -> Longs:
        """Indices, ascending, of the lines that begin with a slash: a switch may leave them out."""
        found = [np.zeros(0, np.int64)]
        for first, piece in self.numbered_pieces():
            lines = optional(piece.text)
            low, high = np.searchsorted(lines, (piece.start, piece.stop))
            found.append(lines[low:high] + (first - piece.start))
        return np.concatenate(found)

    def lines_flagged(self, flag: int) -> Longs:
        """Indices, ascending, of the lines with a flag of `text`, such as COMMENT."""
        found = [
            np.flatnonzero(_flags(piece.text)[piece.start : piece.stop] & flag) + first
            for first, piece in self.numbered_pieces()
        ]
        return np.concatenate(found) if found else np.zeros(0, np.int64)

    def lines_with_comments(self) -> Longs:
        """Indices, ascending, of the lines that hold a comment."""
        return self.lines_flagged(COMMENT)

    def ids(self, lines: npt.NDArray[np.integer[Any]]) -> npt.NDArray[np.int32]:
        """For each of some lines (n) what stays with it through all steps: below `job_lines` the
        index in the job, above that the number of a line that a step added."""
        found = np.empty(len(lines), np.int32)
        if (lines[1:] >= lines[:-1]).all():
            bounds = np.searchsorted(lines, self._firsts).tolist()
            for piece, first, low, high in zip(
                self.pieces, self._firsts, bounds, bounds[1:], strict=False
            ):
                if low < high:
                    places = lines[low:high] - (first - piece.start)
                    found[low:high] = piece.lineage.ids_at(places)
            return found
        which = np.searchsorted(self._firsts, lines, "right") - 1
        for at in np.flatnonzero(np.bincount(which)):
            piece, here = self.pieces[at], which == at
            found[here] = piece.lineage.ids_at(lines[here] - (self._firsts[at] - piece.start))
        return found

    def own(self, lines: npt.NDArray[np.integer[Any]]) -> npt.NDArray[np.bool_]:
        """For each of some lines (n) whether it is the job's own, not one that a step added."""
        return self.own_ids(self.ids(lines))

    def own_ids(
        self, ids: npt.NDArray[np.int32], opening: range = range(0)
    ) -> npt.NDArray[np.bool_]:
        """For each of some identities (n) whether it is that of a line of the job's own, or one of
        `opening`."""
        own: npt.NDArray[np.bool_] = ids < self.job_lines
        return own | ((ids >= opening.start) & (ids < opening.stop)) if opening else own

    def place(self, line: int) -> Place:
        """The whole of a line."""
        text = self[line].text
        return Place(self.name, line + 1, 1, max(1, len(text)), text)

    def edited(self, edits: Iterable[Edit], cause: Cause) -> Program:
        """The next program. Raises PluginError where the edits contradict each other."""
        from headrace.program.editing import apply

        return apply(self, edits, cause)


def _scanned_values(line: Scan, letter: str) -> list[float]:
    """The values of a letter on one line, line numbers included; NaN for expressions."""
    found = [
        float("nan") if word.value is None else float(word.value)
        for word in line.words
        if word.letter == letter
    ]
    return [float(line.number)] if letter == "N" and line.number is not None else found


def _distinct(ascending: Longs) -> Longs:
    """Ascending numbers, each once."""
    return ascending[np.diff(ascending, prepend=-1) > 0]


def _flags(text: Text) -> npt.NDArray[np.uint8]:
    """The flags of all lines of a text (n)."""
    none = np.zeros(0, np.uint8)
    return text.once("flags", lambda: np.concatenate([none, *(c.flags for c in text.chunks)]))


def _lettered(text: Text, letter: str) -> Longs:
    """The lines of a text that hold a letter, ascending."""
    return text.once(("lettered", letter), lambda: _found_lettered(text, letter))


def _found_lettered(text: Text, letter: str) -> Longs:
    lines: list[Longs] = [np.zeros(0, np.int64)]
    for chunk, letters in zip(text.chunks, _letters(text), strict=True):
        if not letters & (BIT[letter] | _SOME_ODD):
            continue
        held = (chunk.letters & BIT[letter]) != 0
        for line in np.flatnonzero(chunk.flags & ODD):
            held[line] = bool(_scanned_values(text.scan(int(line) + chunk.first_line), letter))
        lines.append(np.flatnonzero(held) + chunk.first_line)
    return np.concatenate(lines)


def _letters(text: Text) -> list[int]:
    """For each chunk of a text the letters that it holds, and whether there are odd lines in it."""

    def found() -> list[int]:
        return [
            int(np.bitwise_or.reduce(chunk.letters, initial=0))
            | (_SOME_ODD if (chunk.flags & ODD).any() else 0)
            for chunk in text.chunks
        ]

    return text.once("letters", found)


def _words(text: Text, letter: str) -> tuple[Longs, npt.NDArray[np.float64]]:
    """Lines and values of all words of a letter in a text, in order; NaN for expressions."""
    return text.once(("words", letter), lambda: _found_words(text, letter))


def optional(text: Text) -> Longs:
    """The lines of a text that begin with a slash, ascending; worked out once for a text."""

    def found() -> Longs:
        if b"/" not in text.data:
            return np.zeros(0, np.int64)
        places = [match.end() - 1 for match in _SLASH.finditer(text.data)]
        lines = np.searchsorted(text.starts, places, "right") - 1
        return np.array([at for at in lines.tolist() if text.scan(at).block_delete], np.int64)

    return text.once("optional", found)


def _finer(text: Text, places: int) -> Longs:
    """The lines of a text with a number of more places, ascending."""

    def found() -> Longs:
        lines: list[Longs] = [np.zeros(0, np.int64)]
        for chunk in text.chunks:
            if len(chunk.scale) and chunk.scale.max() > places:
                words = np.flatnonzero((chunk.scale > places) & ~_NO_MEASURE[chunk.letter])
                lines.append(chunk.line[words].astype(np.int64) + chunk.first_line)
            for line in (np.flatnonzero(chunk.flags & ODD) + chunk.first_line).tolist():
                values = (w.value for w in text.scan(line).words if w.letter not in "GMN")
                if any(v is not None and -int(v.as_tuple().exponent) > places for v in values):
                    lines.append(np.array([line], np.int64))
        return np.unique(np.concatenate(lines))

    return text.once(("finer", places), found)


def _codes(text: Text) -> tuple[Longs, npt.NDArray[np.float64]]:
    return text.once("codes", lambda: _found_codes(text))


def _found_codes(text: Text) -> tuple[Longs, npt.NDArray[np.float64]]:
    """G words but G0 to G3: on plain lines there are none, so only the rare ones are looked at."""
    lines: list[Longs] = [np.zeros(0, np.int64)]
    numbers: list[npt.NDArray[np.float64]] = [np.zeros(0)]
    for chunk, letters in zip(text.chunks, _letters(text), strict=True):
        if not letters & (BIT["G"] | _SOME_ODD):
            continue
        rare = np.flatnonzero((chunk.flags & RARE).astype(bool) & ((chunk.letters & BIT["G"]) != 0))
        begun, stop = chunk.first_word[rare], chunk.first_word[rare + 1]
        at = ranges(begun.astype(np.int64), (stop - begun).astype(np.int64))
        at = at[chunk.letter[at] == ord("G")]
        lines.append(np.searchsorted(chunk.first_word, at, "right") - 1 + chunk.first_line)
        numbers.append(chunk.mantissa[at] / 10.0 ** chunk.scale[at])
        for line in np.flatnonzero(chunk.flags & ODD) + chunk.first_line:
            scanned = _scanned_values(text.scan(int(line)), "G")
            lines.append(np.full(len(scanned), line))
            numbers.append(np.array(scanned))
    every, values = np.concatenate(lines), np.concatenate(numbers)
    other = np.flatnonzero(~np.isin(values, (0, 1, 2, 3)))
    order = other[np.argsort(every[other], kind="stable")]
    return every[order], values[order]


def ranges(begun: Longs, lengths: Longs) -> Longs:
    """The numbers from each of `begun` (n) on, `lengths` (n) of them each, in a row."""
    shift = begun - (np.cumsum(lengths) - lengths)
    return np.repeat(shift, lengths) + np.arange(int(lengths.sum()))


def _found_words(text: Text, letter: str) -> tuple[Longs, npt.NDArray[np.float64]]:
    lines: list[Longs] = [np.zeros(0, np.int64)]
    values: list[npt.NDArray[np.float64]] = [np.zeros(0)]
    for chunk in text.chunks:
        if (chunk.letters & BIT[letter]).any():
            at = np.flatnonzero(chunk.letter == ord(letter))
            lines.append(chunk.line[at].astype(np.int64) + chunk.first_line)
            values.append(chunk.mantissa[at] / 10.0 ** chunk.scale[at])
        for line in np.flatnonzero(chunk.flags & ODD) + chunk.first_line:
            scanned = _scanned_values(text.scan(int(line)), letter)
            lines.append(np.full(len(scanned), line))
            values.append(np.array(scanned))
    every = np.concatenate(lines)
    order = np.argsort(every, kind="stable")
    return every[order], np.concatenate(values)[order]
