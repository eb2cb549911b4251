"""Columns of words, read from whole lines in bulk: array operations, and no loop over lines.

Reading never judges: a line that cannot be taken for certain (expressions, odd characters,
malformed numbers) is marked `ODD`, and `grammar.scan` reads it one by one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from headrace.program.sealing import seal

Bytes = npt.NDArray[np.uint8]
Ints = npt.NDArray[np.int32]
Longs = npt.NDArray[np.int64]

ODD = 1
"""No words in the columns: the line must be scanned."""
RARE = 2
"""Not a plain move: the interpreter takes the line one by one. ODD lines are RARE too."""
COMMENT = 4
"""The line holds a comment."""

LETTERS = b"ABCDFGHIJKLMNPQRSTXYZ"
BIT = {chr(letter): 1 << (letter - 65) for letter in range(65, 91)}
_AXIS_LETTERS = sum(BIT[letter] for letter in "XYZABC")
_MOTION_LETTERS = sum(BIT[letter] for letter in "GIJKR")
_PLAIN_LETTERS = sum(BIT[letter] for letter in "NGXYZABCIJKRF")

_UPPER = bytes(range(256)).upper()
_COMMENTS = re.compile(rb"\([^()\r\n]*\)|;[^\r\n]*")
_UNUSUAL = re.compile(rb"(?i)[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]|^\([ \t]*M[ \t]*S[ \t]*G[ \t]*,")
_NEWLINE = 10
_LINE_NUMBER = ord("N")
_PAD = bytes(16)
_NOT_DIGITS = bytes(c for c in range(65) if not 48 <= c <= 57 and c != _NEWLINE)

_LAST_DIGITS = np.array(
    [0x0F0F0F0F0F0F0F0F & ~((1 << 8 * (8 - min(count, 8))) - 1) for count in range(16)], np.uint64
)
"""By the number of digits: what is left of eight characters when only the last so many count."""

_KNOWN = np.zeros(256, bool)
_KNOWN[list(LETTERS)] = True
_BITS = np.zeros(256, np.int32)
_BITS[65:91] = 1 << np.arange(26)


@dataclass(frozen=True, slots=True)
class Chunk:
    """Columns of some lines. Arrays over lines have length n, arrays over words length w.

    `first_word` (n + 1) is the index of each line's first word; `flags` (n) holds ODD, RARE and
    COMMENT; `letters` (n) is a bit set of the letters on each line. A word's value is
    `mantissa / 10**scale`, exactly.
    """

    first_line: int
    first_word: Ints
    flags: Bytes
    letters: Ints
    letter: Bytes
    mantissa: Ints | Longs
    scale: Bytes

    def __post_init__(self) -> None:
        seal(self.first_word, self.flags, self.letters, self.letter, self.mantissa, self.scale)

    def __len__(self) -> int:
        return len(self.flags)

    @property
    def line(self) -> Ints:
        """For each word the line, counted from the chunk's first (w)."""
        return np.repeat(np.arange(len(self), dtype=np.int32), np.diff(self.first_word))


def read_columns(raw: bytes, first_line: int) -> Chunk:
    """The columns of whole lines, in bulk; what they cannot hold for certain is marked."""
    if b"\r" in raw:
        raw = raw.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if not raw.endswith(b"\n"):
        raw += b"\n"
    commented: Longs = np.zeros(0, np.int64)
    if b"(" in raw or b";" in raw:
        commented = _lines_of(raw, b"(;")
        raw = _COMMENTS.sub(_unless_odd, raw)
    clean = raw.translate(_UPPER, b" \t")
    odd: Longs = np.zeros(0, np.int64)
    while True:
        words = _words(clean)
        if not isinstance(words, _Suspects):
            break
        # without a suspect, whatever the counts missed, no line is taken for certain
        suspects = words.lines if len(words.lines) else np.arange(clean.count(b"\n"))
        odd = np.union1d(odd, suspects)
        clean = _blanked(clean, suspects)
    chunk = _chunk(words, first_line)
    flags = chunk.flags.copy()
    flags[odd] = ODD | RARE
    flags[commented] |= COMMENT
    return replace(chunk, flags=flags)


