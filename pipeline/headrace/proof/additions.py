"""Moves that steps add in the midst of the job's own cutting."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from headrace.language import Block, EventKind
from headrace.language.trace import HOME, PROBE
from headrace.program import Program
from headrace.proof.path import SAME
from headrace.proof.version import Breach, Version


@dataclass(frozen=True, slots=True)
class _Added:
    """An added move: the number of moves before it, its line, its kind, its heights."""

    at: int
    line: int
    kind: int
    start: float
    end: float


def dive(version: Version, new: int) -> Breach | None:
    """The first added move between two cuts of the job that goes lower than where it begins.

    Lines with an id of `new` and above are added. Where the work zero changes or a touch lies in
    between, heights cannot be compared; those are the rehearsal's.
    """
    lines = _added_lines(version.program, new)
    if not len(lines):
        return None
    first, last = _own_cuts(version)
    moves = [move for move in _moves(version, lines) if first < move.at < last]
    zeros = [event.moves for event in version.trace.events_of(EventKind.ZERO, EventKind.PROBE)]
    for run in _runs(moves):
        begun, end = run[0].at, run[-1].at + 1
        if any(begun <= at <= end for at in zeros):
            continue
        if any(move.kind in (PROBE, HOME) for move in run):
            continue
        for move in run:
            if not move.end >= run[0].start - SAME:
                what = "the path in the midst of the job's cutting: an added move goes down"
                return Breach(what, None, version.place(move.line))
    return None


def _added_lines(program: Program, new: int) -> npt.NDArray[np.int64]:
    """The added lines, ascending."""
    found = [np.zeros(0, np.int64)]
    for first, piece in program.numbered_pieces():
        if piece.lineage.ids is not None:
            ids = piece.lineage.ids_of(piece.start, piece.stop)
            found.append(np.flatnonzero(ids >= new) + first)
    return np.concatenate(found)


def _own_cuts(version: Version) -> tuple[float, float]:
    """The numbers of the job's first and last cut among all moves."""
    blocks = version.trace.blocks
    firsts = np.cumsum([0, *map(len, blocks)])
    first = next((f + at for f, b in zip(firsts, blocks, strict=False)
                  for at in _cuts(version.program, b)[:1]), np.inf)  # fmt: skip
    last = next((f + at for f, b in zip(firsts[-2::-1], reversed(blocks), strict=True)
                 for at in _cuts(version.program, b)[-1:]), -np.inf)  # fmt: skip
    return float(first), float(last)


def _cuts(program: Program, block: Block) -> npt.NDArray[np.int64]:
    rows = np.flatnonzero(block.cuts)
    return rows[program.own(block.line[rows])] if len(rows) else rows


def _moves(version: Version, lines: npt.NDArray[np.int64]) -> Iterator[_Added]:
    """The moves of some lines (ascending)."""
    begun = 0
    for block in version.trace.blocks:
        low, high = block.base + int(block.rel[0]), block.base + int(block.rel[-1])
        here = lines[np.searchsorted(lines, low) : np.searchsorted(lines, high, "right")]
        if len(here):
            starts = block.starts(2)
            for row in np.flatnonzero(np.isin(block.line, here)).tolist():
                yield _Added(
                    begun + row, int(block.line[row]), int(block.kind[row]),
                    float(starts[row]), float(block.ends[2][row]),
                )  # fmt: skip
        begun += len(block)


def _runs(moves: list[_Added]) -> Iterator[list[_Added]]:
    """Moves that follow each other without another one between."""
    run: list[_Added] = []
    for move in moves:
        if run and move.at != run[-1].at + 1:
            yield run
            run = []
        run.append(move)
    if run:
        yield run
