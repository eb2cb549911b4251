"""Lines that are longer than the machine reads."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from headrace import Edit, Facet, Job, Line, Program, replace, transform
from headrace_transforms.lines.splitting import parts
from headrace_transforms.lines.text_lines import COMMENTS, without_blanks
from headrace_transforms.paths.reach import runs
from headrace_transforms.telling.refusing import place_of, refusal


@transform(
    "short-lines", changes=[Facet.SPELLING, Facet.COMMENTS, Facet.LINE_NUMBERS], idempotent=True
)
def short_lines(job: Job) -> Iterator[Edit]:
    """Shorten lines that are longer than the machine reads.

    First blanks go, then zeros that mean nothing, then the line number. A line that is still too
    long is split where it says several things, in the order in which they are carried out
    (RS274/NGC table 8): feed, speed and switches, then the move, then the stop. What cannot be
    split is refused. What is too long by its comments alone is for the step `comments`.

        N10 G01 X010.500 Y2.000 S12000 M03 (SIDE)        ->        G1X10.5Y2S12000M3 (SIDE)
    """
    for index in _long(job).tolist():
        line = job.program[index]
        if runs(job, index):
            yield replace(index, *_shortened(job, line))


def needs_short_lines(job: Job) -> dict[str, Any] | None:
    """The options of the step where lines are longer than the machine reads; else None."""
    return {} if any(runs(job, index) for index in _long(job).tolist()) else None


def _long(job: Job) -> np.ndarray[Any, np.dtype[np.int64]]:
    """The lines that are too long even without their comments, ascending."""
    most = job.machine.line_length
    found = [np.zeros(0, np.int64)]
    for first, piece in job.program.numbered_pieces():
        lengths = np.diff(piece.text.starts[piece.start : piece.stop + 1])
        lines = np.flatnonzero(lengths > most) + first
        longer = [line for line in lines.tolist() if _size(_bare(job.program[line].text)) > most]
        found.append(np.array(longer, np.int64))
    return np.concatenate(found)


def _bare(text: str) -> str:
    """A line without its comments."""
    return COMMENTS.sub(b"", text.encode("utf-8", "replace")).decode("utf-8", "replace").rstrip()


def _shortened(job: Job, line: Line) -> Sequence[str]:
    """The texts that a line becomes: one, if one is short enough."""
    most = job.machine.line_length
    point = job.machine.decimal_point == "required"
    text = _without_blanks(line.text)
    if _size(_bare(text)) > most:
        text = _without_zeros(text, point)
    if _size(_bare(text)) > most and job.machine.line_numbers != "required":
        text = _without_number(text)
    if _size(_bare(text)) <= most:
        return [text]
    place = place_of(job.program, line)
    if line.comments:
        what = f"{_size(_bare(text))} characters and a comment, and the machine reads {most}"
        remedy = "put the comment on a line of its own"
        raise refusal("line-no-room", what, place=place, remedy=remedy)
    split = None if line.asks else parts(job, _read(text), most)
    if split is None:
        what = f"{_size(text)} characters, the machine reads {most}, and no part can go before it"
        raise refusal("line-unsplittable", what, place=place)
    return split


def _size(text: str) -> int:
    return len(text.encode("utf-8", "replace"))


def _read(text: str) -> Line:
    return Program.read(text.encode("utf-8", "replace"))[0]


def _without_blanks(text: str) -> str:
    """
    >>> _without_blanks("G1 X1 (A B) Y2")
    'G1X1(A B)Y2'
    """
    return without_blanks(text.encode("utf-8", "replace")).decode("utf-8")


def _without_zeros(text: str, point: bool) -> str:
    """Words with the fewest figures that say the same, and with their point where it is needed.

    >>> _without_zeros("N010 G01X+010.500Y-0.Z.5", False), _without_zeros("X1.0", True)
    ('N010 G1X10.5Y0Z.5', 'X1.')
    """
    line = _read(text)
    spelling = {}
    for word in line.words:
        if word.value is not None:
            written = text[word.start : word.end]
            pointed = point and "." in written and "." not in word.code
            spelling[word] = min(word.code + "." * pointed, written, key=len)
    return line.rewritten(spelling)


def _without_number(text: str) -> str:
    """
    >>> _without_number("/N10G1X1")
    '/G1X1'
    """
    span = _read(text).scan.number_span
    return text if span is None else text[: span[0]] + text[span[1] :]
