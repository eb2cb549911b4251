"""Lines of a program as bytes, for steps that touch nothing but text."""

from __future__ import annotations

import re

from headrace import Program

COMMENTS = re.compile(rb"\((?:[^()\r\n]++|\([^()\r\n]*+\))*+\)|\([^\r\n]*|;[^\r\n]*")
"""A comment as it is read: nested once or not at all, or open to the end of the line."""

BOM = b"\xef\xbb\xbf"


def stretch(program: Program, start: int, stop: int) -> bytes:
    """The bytes of the lines `start` to `stop`."""
    return b"".join(piece.data for _, piece in program.pieces_between(start, stop))


def lines_of(data: bytes) -> list[bytes]:
    """The lines of some bytes, each with its line end: LF, CR LF or CR alone."""
    return data.splitlines(keepends=True)


def text_of(line: bytes) -> str:
    """The characters of a line, without line end: UTF-8, or Latin-1 where it is none."""
    line = line.rstrip(b"\r\n")
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        return line.decode("latin-1")


def words_of(line: bytes) -> bytes:
    """A line without comments, blanks and line end."""
    if b"(" in line or b";" in line:
        line = COMMENTS.sub(b"", line)
    return line.translate(None, b" \t\r\n").removeprefix(BOM)


def without_blanks(data: bytes) -> bytes:
    """Some bytes without blanks, but for those in comments."""
    if b"(" not in data and b";" not in data:
        return data.translate(None, b" \t")
    parts: list[bytes] = []
    last = 0
    for match in COMMENTS.finditer(data):
        parts.append(data[last : match.start()].translate(None, b" \t"))
        parts.append(match.group())
        last = match.end()
    parts.append(data[last:].translate(None, b" \t"))
    return b"".join(parts)


def encoded(text: str, raw: bytes) -> bytes:
    """A text, written as the line (its bytes) in whose place it stands."""
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return text.encode("latin-1", "backslashreplace")
    return text.encode("utf-8")
