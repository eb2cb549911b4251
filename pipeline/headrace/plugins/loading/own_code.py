"""Which lines of a plugin's own code an error came through, as places with excerpts."""

from __future__ import annotations

import linecache
import os
from collections.abc import Iterator
from pathlib import Path
from traceback import FrameSummary, extract_tb, walk_tb
from types import CodeType, FrameType

from headrace.findings import Place


def remember(path: Path, text: str) -> None:
    """Let places show a file as it was run, whatever becomes of it later."""
    lines = text.splitlines(keepends=True)
    linecache.cache[str(path)] = (len(text), None, lines, str(path))


def place_of_code(code: CodeType) -> Place:
    """Where a function begins."""
    return _place(code.co_filename, code.co_firstlineno)


def place_of_error(error: BaseException, home: Path | None) -> Place | None:
    """The last line in the file or folder `home` that an error came through; that of the text
    itself where it is no Python. None where it came through none."""
    if isinstance(error, SyntaxError) and error.filename and error.lineno:
        return _place_of_syntax(error)
    own = [each for each in extract_tb(error.__traceback__) if _is_in(each.filename, home)]
    return _place_of_frame(own[-1]) if own else None


def frames_of_error(error: BaseException, home: Path | None) -> Iterator[FrameType]:
    """The frames of the code in `home` that an error came through, the innermost first."""
    frames = [frame for frame, _ in walk_tb(error.__traceback__)]
    return (frame for frame in reversed(frames) if _is_in(frame.f_code.co_filename, home))


def _is_in(name: str, home: Path | None) -> bool:
    if home is None:
        return False
    return Path(os.path.realpath(name)).is_relative_to(os.path.realpath(home))


def _place_of_syntax(error: SyntaxError) -> Place:
    name, line, column = str(error.filename), error.lineno or 1, error.offset or 1
    text = (error.text or linecache.getline(name, line)).rstrip("\r\n")
    last = error.end_offset or 0
    length = last - column if error.end_lineno == line and last > column else 1
    return Place(name, line, max(1, column), length, text)


def _place_of_frame(frame: FrameSummary) -> Place:
    """Columns of a frame count the bytes of UTF-8."""
    name, line = frame.filename, frame.lineno or 1
    text = linecache.getline(name, line).rstrip("\r\n")
    if frame.colno is None or not text:
        return _place(name, line)
    data = text.encode(errors="replace")
    end = frame.end_colno if frame.end_lineno == line and frame.end_colno else len(data)
    before, meant = data[: frame.colno], data[frame.colno : end]
    column = 1 + len(before.decode(errors="replace"))
    return Place(name, line, column, max(1, len(meant.decode(errors="replace"))), text)


def _place(name: str, line: int) -> Place:
    text = linecache.getline(name, line).rstrip("\r\n")
    bare = text.lstrip()
    return Place(name, line, 1 + len(text) - len(bare), max(1, len(bare)), text)
