"""Which lines of a result are which lines of its source: told by lineage, not searched for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from headrace.program import Piece, Program


@dataclass(frozen=True, slots=True)
class Change:
    """Lines `old_start` to `old_stop` of the source stand as `new_start` to `new_stop` in the
    result (all from 0). Between two changes both are equal, byte for byte."""

    old_start: int
    old_stop: int
    new_start: int
    new_stop: int


def changes_between(source: Program, result: Program) -> list[Change]:
    """The changes that make `result`, which steps made of `source`, in order."""
    return list(_merged(_steps(source, result)))


def _steps(source: Program, result: Program) -> Iterator[Change]:
    """Changes as they are met, many of a single line."""
    old = 0
    for first, piece in result.numbered_pieces():
        if _is_own(source, piece):
            if piece.start > old:
                yield Change(old, piece.start, first, first)
            old = piece.stop
            continue
        new = first
        for known, kept in _compared(source, piece):
            if known >= source.job_lines or known < old:
                yield Change(old, old, new, new + 1)
            elif kept:
                if known > old:
                    yield Change(old, known, new, new)
                old = known + 1
            else:
                yield Change(old, known + 1, new, new + 1)
                old = known + 1
            new += 1
    if old < len(source):
        yield Change(old, len(source), len(result), len(result))


def _is_own(source: Program, piece: Piece) -> bool:
    """Whether these lines are the source's bytes themselves."""
    return piece.lineage.ids is None and any(piece.text is own.text for own in source.pieces)


def _compared(source: Program, piece: Piece) -> Iterator[tuple[int, bool]]:
    """For each line of a piece its identity, and whether it reads as it does in the source."""
    data = piece.text.data
    starts = piece.text.starts[piece.start : piece.stop + 1].tolist()
    ids = piece.lineage.ids_of(piece.start, piece.stop)
    own = ids < source.job_lines
    if not own.any():
        yield from ((known, False) for known in ids.tolist())
        return
    old = source.pieces[0].text  # a source is one text, as it was read
    lines = np.where(own, ids, 0)
    begins, ends = old.starts[lines].tolist(), old.starts[lines + 1].tolist()
    for at, known in enumerate(ids.tolist()):
        kept = known < source.job_lines and (
            data[starts[at] : starts[at + 1]] == old.data[begins[at] : ends[at]]
        )
        yield known, kept


def _merged(changes: Iterator[Change]) -> Iterator[Change]:
    """Neighbours joined."""
    last: Change | None = None
    for change in changes:
        if last is None:
            last = change
        elif (last.old_stop, last.new_stop) == (change.old_start, change.new_start):
            last = Change(last.old_start, change.old_stop, last.new_start, change.new_stop)
        else:
            yield last
            last = change
    if last is not None:
        yield last