def _unless_odd(comment: re.Match[bytes]) -> bytes:
    """Nothing in the place of a comment; a message, or one with control characters, stays."""
    return comment[0] if _UNUSUAL.search(comment[0]) else b""


def _lines_of(raw: bytes, characters: bytes) -> Longs:
    """The lines that hold any of the characters."""
    codes = np.frombuffer(raw, np.uint8)
    hits = np.zeros(len(codes), bool)
    for character in characters:
        hits |= codes == character
    lines = np.searchsorted(np.flatnonzero(codes == _NEWLINE), np.flatnonzero(hits))
    return np.unique(lines)


def _blanked(clean: bytes, lines: Longs) -> bytes:
    parts = clean.split(b"\n")
    for line in lines.tolist():
        parts[line] = b""
    return b"\n".join(parts)


@dataclass(frozen=True, slots=True)
class _Suspects:
    """Lines that the columns cannot hold."""

    lines: Longs


@dataclass(frozen=True, slots=True)
class _Tokens:
    """Words and line ends in the order of the text (`letters`; a line end is an LF), where the
    line ends stand among them, and letter, mantissa and scale of the words alone."""

    letters: Bytes
    newlines: Longs
    letter: Bytes
    mantissa: Longs
    scale: Bytes


def _words(clean: bytes) -> _Tokens | _Suspects:
    """Every letter with its number, or the lines where that is not the whole truth.

    A token runs from a letter (or line end) to the next. A second spelling keeps only its digits.
    What the second lacks must be one leading sign and one point; so a few counts over both
    spellings say whether every token is well formed.
    """
    codes = np.frombuffer(clean, np.uint8)
    spelt = _PAD + clean.translate(None, _NOT_DIGITS)
    digits = np.frombuffer(spelt, np.uint8)
    at = np.flatnonzero((codes >= 65) | (codes == _NEWLINE))
    bare = np.flatnonzero((digits >= 65) | (digits == _NEWLINE))
    letter = codes[at]
    is_end = letter == _NEWLINE
    lead = int(at[0])  # characters before the first letter belong to no word
    length = np.diff(at, append=len(codes)) - 1
    count = np.diff(bare, append=len(digits)) - 1
    sign = codes[np.minimum(at + 1, len(codes) - 1)]
    signed = (sign == 43) | (sign == 45)
    extra = length - count - signed
    points = np.flatnonzero(codes == 46)
    pointed = extra == 1
    fine = (extra >> 1 == 0) & (count >= 1) & (count <= 15) & _KNOWN[letter]
    fine |= is_end & (length == 0)
    numbered = letter == _LINE_NUMBER  # plain digits only (3.3.1)
    if numbered.any():
        fine &= ~(numbered & (signed | pointed))
    well = bool(fine.all()) and lead == 0 and len(points) == np.count_nonzero(pointed)
    if not well:
        return _suspects(codes, at, fine, points)
    words = np.flatnonzero(~is_end)
    count = count[words]
    mantissa = _integers(spelt, bare[words] + (count + 1), count)
    mantissa *= np.int8(1) - np.int8(2) * (sign[words] == 45)
    scale = np.zeros(len(at), np.uint8)
    with_point = np.flatnonzero(pointed)
    scale[with_point] = at[with_point] + length[with_point] - points
    return _Tokens(letter, np.flatnonzero(is_end), letter[words], mantissa, scale[words])


