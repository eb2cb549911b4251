"""The numbers of many lines at once: exact decimals in columns, and the lines with some of them
written anew.

Only the figures of a word are exchanged; blanks, letters, comments and line ends stay byte for
byte. What cannot be done in bulk (a blank within a number, an expression beside it, more figures
than usual) is done line by line, with the same outcome.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

import numpy as np
import numpy.typing as npt

from headrace.program.columns import ODD, Chunk, read_columns
from headrace.program.grammar import Word
from headrace.program.line import Line
from headrace.program.numbers import plain
from headrace.program.program import Piece, Program
from headrace.program.spelling import fits, spelt
from headrace.program.text import BOM, MANY_CHUNKS, SMALL, Text

Bools = npt.NDArray[np.bool_]
Bytes = npt.NDArray[np.uint8]
Ints = npt.NDArray[np.int32]
Longs = npt.NDArray[np.int64]
Scales = npt.NDArray[np.int8]

MOST_DIGITS = 18
"""Numbers of more digits do not fit a column."""

_COMMENT = re.compile(rb"\([^()\r\n]*\)|;[^\r\n]*")
_FIGURES = bytes(1 if code in b"0123456789.+-" else 0 for code in range(256))
_KEPT, _NUMBER, _LINE = range(3)


@dataclass(frozen=True, slots=True, eq=False)
class _Figures:
    """Where numbers stand in the bytes of a section (b each), from `begun` to `end`, and which of
    its words they are."""

    begun: Longs
    end: Longs
    word: Longs


@dataclass(frozen=True, eq=False)
class Numerals:
    """The words with numbers of the lines `start` to `stop` of a program, in order (w words).

    `line` (w) are lines of the program, `letter` (w) the codes of capital letters; a number is
    `mantissa / 10**scale`, exactly. Line numbers are no words. `unread` are the lines with anything
    that is no such number: expressions, settings of parameters, numbers of more than 18 digits,
    and what cannot be read.
    """

    program: Program
    start: int
    stop: int
    line: Ints
    letter: Bytes
    mantissa: Longs
    scale: Scales
    unread: Longs
    _raw: bytes
    _figures: _Figures

    def __len__(self) -> int:
        return len(self.line)

    @classmethod
    def of(cls, program: Program, start: int, stop: int) -> list[Numerals]:
        """The numbers of the lines `start` to `stop`, in sections of about a mebibyte each."""
        sections = [
            (program, piece, chunk, max(low, piece.start), min(high, piece.stop), first)
            for first, piece in program.pieces_between(start, stop)
            for chunk, low, high in _chunks(piece)
            if max(low, piece.start) < min(high, piece.stop)
        ]
        if len(sections) < MANY_CHUNKS:
            return [_section(*section) for section in sections]
        with ThreadPoolExecutor(2) as pool:
            return list(pool.map(lambda section: _section(*section), sections))

    @cached_property
    def pointed(self) -> Bools:
        """Which numbers are written with a decimal point (w)."""
        found = self.scale > 0
        figures = self._figures
        if len(figures.begun):
            points = np.flatnonzero(np.frombuffer(self._raw, np.uint8) == ord("."))
            owner = np.searchsorted(figures.begun, points, "right") - 1
            within = (owner >= 0) & (points < figures.end[owner])
            found[figures.word[owner[within]]] = True
        single = np.ones(len(self), bool)
        single[figures.word] = False
        for at in np.flatnonzero(single & ~found).tolist():
            line = self.program[int(self.line[at])]
            found[at] = any(
                "." in _figures_of(line, word)
                for word in line.words
                if word.letter == chr(self.letter[at])
            )
        return found

    def written(
        self, which: Bools, mantissa: Longs, scale: Scales, point: Bools | bool = False
    ) -> bytes:
        """The bytes of the lines with the numbers of some words (`which`, w) written anew.

        `mantissa` and `scale` (w) are the new numbers: no exponent, no zeros behind what counts, no
        `-0`; and with a point in any case where `point` says so.
        """
        points = np.broadcast_to(np.asarray(point, np.bool_), which.shape)
        figures = self._figures
        here = which[figures.word]
        word, begun, end = figures.word[here], figures.begun[here], figures.end[here]
        single = which.copy()
        single[word] = False
        single[word[~fits(mantissa[word], scale[word])]] = True
        lines = np.unique(self.line[single])
        if len(lines):
            alone = np.isin(self.line[word], lines)
            word, begun, end = word[~alone], begun[~alone], end[~alone]
        numbers, lengths = spelt(mantissa[word], scale[word], points[word])
        whole = [self._single(int(line), which, mantissa, scale, points) for line in lines]
        return _replaced(
            self._raw,
            np.concatenate([begun, np.array([low for low, _, _ in whole], np.int64)]),
            np.concatenate([end, np.array([high for _, high, _ in whole], np.int64)]),
            np.concatenate([lengths, np.array([len(text) for *_, text in whole], np.int64)]),
            len(word),
            (numbers, b"".join(text for *_, text in whole)),
        )

    def _single(
        self, index: int, which: Bools, mantissa: Longs, scale: Scales, points: Bools
    ) -> tuple[int, int, bytes]:
        """A line by itself: from where to where in the section, and its new bytes."""
        line = self.program[index]
        at = int(np.searchsorted(self.line, index))
        words = [word for word in line.words if word.value is not None and word.letter != "N"]
        spelling = {}
        for number, word in enumerate(words, at):
            if which[number]:
                text = plain(Decimal(int(mantissa[number])).scaleb(-int(scale[number])))
                text += "." if points[number] and "." not in text else ""
                spelling[word] = _exchanged(line, word, text)
        return (*self._span(line), _encoded(line, line.rewritten(spelling)))

    def _span(self, line: Line) -> tuple[int, int]:
        """From where to where a line's text stands in the section."""
        begun = int(self._starts[line.index - self.start])
        raw = line.raw
        mark = len(BOM) if line.index == 0 and raw.startswith(BOM) else 0
        return begun + mark, begun + len(raw.rstrip(b"\r\n"))

    @cached_property
    def _starts(self) -> Longs:
        first, piece = next(self.program.numbered_pieces(self.start))
        at = piece.start + self.start - first
        starts: Longs = piece.text.starts[at : at + self.stop - self.start + 1]
        return np.asarray(starts - starts[0])


