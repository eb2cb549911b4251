"""Applying edits: the next program from the last one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from headrace.errors import PluginError
from headrace.findings import Finding
from headrace.program.edits import Action, Cause, Edit, Stretch
from headrace.program.lineage import Lineage
from headrace.program.program import Piece, Program
from headrace.program.text import BOM, Text

_MOST_PIECES = 2048
"""Above this many pieces a program is joined into one text again."""
_AT_ONCE = 1 << 14
"""So many lines are compared at once."""


@dataclass(slots=True)
class _Run:
    """Lines written by this step, one behind the other."""

    parts: list[bytes] = field(default_factory=list)
    ids: list[int] = field(default_factory=list)
    next_id: int = 0
    causes: list[Cause | None] = field(default_factory=list)
    asks: dict[int, str] = field(default_factory=dict)

    def add(self, data: bytes, known: int | None, cause: Cause | None, asks: str | None) -> None:
        """A line; `known` is its id, None for a new line."""
        if self.parts and self.parts[-1].endswith(b"\r") and data.startswith(b"\n"):
            data = b"\r" + data  # else the two line ends would become one, CR LF
        if asks is not None:
            self.asks[len(self.parts)] = asks
        self.parts.append(data)
        if known is None:
            known = self.next_id
            self.next_id += 1
        self.ids.append(known)
        self.causes.append(cause)

    def end_line(self, line_end: str) -> None:
        """Give the last line a line end where it has none, as another line follows."""
        if not self.parts[-1].endswith((b"\n", b"\r")):
            self.parts[-1] += line_end.encode()

    def piece(self) -> Piece:
        kinds = tuple(dict.fromkeys(self.causes))
        which = [kinds.index(cause) for cause in self.causes]
        lineage = Lineage(np.array(self.ids, np.int32), kinds, np.array(which, np.int32), self.asks)
        return Piece(Text(b"".join(self.parts)), 0, len(self.parts), lineage)


def apply(program: Program, edits: Iterable[Edit], cause: Cause) -> Program:
    """The program with the edits done, in the order of lines and, at one line, as given."""
    pieces: list[Piece] = []
    run = _Run(next_id=program.next_id)
    reached = 0
    changed = False
    for line, here in _by_line(program, edits, cause):
        if line < reached:
            raise _fault(cause, f"an edit of line {line + 1} inside a stretch that is rewritten")
        stretch = here[0].stretch
        if run.parts and (line > reached or stretch is not None):
            pieces.append(run.piece())
            run = _Run(next_id=run.next_id)
        if line > reached:
            pieces.extend(_kept(program, reached, line))
            reached = line
        if stretch is not None:
            if len(here) > 1:
                raise _fault(cause, f"another edit of line {line + 1}, where a stretch begins")
            pieces.extend(
                piece for piece in [_rewritten(program, line, stretch, cause)] if len(piece)
            )
            reached = stretch.stop
            changed = True
            continue
        changed = _edit_line(program, line, here, cause, run, pieces) or changed
        if line < len(program):
            reached = line + 1
    if not changed:
        return program
    if run.parts:
        pieces.append(run.piece())
    pieces.extend(_kept(program, reached, len(program)))
    pieces = list(_apart(pieces))
    if len(pieces) > _MOST_PIECES:
        pieces = [_joined(pieces)]
    return Program(pieces, program.name, program.job_lines, run.next_id)


def _by_line(
    program: Program, edits: Iterable[Edit], cause: Cause
) -> Iterator[tuple[int, list[Edit]]]:
    """Edits by the line that they stand at; an insertion at the end stands at the length."""
    by_line: dict[int, list[Edit]] = {}
    for edit in edits:
        if not isinstance(edit, Edit):
            raise _fault(cause, f"{edit!r}, which is no edit")
        highest = len(program) - (edit.action is not Action.BEFORE)
        if not 0 <= edit.line <= highest:
            raise _fault(cause, f"an edit at line {edit.line + 1}, which is not there")
        for text in edit.texts:
            if not isinstance(text, str):
                raise _fault(cause, f"{text!r} as a line, which is no text")
            if "\n" in text.rstrip("\r\n") or "\r" in text.rstrip("\r\n"):
                raise _fault(cause, f"a text of several lines, {text!r}, given as one")
        by_line.setdefault(edit.line, []).append(edit)
    yield from sorted(by_line.items())


def _edit_line(
    program: Program,
    line: int,
    edits: list[Edit],
    cause: Cause,
    run: _Run,
    pieces: list[Piece],
) -> bool:
    """Do the edits of one line: what goes before it, the line itself, what goes after it."""
    rewriting = [edit for edit in edits if edit.action in (Action.REPLACE, Action.DELETE)]
    if len(rewriting) > 1:
        raise _fault(cause, f"line {line + 1} is replaced or deleted twice")
    inserted = [edit for edit in edits if edit.action is Action.BEFORE]
    if inserted and run.parts:
        run.end_line(program.line_end)
    elif inserted and pieces:
        _finish(pieces, program.line_end, run)
    mark = b"" if rewriting or line else _mark(program)
    for edit in inserted:
        for text in edit.texts:
            run.add(mark + _encoded(text, program.line_end), None, cause, edit.asks)
            mark = b""
    changed = bool(inserted)
    if line == len(program):
        return changed
    view = program[line]
    own_end = view.raw[len(view.raw.rstrip(b"\r\n")) :].decode() or program.line_end
    if not rewriting:
        raw = view.raw
        if line == len(program) - 1 and not raw.endswith((b"\n", b"\r")):
            raw += program.line_end.encode() if len(edits) > len(inserted) else b""
        if run.parts and line == 0:
            raw = raw.removeprefix(BOM) or program.line_end.encode()
        run.add(raw, view.id, view.cause, view.asks)
    for edit in rewriting:
        changed = True
        for text in edit.texts:
            asks = edit.asks or view.asks
            run.add(_encoded(text, own_end, _encoding(view.raw)), view.id, cause, asks)
    for edit in edits:
        if edit.action is Action.AFTER:
            changed = True
            for text in edit.texts:
                run.add(_encoded(text, program.line_end), None, cause, edit.asks)
    return changed


def _mark(program: Program) -> bytes:
    """The byte-order mark, which stays at the very beginning when lines are put before it."""
    return BOM if len(program) and program[0].raw.startswith(BOM) else b""


def _finish(pieces: list[Piece], line_end: str, run: _Run) -> None:
    """Give the last line so far a line end, where it has none and another line follows."""
    last = pieces[-1]
    raw = last.text.raw(last.stop - 1)
    if raw.endswith((b"\n", b"\r")):
        return
    at = last.stop - 1
    known = int(last.lineage.ids_of(at, at + 1)[0])
    pieces[-1] = Piece(last.text, last.start, at, last.lineage)
    run.add(
        raw + line_end.encode(),
        known,
        last.lineage.cause(at),
        last.lineage.asks.get(at),
    )


def _encoded(text: str, line_end: str, encoding: str = "utf-8") -> bytes:
    whole = text if text.endswith(("\n", "\r")) else text + line_end
    return whole.encode(encoding, "backslashreplace")


def _encoding(raw: bytes) -> str:
    """How a line is written, so that its replacement is written alike."""
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"


def _kept(program: Program, start: int, stop: int) -> Iterator[Piece]:
    """The pieces of the lines `start` to `stop`."""
    return (piece for _, piece in program.pieces_between(start, stop))


def _apart(pieces: Iterable[Piece]) -> Iterator[Piece]:
    """The pieces, with an empty line's LF written as CR LF where a lone CR stands before it: the
    two would be read as one line end."""
    returned = False
    for piece in pieces:
        if returned and bytes(piece.data[:1]) == b"\n":
            empty = Piece(piece.text, piece.start, piece.start + 1, piece.lineage)
            yield Piece(Text(b"\r\n"), 0, 1, _lineage([empty]))
            returned = False
            piece = Piece(piece.text, piece.start + 1, piece.stop, piece.lineage)
        if len(piece):
            yield piece
            returned = bytes(piece.data[-1:]) == b"\r"


def _joined(pieces: list[Piece]) -> Piece:
    """Many pieces as one, over a text of its own."""
    text = Text(b"".join(piece.data for piece in pieces))
    return Piece(text, 0, sum(len(piece) for piece in pieces), _lineage(pieces))


def _lineage(pieces: list[Piece]) -> Lineage:
    """Where the lines of many pieces come from, one behind the other."""
    causes: dict[Cause | None, int] = {}
    ids = [np.zeros(0, np.int32)]
    which = [np.zeros(0, np.int32)]
    asks: dict[int, str] = {}
    line = 0
    for piece in pieces:
        lineage = piece.lineage
        ids.append(lineage.ids_of(piece.start, piece.stop))
        table = np.array([causes.setdefault(cause, len(causes)) for cause in lineage.causes])
        if lineage.which is None:
            which.append(np.full(len(piece), table[0], np.int32))
        else:
            which.append(table[lineage.which[piece.start : piece.stop]].astype(np.int32))
        for at, asked in lineage.asks.items():
            if piece.start <= at < piece.stop:
                asks[line + at - piece.start] = asked
        line += len(piece)
    return Lineage(np.concatenate(ids), tuple(causes), np.concatenate(which), asks)


def _rewritten(program: Program, start: int, stretch: Stretch, cause: Cause) -> Piece:
    """A stretch with new text: lines keep their identity, and their cause where nothing changed."""
    pieces = list(_kept(program, start, stretch.stop))
    old = pieces[0] if len(pieces) == 1 else _joined(pieces)
    kept = np.arange(len(old)) if stretch.kept is None else stretch.kept - start
    text = Text(stretch.data)
    if len(text) != len(kept) or start + len(old) != stretch.stop:
        what = f"{len(text)} lines in the place of {len(kept)}, from line {start + 1}"
        raise _fault(cause, what)
    lineage = _lineage(pieces)
    assert lineage.ids is not None
    assert lineage.which is not None
    changed = _changed(old.text, text, kept + old.start)
    causes = (*lineage.causes, cause)
    which = np.where(changed, len(causes) - 1, lineage.which[kept]).astype(np.int32)
    asks = {}
    for line, asked in lineage.asks.items():
        at = int(np.searchsorted(kept, line))
        if at < len(kept) and kept[at] == line:
            asks[at] = asked
    if len(asks) != len(lineage.asks):
        raise _fault(cause, "a stretch without a line that asks the operator")
    return Piece(text, 0, len(text), Lineage(lineage.ids[kept], causes, which, asks))


def _changed(old: Text, new: Text, kept: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
    """For each line of `new` (n) whether its bytes are others than those of its old line."""
    begun, lengths = old.starts[kept], old.starts[kept + 1] - old.starts[kept]
    changed: npt.NDArray[np.bool_] = lengths != np.diff(new.starts)
    was, now = np.frombuffer(old.data, np.uint8), np.frombuffer(new.data, np.uint8)
    even = np.flatnonzero(~changed)
    for at in range(0, len(even), _AT_ONCE):
        lines = even[at : at + _AT_ONCE]
        sizes = lengths[lines]
        ends = np.cumsum(sizes)
        places = np.arange(int(ends[-1])) - np.repeat(ends - sizes, sizes)
        first = was[places + np.repeat(begun[lines], sizes)]
        second = now[places + np.repeat(new.starts[lines], sizes)]
        changed[lines] = np.logical_or.reduceat(first != second, ends - sizes)
    return changed


def _fault(cause: Cause, what: str) -> PluginError:
    return PluginError(
        findings=[Finding.of("edits-faulty", f"step `{cause.step}` gave {what}", cause.place)]
    )
