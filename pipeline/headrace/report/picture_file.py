"""A drawing as a file of its own: SVG, or PNG by the library resvg.

Each holds a mark with the SHA-256 of the rest: so headrace knows again what it wrote, and whether
somebody has changed it since.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

from headrace.errors import CardError
from headrace.findings import Finding
from headrace.picture.drawing import Drawing

_COMMENT, _END = b"<!-- headrace-picture/1 ", b" -->\n"
_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_HEADER = len(_SIGNATURE) + 25
"""Bytes up to the end of a PNG's first chunk, IHDR (PNG, 3rd edition, 5.6 and 11.2.1)."""
_KEY = b"Software\0headrace-picture/1 "
_LARGEST = 1 << 28
_PAPER = "#ffffff"
_DPI = 96.0
"""CSS has 96 pixels to an inch (CSS Values and Units 4, 6.2)."""


def svg_of(drawing: Drawing) -> bytes:
    """The drawing as an SVG file."""
    from headrace.picture.standalone import standalone

    data = standalone(drawing)
    return data + _COMMENT + _digest(data) + _END


def png_of(drawing: Drawing, width: int) -> bytes:
    """The drawing as a PNG file, `width` pixels wide.

    Raises ImportError where the library is not there, and CardError where there is no font.
    """
    from resvg_py import svg_to_bytes

    from headrace.picture.standalone import standalone
    from headrace.picture.style import FONT

    _need_letters(FONT)
    svg = standalone(drawing).decode("utf-8")
    data = bytes(svg_to_bytes(svg_string=svg, width=width, background=_PAPER, dpi=_DPI))
    head, rest = data[:_HEADER], data[_HEADER:]
    return head + _chunk(b"tEXt", _KEY + _digest(head + rest)) + rest


def in_the_way(path: Path) -> Iterator[Finding]:
    """What writing a picture to `path` would overwrite that is not ours."""
    if not (path.is_file() and not path.is_symlink() and _is_ours(path)):
        what = f"{path} is there already and is no picture as headrace wrote it"
        yield Finding.of("picture-not-ours", what)


def _is_ours(path: Path) -> bool:
    try:
        if path.stat().st_size > _LARGEST:
            return False
        data = path.read_bytes()
    except OSError:
        return False
    if data.startswith(_SIGNATURE):
        head, rest = data[:_HEADER], data[_HEADER:]
        length = len(_chunk(b"tEXt", _KEY + _digest(b"")))
        mark, rest = rest[:length], rest[length:]
        return mark == _chunk(b"tEXt", _KEY + _digest(head + rest))
    drawing, comment, digest = data.rpartition(_COMMENT)
    return bool(comment) and digest == _digest(drawing) + _END


def _digest(data: bytes) -> bytes:
    return sha256(data).hexdigest().encode("ascii")


def _chunk(kind: bytes, data: bytes) -> bytes:
    """A chunk of a PNG: length, kind, data and check sum (PNG, 3rd edition, 5.3)."""
    check = zlib.crc32(kind + data)
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", check)


def _need_letters(font: str) -> None:
    """Raise CardError where letters would be left out of a picture, for want of a font."""
    from resvg_py import svg_to_bytes

    empty, lettered = (
        bytes(
            svg_to_bytes(
                svg_string='<svg xmlns="http://www.w3.org/2000/svg" width="20" height="20">'
                f'<text x="2" y="16" font-size="16" font-family="{font}">{text}</text></svg>'
            )
        )
        for text in ("", "8")
    )
    if empty == lettered:
        what = "no font was found here with which the picture's labels could be drawn"
        raise CardError(findings=[Finding.of("picture-without-letters", what)])
