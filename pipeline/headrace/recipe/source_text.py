"""The text of a YAML file before it is read as YAML: bytes, characters, lines, places."""

from __future__ import annotations

import re
import stat
from dataclasses import dataclass
from pathlib import Path

from headrace.errors import RecipeError
from headrace.findings import Finding, Place

MOST_BYTES = 1_000_000

# C0 but for tab and line ends, DEL, C1 (with NEL), marks that order text right to left, characters
# without width, line and paragraph separators, halves of characters, and what is no character
# (Unicode 15.1).
_UNSEEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u2069"
    "\ud800-\udfff\ufeff\ufff9-\ufffb\ufffe\uffff]"
)
_LINE_END = re.compile(r"\r\n|\r|\n")


@dataclass(frozen=True, slots=True)
class SourceText:
    """A checked text; `file` is what places call it."""

    file: str
    text: str
    lines: tuple[str, ...]

    @classmethod
    def of(cls, file: str, text: str) -> SourceText:
        """From text; RecipeError for characters that cannot be seen."""
        source = cls(file, text, tuple(_LINE_END.split(text)))
        if unseen := _UNSEEN.search(text):
            raise RecipeError(findings=[_unseen(source, unseen.start(), unseen.group())])
        return source

    def place(self, line: int, column: int, length: int = 1) -> Place:
        """A place, from a line and a column that count from 0; kept inside the text."""
        line = min(line, len(self.lines) - 1)
        excerpt = self.lines[line]
        column = min(column, len(excerpt))
        return Place(self.file, line + 1, column + 1, max(1, length), excerpt)


def read_source(path: Path) -> SourceText:
    """The text of a file; RecipeError when it is no readable, reasonably small UTF-8 file."""
    return decoded(read_bytes(path), str(path))


def read_bytes(path: Path) -> bytes:
    """The bytes of a file, somewhat more than it may have at the most; RecipeError when it is no
    readable file."""
    file = str(path)
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise RecipeError(findings=[Finding.of("recipe-unreadable", f"{file} is no file")])
        with path.open("rb") as stream:
            return stream.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise RecipeError(
            findings=[Finding.of("recipe-missing", f"there is no file {file}")]
        ) from None
    except (OSError, ValueError) as error:
        what = f"{file} cannot be read: {getattr(error, 'strerror', None) or error}"
        raise RecipeError(findings=[Finding.of("recipe-unreadable", what)]) from None


def decoded(data: bytes, file: str) -> SourceText:
    """The text of UTF-8 bytes, with or without a byte order mark; RecipeError otherwise."""
    if len(data) > MOST_BYTES:
        what = f"{file} is larger than {MOST_BYTES:,} bytes"
        raise RecipeError(findings=[Finding.of("recipe-too-large", what, Place(file, 1))])
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise RecipeError(findings=[_not_utf8(data, file, error)]) from None
    return SourceText.of(file, text.removeprefix("\ufeff"))


def has_unseen(text: str) -> bool:
    """Whether a value, after its escapes are read, holds characters that cannot be seen."""
    return _UNSEEN.search(text) is not None


def _not_utf8(data: bytes, file: str, error: UnicodeDecodeError) -> Finding:
    before = _LINE_END.split(data[: error.start].decode("utf-8").removeprefix("\ufeff"))
    place = Place(file, len(before), len(before[-1]) + 1)
    what = f"byte {data[error.start]:#04x} here is no UTF-8"
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        what = "the file is in a two-byte encoding, not in UTF-8"
    return Finding.of("recipe-encoding", what, place)


def _unseen(source: SourceText, index: int, character: str) -> Finding:
    before = _LINE_END.split(source.text[:index])
    place = source.place(len(before) - 1, len(before[-1]))
    return Finding.of("recipe-character", f"character U+{ord(character):04X} stands here", place)
