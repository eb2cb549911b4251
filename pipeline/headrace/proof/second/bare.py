"""Lines without what does nothing: comments, blanks, line numbers, case."""

from __future__ import annotations

import re

import numpy as np
import numpy.typing as npt

_UPPER = bytes(range(256)).upper()
_COMMENT = re.compile(rb"\([^()\n]*\)|;[^\n]*")
_NUMBERED = re.compile(rb"(?m)^(/?)N[0-9]+")
_WORD = re.compile(rb"([A-Z])([-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))")

_PLAIN, _DIGIT, _CODE, _BLANK, _OTHER = range(5)
_KIND = np.full(256, _OTHER, np.uint8)
_KIND[list(b"XYZABCIJKRFN\r\n")] = _PLAIN
_KIND[list(b"0123456789.+-")] = _DIGIT
_KIND[ord("G")] = _CODE
_KIND[list(b" \t")] = _BLANK
_KINDS = _KIND.tobytes()
_WINDOW = 1 << 19

Longs = npt.NDArray[np.int64]
Words = list[tuple[bytes, bytes]]


def bare(data: bytes) -> bytes:
    """The same lines, each with an LF behind it, in capitals and without what does nothing."""
    if data and not data.endswith((b"\n", b"\r")):
        data += b"\n"  # now, for a last line of blanks or comments would be none
    data = data.removeprefix(b"\xef\xbb\xbf")
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if b"(" in data or b";" in data:
        data = _COMMENT.sub(b"", data)
    data = data.translate(_UPPER, b" \t")
    if b"N" in data:
        data = _NUMBERED.sub(rb"\1", data)
    return data


def words_of(line: bytes) -> tuple[Words, bool]:
    """The words of a bare line, and whether they are all that there is on it."""
    line = line.strip(b"/\n")
    words = _WORD.findall(line)
    return words, sum(map(len, map(b"".join, words))) == len(line)


def line_starts(lines: bytes) -> Longs:
    """Where bare lines begin, and their length in all."""
    ends = np.flatnonzero(np.frombuffer(lines, np.uint8) == ord("\n"))
    return np.concatenate([np.zeros(1, np.int64), ends + 1])


def other_lines(data: bytes, starts: Longs) -> Longs:
    """Which lines, beginning at `starts`, are not certain to be plain moves: G0 to G3, places,
    centres, feeds, numbers, in capitals and without blanks inside words."""
    found = [np.zeros(0, np.int64)]
    for begun in range(0, len(data), _WINDOW):
        window = data[begun : begun + _WINDOW + 4] + b"\n\n\n\n"
        found.append(_other_places(window) + begun)
    places = np.concatenate(found)
    return np.unique(np.searchsorted(starts, places[places < len(data)], "right") - 1)


def _other_places(window: bytes) -> Longs:
    """Where something else than a plain move stands in a text."""
    sorts = window.translate(_KINDS)
    kinds = np.frombuffer(sorts, np.uint8)
    text = np.frombuffer(window, np.uint8)
    places = [np.zeros(0, np.int64)]
    if bytes([_OTHER]) in sorts:
        places.append(np.flatnonzero(kinds == _OTHER))
    if bytes([_BLANK]) in sorts:
        places.append(np.flatnonzero((kinds[:-1] == _BLANK) & (kinds[1:] == _DIGIT)))
    codes = np.flatnonzero(kinds[:-4] == _CODE)
    if len(codes):
        padded = (text[codes + 1] == ord("0")) & (kinds[codes + 2] == _DIGIT)
        at = codes + 1 + padded
        simple = (text[at] >= ord("0")) & (text[at] <= ord("3")) & (kinds[at + 1] != _DIGIT)
        # a blank in front of a digit has been found already
        places.append(codes[~simple])
    return np.concatenate(places)