def _chunks(piece: Piece) -> Iterator[tuple[Chunk, int, int]]:
    """The columns of a piece's lines, each with the lines from and to which it goes."""
    for chunk in _columns(piece.text):
        low = max(chunk.first_line, piece.start)
        high = min(chunk.first_line + len(chunk), piece.stop)
        if low < high:
            yield chunk, low, high


def _columns(text: Text) -> tuple[Chunk, ...]:
    """The columns of a text; small ones, which have none, are read in bulk all the same."""
    if len(text.data) >= SMALL:
        return text.chunks
    if not len(text):
        return ()
    return text.once("numerals", lambda: (read_columns(text.data.removeprefix(BOM), 0),))


def _section(
    program: Program, piece: Piece, chunk: Chunk, low: int, high: int, first: int
) -> Numerals:
    """The numbers of the lines `low` to `high` of a text, which are in one chunk of columns.

    `first` is the program's line where the piece begins.
    """
    starts = piece.text.starts[low : high + 1] - piece.text.starts[low]
    raw = piece.text.data[piece.text.starts[low] : piece.text.starts[high]]
    lines = slice(low - chunk.first_line, high - chunk.first_line)
    odd = (chunk.flags[lines] & ODD) != 0
    words = chunk.first_word[lines.start : lines.stop + 1]
    count = np.diff(words)
    begun, end = _runs(raw, starts, odd)
    if len(begun) != words[-1] - words[0]:
        # a blank inside a number, or a comment: a line has more runs of figures than words
        odd |= np.bincount(np.searchsorted(starts, begun, "right") - 1, minlength=len(odd)) != count
        begun, end = _runs(raw, starts, odd)
    line = np.repeat(np.arange(high - low, dtype=np.int32), count)
    columns = slice(int(words[0]), int(words[-1]))
    letter, mantissa = chunk.letter[columns], chunk.mantissa[columns].astype(np.int64)
    scale = chunk.scale[columns].astype(np.int8)
    meant = letter != ord("N")
    if odd.any():
        held = ~odd[line]
        begun, end = begun[meant[held]], end[meant[held]]
        meant &= held
    elif not meant.all():
        begun, end = begun[meant], end[meant]
    if not meant.all():
        line, letter, mantissa, scale = (c[meant] for c in (line, letter, mantissa, scale))
    word = np.arange(len(line))
    single, unread = _scanned(piece.text, low, np.flatnonzero(odd))
    if len(single[0]):
        order = np.argsort(np.concatenate([line, single[0]]), kind="stable")
        line = np.concatenate([line, single[0]])[order]
        letter = np.concatenate([letter, single[1]])[order]
        mantissa = np.concatenate([mantissa, single[2]])[order]
        scale = np.concatenate([scale, single[3]])[order]
        word = np.flatnonzero(order < len(word))
    start = low - piece.start + first
    return Numerals(
        program, start, start + high - low, line + np.int32(start), letter, mantissa, scale,
        unread + start, raw, _Figures(begun, end, word),
    )  # fmt: skip


