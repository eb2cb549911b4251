"""Moves that steps add: they bring the machine somewhere and never cut, and in the midst of the
job's own cutting they do not go down."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isnan

import numpy as np
import numpy.typing as npt

from headrace.language import Block, EventKind
from headrace.language.trace import CCW, CW, HOME, LINE, PROBE
from headrace.program import Program
from headrace.proof.path import SAME
from headrace.proof.version import Breach, Version


@dataclass(frozen=True, slots=True)
class _Added:
    """An added move: the number of moves before it, its line, its kind, where it goes."""

    at: int
    line: int
    kind: int
    starts: tuple[float, ...]
    ends: tuple[float, ...]

    @property
    def cuts(self) -> bool:
        """Whether it may cut: at feed, and not straight up."""
        rises = self.starts[2] <= self.ends[2]
        ways = zip(self.starts[:2], self.ends[:2], strict=True)
        stays = all(was == now or (isnan(was) and isnan(now)) for was, now in ways)
        return self.kind in (CW, CCW) or (self.kind == LINE and not (rises and stays))


def addition_breach(version: Version, new: int) -> Breach | None:
    """The first added move that cuts, or that dives in the midst of the job's own cutting.

    Lines with an id of `new` and above are added.
    """
    lines = _added_lines(version.program, new)
    if not len(lines):
        return None
    moves = list(_moves(version, lines))
    for move in moves:
        if move.cuts:
            return Breach("the path: an added move cuts", None, version.place(move.line))
    return _dive(version, moves)


def _dive(version: Version, added: list[_Added]) -> Breach | None:
    """The first added move between two cuts of the job that goes lower than where it begins. Where
    the work zero changes or a touch lies in between, heights cannot be compared; those are the
    rehearsal's."""
    first, last = _own_cuts(version)
    moves = [move for move in added if first < move.at < last]
    zeros = [event.moves for event in version.trace.events_of(EventKind.ZERO, EventKind.PROBE)]
    for run in _runs(moves):
        begun, end = run[0].at, run[-1].at + 1
        if any(begun < at < end for at in zeros):
            continue
        if any(move.kind in (PROBE, HOME) for move in run):
            continue
        for move in run:
            if not move.ends[2] >= run[0].starts[2] - SAME:
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
            for row in np.flatnonzero(np.isin(block.line, here)).tolist():
                starts = block.start if row == 0 else tuple(e[row - 1] for e in block.ends)
                yield _Added(
                    begun + row, int(block.line[row]), int(block.kind[row]),
                    tuple(float(value) for value in starts),
                    tuple(float(axis[row]) for axis in block.ends),
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
