"""Is this a milling job at all? Judged from the whole file, after it was read and interpreted."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from headrace.findings import Finding, Place
from headrace.language.trace import EventKind, Trace
from headrace.program import Program, Text
from headrace.program.columns import ODD, RARE

Longs = npt.NDArray[np.int64]

_MOST_CHARACTERS = 256
_AT_ONCE = 1 << 16
_LOOKED_AT = 2000
_OLD_END = b"\x1a"
_LONGEST = 400
"""Kinds of files are told by their first lines that are no plain moves, and by their beginnings."""

_SIGNS = (
    ("conflict-marks", re.compile(r"(?:<{7}|={7}|>{7})(?: |$)"), "a mark of an unsettled merge"),
    ("additive-job", re.compile(r"M ?(?:104|109|140|190)(?!\d)"), "a heater is set"),
    ("additive-job", re.compile(r"G ?0*[01] [^(;]{0,80}E ?[-+.\d]"), "a move with extruder words"),
    (
        "robot-program",
        re.compile(r"(?:DEF|PROC|PROGRAM|MODULE|MOVE[JLC]?|PTP|LIN|/PROG|/JOB|&ACCESS)\b"),
        "a word of a robot's language",
    ),
    ("lathe-program", re.compile(r"(?:N ?\d+ ?)?G ?(?:96|97)(?![\d.])"), "a word of a lathe"),
)
"""Kinds of files and what gives them away at the beginning of a line."""

_UNFOLLOWED = frozenset(("subprogram", "subprogram-missing", "subprogram-endless"))
"""Findings that tell that subprograms are not followed."""

ALIEN = _UNFOLLOWED | {"binary-file", "wide-characters", *(name for name, _, _ in _SIGNS)}
"""Findings that tell a file of another kind: nothing else about it matters."""

LIMITS = frozenset(("line-number-long", "line-too-long"))
"""Findings on lengths: a step may mend them."""

MENDABLE = frozenset(("length-table",))
"""Findings that refuse a job only where no step takes out what they tell of."""

WHOLE = LIMITS | {
    "end-of-file-mark",
    "no-motion",
    "place-unknown",
    "text-after-end",
    "no-end",
    "cut-short",
    "units-not-stated",
    "units-changed",
    "speed-not-followed",
}
"""Findings on a file as a whole, not on what one line says."""


def examine(program: Program, trace: Trace, assumed_units: str | None) -> list[Finding]:
    """What speaks against the file as a whole; of files of another kind, the first sign only."""
    alien = next(_alien(program), None)
    if alien is None:
        alien = next((f for f in trace.findings if f.name in _UNFOLLOWED), None)
    if alien is not None:
        return [alien]
    return list(_whole(program, trace, assumed_units))


def _alien(program: Program) -> Iterator[Finding]:
    data = program.pieces[0].text.data if program.pieces else b""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or data[1:64:2].count(0) > 20:
        yield Finding.of("wide-characters", "the file is in a two-byte encoding", _at(program, 0))
    elif b"\0" in data:
        line = int(np.searchsorted(program.pieces[0].text.starts, data.index(b"\0"), "right")) - 1
        yield Finding.of("binary-file", "a NUL byte: this is no text", _at(program, line))
    rubbish = sum(data[:4096].count(code) for code in (*range(1, 9), *range(14, 32)))
    if rubbish * 50 > len(data[:4096]):
        yield Finding.of("binary-file", "control characters throughout", _at(program, 0))
    for index in program.lines_flagged(RARE)[:_LOOKED_AT].tolist():
        text = program[index].text[:_LONGEST].upper()
        start = len(text) - len(text.lstrip())
        for name, sign, what in _SIGNS:
            if sign.match(text, start):
                yield Finding.of(name, what, _at(program, index))


def _whole(program: Program, trace: Trace, assumed_units: str | None) -> Iterator[Finding]:
    units = list(trace.events_of(EventKind.UNITS))
    if not len(trace):
        if not trace.findings:
            yield Finding.of("no-motion", "the job moves nothing", _at(program, 0))
    elif assumed_units is None:
        first = int(trace.blocks[0].line[0])
        older = program.lines_with("G", 70, 71)  # told as words that are not of the language
        if not any(event.line <= first for event in units) and not len(older):
            what = f"the job moves before any G20 or G21{_size(trace)}"
            yield Finding.of("units-not-stated", what, _at(program, first))
    yield from _places(program, trace)
    if len({event.value for event in units}) > 1:
        yield Finding.of("units-changed", "the job uses inch and mm", _at(program, units[-1].line))
    yield from _ending(program, trace)
    yield from limits(program)


def _size(trace: Trace) -> str:
    """How large the job is in X and Y, in its own numbers: a person sees the unit from that."""
    sizes = []
    for axis in (0, 1):
        ends = [block.ends[axis] for block in trace.blocks]
        known = np.concatenate([end[np.isfinite(end)] for end in ends])
        sizes.append(float(np.ptp(known)) if len(known) else 0.0)
    return f"; its numbers go over {sizes[0]:.4g} by {sizes[1]:.4g}" if any(sizes) else ""


def _places(program: Program, trace: Trace) -> Iterator[Finding]:
    """A job that never says where, only how far: it goes on from wherever the machine stands."""
    if not len(trace):
        return
    for axis, name in enumerate("XYZ"):
        if any(np.isfinite(block.ends[axis]).any() for block in trace.blocks):
            continue
        lines = program.lines_with(name)
        if len(lines):
            what = f"every {name} counts from wherever the machine stands"
            yield Finding.of("place-unknown", what, _at(program, int(lines[0])))
            return


def _ending(program: Program, trace: Trace) -> Iterator[Finding]:
    if trace.ended_at is None:
        opening = next((line for line in program if line.scan.percent or line.is_code), None)
        if opening is not None and opening.scan.percent:
            what = "a % opens the program and none ends it"
            yield Finding.of("cut-short", what, _at(program, opening.index))
        elif opening is not None:
            yield Finding.of("no-end", "no M2 or M30", _at(program, len(program) - 1))
        return
    bodies = trace.calls.definitions
    for index in range(trace.ended_at + 1, len(program)):
        if bodies and index > bodies[0].last:
            bodies = bodies[1:]
        if bodies and index >= bodies[0].first:
            continue
        if program[index].raw.strip() == _OLD_END:
            what = "behind the program end stands an old mark for the end of a file (Ctrl-Z)"
            yield Finding.of("end-of-file-mark", what, _at(program, index))
        elif program[index].is_code:
            yield Finding.of("text-after-end", "words behind the program end", _at(program, index))
            return


def limits(program: Program) -> Iterator[Finding]:
    """Lengths that the standard limits: of line numbers (3.3.1) and lines (3.3)."""
    for first, piece in program.numbered_pieces():
        for name, what, lines in (
            ("line-number-long", "a line number of more than five digits", _numbered_long),
            ("line-too-long", f"a line of more than {_MOST_CHARACTERS} characters", _long),
        ):
            found = lines(piece.text)
            here = found[(found >= piece.start) & (found < piece.stop)]
            if len(here):
                yield Finding.of(name, what, _at(program, first + int(here[0]) - piece.start))


def _numbered_long(text: Text) -> Longs:
    """Lines of a text with a line number of more than five digits, ascending."""
    return text.once("numbered-long", lambda: np.array(sorted(_long_numbers(text)), np.int64))


def _long_numbers(text: Text) -> Iterator[int]:
    for chunk in text.chunks:
        numbers = np.flatnonzero(chunk.letter == ord("N"))
        for word in numbers[chunk.mantissa[numbers] > 99_999]:
            yield chunk.first_line + int(chunk.line[word])
        for line in np.flatnonzero(chunk.flags & ODD) + chunk.first_line:
            if len(text.scan(int(line)).number or "") > 5:
                yield int(line)


def _long(text: Text) -> Longs:
    """Lines of a text that are too long, their line end not counted, ascending."""
    return text.once("long", lambda: np.array(list(_long_lines(text)), np.int64))


def _long_lines(text: Text) -> Iterator[int]:
    for begun in range(0, len(text), _AT_ONCE):
        lengths = np.diff(text.starts[begun : begun + _AT_ONCE + 1])
        for line in (np.flatnonzero(lengths > _MOST_CHARACTERS) + begun).tolist():
            if len(text.raw(line).rstrip(b"\r\n")) > _MOST_CHARACTERS:
                yield line


def _at(program: Program, index: int) -> Place | None:
    """The place of a line; None in a program without lines."""
    return program.place(index) if index < len(program) else None