def _runs(raw: bytes, starts: Longs, odd: Bools) -> tuple[Longs, Longs]:
    """Where figures stand outside of comments and odd lines: from and to (b each)."""
    if b"(" in raw or b";" in raw:
        raw = _COMMENT.sub(lambda comment: b" " * len(comment[0]), raw)
    marks = bytearray(raw.translate(_FIGURES))
    for line in np.flatnonzero(odd).tolist():
        marks[starts[line] : starts[line + 1]] = bytes(int(starts[line + 1] - starts[line]))
    codes = np.zeros(len(marks) + 2, np.uint8)
    codes[1:-1] = np.frombuffer(marks, np.uint8)
    edges = np.flatnonzero(codes[1:] != codes[:-1])
    return edges[::2], edges[1::2]


def _scanned(text: Text, low: int, odd: Longs) -> tuple[tuple[Ints, Bytes, Longs, Scales], Longs]:
    """Line, letter, mantissa and scale of the numbers on some lines, counted from `low`, which are
    taken one by one; and those lines that hold anything else."""
    rows: list[tuple[int, int, int, int]] = []
    unread: list[int] = []
    for line in odd.tolist():
        scan = text.scan(low + line)
        whole = not scan.settings and scan.fatal is None
        for word in scan.words:
            exact = None if word.value is None else word.value.as_tuple()
            if exact is None or len(exact.digits) > MOST_DIGITS or -int(exact.exponent) > 99:
                whole = False
                continue
            assert word.value is not None
            assert isinstance(exact.exponent, int)
            scale = max(0, -exact.exponent)
            rows.append((line, ord(word.letter), int(word.value.scaleb(scale)), scale))
        if not whole:
            unread.append(line)
    table = np.array(rows, np.int64).reshape(len(rows), 4)
    columns = (
        table[:, 0].astype(np.int32),
        table[:, 1].astype(np.uint8),
        table[:, 2],
        table[:, 3].astype(np.int8),
    )
    return columns, np.array(unread, np.int64)


def _exchanged(line: Line, word: Word, number: str) -> str:
    """A word with other figures: the new ones stand where the first of the old did."""
    figures = _figures_of(line, word)
    first = next(at for at, figure in enumerate(figures) if figure)
    text = line.text[word.start : word.end]
    rest = [text[at] for at in range(first, len(text)) if not figures[at]]
    return text[:first] + number + "".join(rest)


def _figures_of(line: Line, word: Word) -> list[str]:
    """For each character of a word the character where it is a figure, sign or point, else ""."""
    comments = [range(comment.start, comment.end) for comment in line.comments]
    return [
        "" if character not in "0123456789.+-" or any(at in c for c in comments) else character
        for at, character in enumerate(line.text[word.start : word.end], word.start)
    ]


def _encoded(line: Line, text: str) -> bytes:
    """The text, written as the line is."""
    try:
        line.raw.decode("utf-8")
    except UnicodeDecodeError:
        return text.encode("latin-1")
    return text.encode("utf-8")


def _replaced(
    raw: bytes,
    begun: Longs,
    end: Longs,
    lengths: Longs,
    numbers: int,
    texts: tuple[bytes, bytes],
) -> bytes:
    """`raw` with new bytes in some places (p each): the first `numbers` of them are taken one by
    one from the first of the texts, the others, whole lines, from the second."""
    sorts = np.full(len(begun), _NUMBER, np.uint8)
    sorts[numbers:] = _LINE
    if numbers < len(begun):
        order = np.argsort(begun, kind="stable")
        begun, end, lengths, sorts = begun[order], end[order], lengths[order], sorts[order]
    pattern = np.zeros(2 * len(begun) + 1, np.uint8)
    pattern[1::2] = sorts
    sizes = np.empty(len(pattern), np.int64)
    sizes[0::2] = np.append(begun, len(raw)) - np.append(0, end)
    sizes[1::2] = end - begun
    kept = np.frombuffer(raw, np.uint8)[np.repeat(pattern == _KEPT, sizes)]
    sizes[1::2] = lengths
    labels = np.repeat(pattern, sizes)
    out = np.empty(len(labels), np.uint8)
    out[labels == _KEPT] = kept
    out[labels == _NUMBER] = np.frombuffer(texts[0], np.uint8)
    if numbers < len(begun):
        out[labels == _LINE] = np.frombuffer(texts[1], np.uint8)
    return out.tobytes()
