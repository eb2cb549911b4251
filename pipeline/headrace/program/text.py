"""Source bytes with their lines, and columns of words over them.

Jobs have up to millions of lines, so a text is not a list of line objects. It is the bytes as they
are, the offsets of the lines, and NumPy columns of words, kept in chunks that fit the processor's
cache.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import cached_property
from itertools import pairwise
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from headrace.program.columns import COMMENT, ODD, RARE, Chunk, read_columns
from headrace.program.grammar import Scan, scan
from headrace.program.sealing import seal

Longs = npt.NDArray[np.int64]
Made = TypeVar("Made")

CHUNK_BYTES = 1 << 20
SMALL = 4096
"""Below this many bytes scanning beats the fixed cost of array calls."""
MANY_CHUNKS = 8
"""From this many chunks on they are read in two threads."""
BOM = b"\xef\xbb\xbf"


class Text:
    """Immutable bytes with their lines and words. Never raises, whatever the bytes are."""

    __slots__ = ("__dict__", "data", "starts")

    def __init__(self, data: bytes) -> None:
        self.data: bytes = data
        self.starts: Longs = _line_starts(data)
        seal(self.starts)

    def __len__(self) -> int:
        return len(self.starts) - 1

    def raw(self, index: int) -> bytes:
        """One line with its line end."""
        return self.data[self.starts[index] : self.starts[index + 1]]

    def line_text(self, index: int) -> str:
        """One line without its line end (and without a byte-order mark on the first line).

        UTF-8 where it is valid, else Latin-1, so that no byte is ever lost from view.
        """
        raw = self.raw(index).rstrip(b"\r\n")
        if index == 0 and self.starts[0] == 0:
            raw = raw.removeprefix(BOM)
        try:
            return raw.decode("utf-8")
        except UnicodeDecodeError:
            return raw.decode("latin-1")

    @cached_property
    def line_end(self) -> str:
        """The line end that most lines have; LF where there is none."""
        data = self.data
        if b"\r" not in data:
            return "\n"
        pairs = data.count(b"\r\n")
        counts = {"\n": data.count(b"\n") - pairs, "\r\n": pairs, "\r": data.count(b"\r") - pairs}
        return max(counts, key=lambda end: counts[end])

    def scan(self, index: int) -> Scan:
        """One line by the grammar; kept for small texts, where steps ask again and again."""
        found = self._scans.get(index)
        if found is None:
            found = scan(self.line_text(index))
            if len(self._scans) < 20_000:
                self._scans[index] = found
        return found

    @cached_property
    def _scans(self) -> dict[int, Scan]:
        return {}

    @cached_property
    def chunks(self) -> tuple[Chunk, ...]:
        """The columns, in chunks of about a mebibyte."""
        bounds = list(pairwise(self._bounds()))
        if len(bounds) < MANY_CHUNKS:
            return tuple(self._chunk(*bound) for bound in bounds)
        # array calls let another thread run; more than two would cost more room than they save time
        with ThreadPoolExecutor(2) as pool:
            return tuple(pool.map(lambda bound: self._chunk(*bound), bounds))

    def once(self, key: object, make: Callable[[], Made]) -> Made:
        """What `make` gives, made once for as long as the text lives: all programs that hold the
        text share what was worked out for it."""
        if key not in self._made:
            self._made[key] = make()
        made: Made = self._made[key]
        return made

    @cached_property
    def _made(self) -> dict[object, Any]:
        return {}

    def _bounds(self) -> Iterator[int]:
        """The first line of each chunk, and the number of lines."""
        line = 0
        yield line
        while line < len(self):
            end = int(np.searchsorted(self.starts, self.starts[line] + CHUNK_BYTES, "right")) - 1
            line = min(max(end, line + 1), len(self))
            yield line

    def _chunk(self, line: int, end: int) -> Chunk:
        if len(self.data) < SMALL:
            return _scanned(self, line, end)
        raw = self.data[self.starts[line] : self.starts[end]]
        return read_columns(raw.removeprefix(BOM) if line == 0 else raw, line)


def _line_starts(data: bytes) -> Longs:
    """Offsets of line starts, and the length of the data: LF, CR LF and lone CR end a line."""
    codes = np.frombuffer(data, np.uint8)
    starts = [np.zeros(1, np.int64)]
    for window in range(0, len(data), CHUNK_BYTES):
        part = codes[window : window + CHUNK_BYTES + 1]
        ends = part[:CHUNK_BYTES] == ord("\n")
        returns = part[:CHUNK_BYTES] == ord("\r")
        if returns.any():
            following = part[1 : CHUNK_BYTES + 1]
            returns[: len(following)] &= following != ord("\n")
            ends |= returns
        starts.append(np.flatnonzero(ends) + (window + 1))
    offsets = np.concatenate(starts)
    return offsets if offsets[-1] == len(data) else np.append(offsets, len(data))


def _scanned(text: Text, first: int, end: int) -> Chunk:
    """Columns of a few lines, without words: every line is to be scanned."""
    count = end - first
    flags = np.full(count, ODD | RARE, np.uint8)
    for index in range(count):
        if text.scan(first + index).comments:
            flags[index] |= COMMENT
    nothing = np.zeros(0, np.uint8)
    return Chunk(
        first_line=first,
        first_word=np.zeros(count + 1, np.int32),
        flags=flags,
        letters=np.zeros(count, np.int32),
        letter=nothing,
        mantissa=np.zeros(0, np.int64),
        scale=nothing,
    )