def _suspects(codes: Bytes, at: Longs, fine: npt.NDArray[np.bool_], points: Longs) -> _Suspects:
    """The lines behind a failed count, found the careful way."""
    ends = np.flatnonzero(codes == _NEWLINE)
    allowed = np.zeros(256, bool)
    allowed[48:58] = allowed[65:91] = True
    allowed[[_NEWLINE, 43, 45, 46]] = True
    places = [at[~fine], np.flatnonzero(~allowed[codes])]
    # a sign must stand behind a letter, and a word has one point at the most
    is_sign = (codes == 43) | (codes == 45)
    previous = np.concatenate((np.array([_NEWLINE], np.uint8), codes[:-1]))
    places.append(np.flatnonzero(is_sign & ~((previous >= 65) & (previous <= 90))))
    owner = np.searchsorted(at, points) - 1
    places.append(points[(owner < 0) | (np.diff(owner, prepend=-2) == 0)])
    # characters before the first letter of a line belong to no word
    stray = (previous == _NEWLINE) & (codes != _NEWLINE) & ~((codes >= 65) & (codes <= 90))
    places.append(np.flatnonzero(stray))
    return _Suspects(np.unique(np.searchsorted(ends, np.concatenate(places))))


def _integers(spelt: bytes, end: Longs, count: Longs) -> Longs:
    """The integers that the `count` digits before each place in `end` spell.

    Eight digits are turned into a number at once, in a 64-bit register: pairs, then fours, then
    eights are joined by one multiplication each.
    """
    window: npt.NDArray[np.uint64] = np.ndarray(
        len(spelt) - 7, np.dtype("<u8"), spelt, strides=(1,)
    )
    value = _eight(window[end - 8] & _LAST_DIGITS[count])
    if int(count.max(initial=0)) > 8:
        longer = np.flatnonzero(count > 8)
        high = _eight(window[end[longer] - 16] & _LAST_DIGITS[count[longer] - 8])
        value[longer] += high * 100_000_000
    return value


def _eight(digits: npt.NDArray[np.uint64]) -> Longs:
    """The number that the eight bytes of each word spell, the first byte the highest digit."""
    pairs = (digits * np.uint64(2561)) >> np.uint64(8)
    pairs &= np.uint64(0x00FF00FF00FF00FF)
    fours = (pairs * np.uint64(6553601)) >> np.uint64(16)
    fours &= np.uint64(0x0000FFFF0000FFFF)
    eights = (fours * np.uint64(42949672960001)) >> np.uint64(32)
    return eights.view(np.int64)


def _narrowed(mantissa: Longs) -> Ints | Longs:
    """The same numbers in half the room, where they fit."""
    small = len(mantissa) == 0 or (mantissa.max() < 1 << 31 and mantissa.min() >= -(1 << 31))
    return mantissa.astype(np.int32) if small else mantissa


def _chunk(tokens: _Tokens, first_line: int) -> Chunk:
    """Tokens as columns over words and lines, with the rare lines marked."""
    newlines = tokens.newlines
    count = len(newlines)
    line_start = np.zeros(count, np.int64)
    line_start[1:] = newlines[:-1] + 1
    first_word = np.zeros(count + 1, np.int32)
    first_word[1:] = newlines - np.arange(count)
    bits = _BITS[tokens.letters]
    letters = np.bitwise_or.reduceat(bits, line_start)
    repeated = np.add.reduceat(bits, line_start) != letters
    rare = repeated | ((letters & ~np.int32(_PLAIN_LETTERS)) != 0)
    # a motion code or an arc word without a place to go to wants a closer look
    rare |= ((letters & _MOTION_LETTERS) != 0) & ((letters & _AXIS_LETTERS) == 0)
    codes = np.flatnonzero(tokens.letter == ord("G"))
    values = tokens.mantissa[codes]
    unusual = codes[(values > 3) | (values < 0) | (tokens.scale[codes] > 0)]
    rare[np.searchsorted(first_word, unusual, "right") - 1] = True
    numbers = np.flatnonzero(tokens.letter == _LINE_NUMBER)
    if len(numbers):
        lines = np.searchsorted(first_word, numbers, "right") - 1
        rare[lines[first_word[lines] != numbers]] = True
    return Chunk(
        first_line=first_line,
        first_word=first_word,
        flags=np.where(rare, np.uint8(RARE), np.uint8(0)),
        letters=letters,
        letter=tokens.letter,
        mantissa=_narrowed(tokens.mantissa),
        scale=tokens.scale,
    )
