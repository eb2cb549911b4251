"""Comparing how the lines are written: comments, line numbers, words."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from headrace.plugins.contract import Facet
from headrace.program import Line, Piece, Program, Text
from headrace.program.program import optional
from headrace.proof.version import Breach

Bools = npt.NDArray[np.bool_]

_COMMENT = re.compile(rb"\((?:[^()\r\n]++|\([^()\r\n]*+\))*+\)|\([^\r\n]*|;[^\r\n]*")
_NUMBER = re.compile(rb"(?mi)^([ \t]*+/?)[ \t]*+N([ \t]*+[0-9][0-9 \t]*+)")
_RARE = 400
"""Lines are picked out for a character that stands for less than one in so many."""
_STOPPING = (0, 1, 2, 30, 60)
_EFFECTS = frozenset(Facet) - {Facet.COMMENTS, Facet.LINE_NUMBERS}


def text_breaches(old: Program, new: Program, may: frozenset[Facet]) -> Iterator[Breach]:
    """Comments, line numbers and words of the lines that the step touched, and whether they are
    optional."""
    if _turned_optional(old, new, may):
        yield Breach("whether lines are optional")
    if {Facet.COMMENTS, Facet.LINE_NUMBERS} <= may and may & _EFFECTS:
        return
    was, now = (_with_line_feeds(text.removeprefix(b"\xef\xbb\xbf")) for text in _touched(old, new))
    if Facet.COMMENTS not in may:
        first, second = (_COMMENT.findall(_lines_with(text, b"(;")) for text in (was, now))
        if first != second:
            yield Breach("comments")
    if may & _EFFECTS:
        was, now = _lines_with(was, b"Nn"), _lines_with(now, b"Nn")
    was, now = _COMMENT.sub(b"", was), _COMMENT.sub(b"", now)
    if _squeezed(was) == _squeezed(now):
        return
    if Facet.LINE_NUMBERS not in may and _numbers(was) != _numbers(now):
        yield Breach("line numbers")
    if not may & _EFFECTS and _words(was) != _words(now):
        yield Breach("words")


def _lines_with(text: bytes, characters: bytes) -> bytes:
    """The lines that hold any of some characters, in order; all of them, where they are many."""
    present = [bytes([character]) for character in characters if character in text]
    if sum(map(text.count, present)) > len(text) // _RARE:
        return text
    begins: dict[int, int] = {}
    for character in present:
        at = text.find(character)
        while at >= 0:
            end = text.find(b"\n", at)
            end = len(text) if end < 0 else end
            begins[text.rfind(b"\n", 0, at) + 1] = end
            at = text.find(character, end)
    return b"\n".join(text[begun : begins[begun]] for begun in sorted(begins))


def _turned_optional(old: Program, new: Program, may: frozenset[Facet]) -> bool:
    """Whether a line that both have begins with a slash in one of them only; stops and ends count
    only where these may not change anyway, and a slash may go where optional lines may be settled.
    A line that became several is optional as a whole."""
    was, now = _optional(old), _optional(new)
    if any(_optional_in_part(piece) for piece in new.pieces):
        return True
    for line in now - was if Facet.OPTIONAL in may else now ^ was:
        first, second = _line_of(old, line), _line_of(new, line)
        if first is None or second is None or not second.is_code:
            continue
        if Facet.STOPS not in may or not second.has("M", *_STOPPING):
            return True
    return False


def _optional(program: Program) -> set[int]:
    """The ids of the lines that begin with a slash."""
    found: set[int] = set()
    for piece in program.pieces:
        found.update(piece.lineage.ids_at(_slashed_in(piece)).tolist())
    return found


def _optional_in_part(piece: Piece) -> bool:
    """Whether a line that became several begins with a slash in some of them only."""
    here = _slashed_in(piece)
    if piece.lineage.ids is None or not len(here):
        return False
    ids = piece.lineage.ids_of(piece.start, piece.stop)
    rows = np.flatnonzero(np.isin(ids, piece.lineage.ids_at(here))) + piece.start
    return any(piece.text.scan(row).is_code for row in np.setdiff1d(rows, here).tolist())


def _slashed_in(piece: Piece) -> npt.NDArray[np.int64]:
    """The lines of a piece (of its text) that begin with a slash and have words."""
    text = piece.text
    lines = text.once("slashed", lambda: _slashed(text))
    return lines[(lines >= piece.start) & (lines < piece.stop)]


def _slashed(text: Text) -> npt.NDArray[np.int64]:
    return np.array([at for at in optional(text).tolist() if text.scan(at).is_code], np.int64)


def _line_of(program: Program, known: int) -> Line | None:
    """The first line with an id."""
    for first, piece in program.numbered_pieces():
        at = np.flatnonzero(piece.lineage.ids_of(piece.start, piece.stop) == known)
        if len(at):
            return program[first + int(at[0])]
    return None


def _with_line_feeds(text: bytes) -> bytes:
    """The text with LF at the end of every line."""
    return text.replace(b"\r\n", b"\n").replace(b"\r", b"\n") if b"\r" in text else text


def _squeezed(text: bytes) -> bytes:
    """The text in capitals, without blanks and empty lines."""
    solid = text.translate(bytes(range(256)).upper(), b" \t")
    return re.sub(rb"\n\n+", b"\n", solid).strip(b"\n")


def _numbers(text: bytes) -> list[bytes]:
    """The line numbers, in order."""
    return [number.translate(None, b" \t") for _, number in _NUMBER.findall(text)]


def _words(text: bytes) -> bytes:
    """The words alone: no line numbers, blanks or empty lines, in capitals."""
    bare = _NUMBER.sub(rb"\1", text).translate(bytes(range(256)).upper(), b" \t\r")
    return re.sub(rb"\n+", b"\n", bare).strip(b"\n")


def _touched(old: Program, new: Program) -> tuple[bytes, bytes]:
    """The bytes of the lines that are not shared, before and after; added lines left out."""
    mine = {id(piece.text) for piece in old.pieces}
    kept: dict[int, list[Piece]] = {}
    after: list[bytes] = []
    for piece in new.pieces:
        if id(piece.text) in mine:
            kept.setdefault(id(piece.text), []).append(piece)
        else:
            known = piece.lineage.ids_of(piece.start, piece.stop) < old.next_id
            after.extend(_lines(piece, known))
    before: list[bytes] = []
    for piece in old.pieces:
        lost = np.ones(len(piece), bool)
        for other in kept.get(id(piece.text), ()):
            lost[max(other.start - piece.start, 0) : max(other.stop - piece.start, 0)] = False
        before.extend(_lines(piece, lost))
    return b"".join(before), b"".join(after)


def _lines(piece: Piece, wanted: Bools) -> Iterator[bytes]:
    """The bytes of the wanted lines of a piece, as runs."""
    edges = np.flatnonzero(np.diff(wanted, prepend=False, append=False))
    starts = piece.text.starts
    for begun, end in zip(edges[::2], edges[1::2], strict=True):
        yield piece.text.data[starts[piece.start + begun] : starts[piece.start + end]]
