"""Ranges of lines of a program, found without going through all its pieces."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator

from headrace.program import Piece, Program


class Ranges:
    """Looks up ranges of lines of one program."""

    def __init__(self, program: Program) -> None:
        numbered = list(program.numbered_pieces())
        self.length: int = len(program)
        self._firsts = [first for first, _ in numbered]
        self._pieces = [piece for _, piece in numbered]

    def parts(self, start: int, stop: int) -> Iterator[tuple[Piece, int, int]]:
        """The pieces of the lines `start` to `stop`, each with the range in its own text."""
        which = max(0, bisect_right(self._firsts, start) - 1)
        while which < len(self._pieces) and self._firsts[which] < stop:
            first, piece = self._firsts[which], self._pieces[which]
            low, high = max(start, first), min(stop, first + len(piece))
            if low < high:
                shift = piece.start - first
                yield piece, low + shift, high + shift
            which += 1

    def data(self, start: int, stop: int) -> bytes:
        """The bytes of the lines `start` to `stop`."""
        found = []
        for piece, low, high in self.parts(start, stop):
            starts = piece.text.starts
            found.append(piece.text.data[starts[low] : starts[high]])
        return b"".join(found)
