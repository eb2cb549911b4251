"""The proof of the whole run: the job as CAM wrote it against the file for the card.

Both are read once more, from their bytes and by the second reading, and led side by side. Where
both are in the same state and their next lines are the same bytes, what these lines do is the same
without looking: so a job of a million lines costs little more than its first and last ones. Which
lines steps have added is known by the identity of lines, which the core keeps, not the steps.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import pairwise
from math import isnan

import numpy as np
import numpy.typing as npt

from headrace.findings import Finding, Place
from headrace.plugins.contract import Contract
from headrace.program import Piece, Program
from headrace.proof.comparison import Comparison, same_settings
from headrace.proof.path import Path, joined
from headrace.proof.second.bare import Longs, bare, line_starts, other_lines
from headrace.proof.second.bodies import Bodies, bodies, may_call
from headrace.proof.second.follower import (
    Conditions,
    Dialect,
    Follower,
    Move,
    cuts,
    last_said,
    lines_of,
)
from headrace.proof.second.stretch import Stretch, follow
from headrace.proof.version import Breach

_LONG = 64
"""Plain stretches from this length on are passed over where both sides stand alike."""
_WINDOW = 1 << 15
"""So many lines are taken at once."""
_MANY = 4096
"""So many moves are collected before they are compared."""


Ids = npt.NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class RunProof:
    """What the whole run may have changed, and what became of the path.

    `moves` are those of the job that were compared one by one, `alike` the lines that are the same
    bytes in the same state, `deviation` is the largest distance (mm). `unread` lines are beyond the
    second reading (what probes found, back boring); the proofs of the steps hold for them.
    """

    contract: str
    moves: int
    alike: int
    deviation: float
    unread: int = 0
    breach: Breach | None = None

    @property
    def finding(self) -> Finding | None:
        """The breach, for people."""
        if self.breach is None:
            return None
        what = f"the finished file is not the job: {self.breach}, and the steps declared: "
        return Finding.of("proof-failed", what + self.contract, self.breach.place)


def prove_run(
    source: Program,
    results: Sequence[Program],
    contract: Contract,
    inch: bool,
    dialect: Dialect,
    target: Dialect | None = None,
    lines: tuple[int, int] | None = None,
    tool: int | None = None,
) -> RunProof:
    """Compare a job with the file, or the files one after another, that the steps made of it.

    The job is read in `dialect`, the files in `target` (None: the same). `lines` are those of the
    job that the files stand for (None: all), `tool` is the bit that is in before their first line.
    """
    walk = _Walk(source, contract, inch, dialect, dialect if target is None else target, tool)
    if lines is not None:
        walk.only(*lines)
    for result in results:
        walk.through(result)
    walk.to_the_end()
    compared = walk.comparison
    return RunProof(
        contract=str(contract),
        moves=compared.moves,
        alike=walk.alike,
        deviation=compared.strayed,
        unread=len(walk.old.unread),
        breach=walk.breach,
    )


class _Walk:
    """Source and result side by side."""

    def __init__(
        self,
        source: Program,
        contract: Contract,
        inch: bool,
        dialect: Dialect,
        target: Dialect,
        tool: int | None,
    ) -> None:
        self.source = source
        self.contract = contract
        self.inch = inch
        self.target = target
        self.calling = any(may_call(piece.text.data) for piece in source.pieces)
        self.tool = tool
        self.old = Follower(inch, dialect, self._bodies(source), tool)
        self.new = Follower(inch, target)
        self.result = source
        self.reached = 0
        self.alike = 0
        self.breach: Breach | None = None
        self.rows = (_Rows(), _Rows())
        self.comparison = Comparison(
            contract, was=self._was, now=self._now, own=lambda lines: np.ones(len(lines), bool)
        )
        (piece,) = source.pieces or (None,)
        self.text = None if piece is None else piece.text
        self.data = b"" if piece is None else piece.text.data
        self.starts = np.zeros(1, np.int64) if piece is None else piece.text.starts
        self._others: Longs | None = None
        self.stop: int | None = None

    def _bodies(self, program: Program) -> Bodies:
        """The subprograms of a program."""
        return bodies(bare(program.to_bytes())) if self.calling else {}

    def _was(self, line: int) -> Place:
        return self.source.place(line)

    def _now(self, line: int) -> Place:
        return self.result.place(line)

    def only(self, start: int, stop: int) -> None:
        """Lead the source to where the files begin; what comes from `stop` on is not theirs."""
        self._up_to(start)
        self.rows = (_Rows(), _Rows())
        self.stop = stop

    def through(self, result: Program) -> None:
        """All lines of one file, with the lines of the source that they stand for."""
        self.result = result
        self.new = Follower(self.inch, self.target, self._bodies(result), self.tool)
        self.comparison.tips.begin()
        for first, piece in result.numbered_pieces():
            if self.breach is not None:
                return
            if piece.text is self.text and piece.lineage.ids is None:
                self._up_to(piece.start)
                self._kept(piece.start, piece.stop, first)
            else:
                self._written(piece, first)
        self._compare()

    def to_the_end(self) -> None:
        """What the source has left, which must move nothing."""
        if self.breach is None:
            self._up_to(len(self.starts) - 1 if self.stop is None else self.stop)
            self._compare()

    def _source(self, start: int, stop: int) -> bytes:
        """Some bare lines of the source."""
        return bare(self.data[self.starts[start] : self.starts[stop]])

    def _up_to(self, line: int) -> None:
        """Lead the source on to a line."""
        if line > self.reached:
            self._lead(0, self._source(self.reached, line), np.arange(self.reached, line))
            self.reached = line

    def _written(self, piece: Piece, first: int) -> None:
        """Lines that a step wrote: added ones, and the job's own in other words."""
        ids = piece.lineage.ids_of(piece.start, piece.stop)
        lines = bare(bytes(piece.data))
        own = len(ids) and int(ids[0]) >= self.reached and np.array_equal(
            ids, np.arange(ids[0], ids[0] + len(ids))
        )  # fmt: skip
        if own and ids[-1] < self.source.job_lines:
            begun, stop = int(ids[0]), int(ids[-1]) + 1
            if self._source(begun, stop) == lines:
                self._up_to(begun)
                self._kept(begun, stop, first)
                return
        asked = piece.lineage.asks
        if len(ids) >= _LONG and not asked and self._in_bulk(ids, lines, first):
            return
        for at, (line, text) in enumerate(zip(ids.tolist(), lines_of(lines), strict=True)):
            number = first + at
            if line >= self.source.job_lines:
                self.rows[1].add(self.new.take())
                self.new.line(number, text)
                self.new.answered(asked.get(piece.start + at))
                added = self.new.take()
                if not self.contract.adds_motion:
                    self.rows[1].add(added)  # and so be seen as what they are: too many
                elif any(map(cuts, added)):
                    self._compare()
                    what = "the path: an added move cuts"
                    self.breach = self.breach or Breach(what, None, self._now(number))
                    return
                continue
            if line >= self.reached and len(self.rows[0]) > _MANY:
                self._up_to(line)
                self._compare()
                if self.breach is not None:
                    return
            self._up_to(line + 1)
            self.new.line(number, text)
            self.new.answered(asked.get(piece.start + at))
            self.rows[1].add(self.new.take())

    def _in_bulk(self, ids: Ids, lines: bytes, first: int) -> bool:
        """Plain lines of the job in other words, taken by the thousand; False, and nothing done,
        where some are not."""
        own = ids < self.source.job_lines
        if not own.all() or (np.diff(ids) < 0).any() or ids[0] < self.reached:
            return False
        starts = line_starts(lines)
        others = other_lines(lines, starts)
        windows = np.arange(0, len(ids), _WINDOW)
        bounds = np.unique(np.concatenate([windows, others, others + 1, [len(ids)]]))
        # what became of one line stays together
        same = np.concatenate([ids[1:] == ids[:-1], [False]])
        bounds = bounds[(bounds == 0) | ~same[bounds - 1]]
        with ThreadPoolExecutor(1) as pool:  # array calls let both sides be led at once
            for low, high in pairwise(bounds.tolist()):
                # one line may stand for those behind it that are gone
                until = int(ids[high]) if high < len(ids) else int(ids[high - 1]) + 1
                part = lines[int(starts[low]) : int(starts[high])]
                if high - low < _LONG:
                    self._up_to(until)
                    self._lead(1, part, np.arange(first + low, first + high))
                else:
                    source = pool.submit(self._up_to, until)
                    self._lead(1, part, np.arange(first + low, first + high))
                    source.result()
                if len(self.rows[0]) > _MANY and high < len(ids):
                    self._compare()
                if self.breach is not None:
                    break
        return True

    def _lead(self, side: int, lines: bytes, numbers: Longs) -> None:
        """Lead one side (0: the source) through some bare lines."""
        follower = (self.old, self.new)[side]
        stretch = follow(follower, lines) if len(numbers) >= _LONG else None
        if stretch is not None:
            self.rows[side].add_path(_stretch_path(stretch, numbers))
            return
        for number, text in zip(numbers.tolist(), lines_of(lines), strict=True):
            follower.line(number, text)
        self.rows[side].add(follower.take())

    def _kept(self, start: int, stop: int, first: int) -> None:
        """Lines of the source that say the same in the result."""
        line, size = start, _LONG
        while line < stop and self.breach is None:
            plain = self._plain_until(line, stop) if stop - line >= _LONG else line
            long = plain - line >= _LONG
            if long and self._alike():
                self._compare()
                said = last_said(self.data, int(self.starts[line]), int(self.starts[plain]))
                self.old.passed(said)
                self.new.passed(said)
                self.alike += plain - line
                line, size = plain, _LONG
                continue
            end = min(line + size, plain) if long else min(line + _LONG, stop)
            text = self._source(line, end)
            self._lead(0, text, np.arange(line, end))
            self._lead(1, text, np.arange(line, end) + (first - start))
            if len(self.rows[0]) > _MANY:
                self._compare()
            line, size = end, min(8 * size, _WINDOW)
        self.reached = max(self.reached, line)

    def _plain_until(self, line: int, stop: int) -> int:
        """The first line from `line` on that is more than a plain move."""
        if self._others is None:
            self._others = other_lines(self.data, self.starts)
            if len(self._others) * 4 > len(self.starts):  # comments, small letters, blanks
                self.data = bare(self.data)
                self.starts = line_starts(self.data)
                self._others = other_lines(self.data, self.starts)
        at = int(np.searchsorted(self._others, line))
        return min(stop, int(self._others[at])) if at < len(self._others) else stop

    def _alike(self) -> bool:
        """Whether plain moves in absolute numbers do the same on both sides from here on."""
        old, new = self.old, self.new
        if old.modes != new.modes or old.incremental or old.ended or old.inside is not None:
            return False
        contract = self.contract
        if contract.affine is not None or contract.renumbers or contract.wraps or contract.trails:
            return False
        numbers = zip((*old.at, old.feed), (*new.at, new.feed), strict=True)
        if not all(isnan(was) or was == now for was, now in numbers):
            return False
        stays = zip(old.at, old.placed, new.placed, strict=True)
        if not all(not isnan(at) or isnan(was) or was == now for at, was, now in stays):
            return False
        return same_settings(old.conditions, new.conditions, self.contract)

    def _compare(self) -> None:
        old, new = self.rows
        self.rows = (_Rows(), _Rows())
        if self.breach is None and len(old) + len(new):
            was, now = old.path(), new.path()
            was = replace(was, ids=was.line)
            now = replace(now, ids=self.result.ids(now.line))
            if self.old.unread:
                was, now = self._read(was), self._read(now)
            self.breach = self.comparison.of(was, now)

    def _read(self, path: Path) -> Path:
        """The moves but for those of lines of the job that the second reading cannot follow."""
        assert path.ids is not None
        return path.where(~np.isin(path.ids, list(self.old.unread)))


class _Rows:
    """Moves of one side that wait to be compared."""

    def __init__(self) -> None:
        self.moves: list[Move] = []
        self.paths: list[Path] = []

    def __len__(self) -> int:
        return len(self.moves) + sum(map(len, self.paths))

    def add(self, moves: Sequence[Move]) -> None:
        self.moves.extend(moves)

    def add_path(self, path: Path) -> None:
        if self.moves:
            self.paths.append(_path(self.moves))
            self.moves = []
        self.paths.append(path)

    def path(self) -> Path:
        """All of them, in order."""
        if not self.paths:
            return _path(self.moves)
        parts = [*self.paths, _path(self.moves)] if self.moves else self.paths
        return parts[0] if len(parts) == 1 else joined(parts)


def _stretch_path(stretch: Stretch, numbers: Longs) -> Path:
    """Moves of a stretch as columns; `numbers` are those of its lines."""
    held = [
        None if column is None else np.concatenate([[np.nan], column[:-1]])
        for column in stretch.placed
    ]
    return Path(
        line=numbers[stretch.row].astype(np.int32),
        kind=stretch.kind,
        starts=stretch.starts,
        ends=stretch.ends,
        feed=stretch.feed,
        placed=stretch.placed,
        held=held,
        arc=stretch.arc,
        which=np.zeros(len(stretch.row), np.intp),
        settings=[stretch.conditions],
        by=stretch.by,
    )


def _path(moves: Sequence[Move]) -> Path:
    """Moves as columns."""
    count = len(moves)
    starts = np.array([move.start for move in moves], np.float64).reshape(count, 6)
    ends = np.array([move.end for move in moves], np.float64).reshape(count, 6)
    placed = np.array([move.placed for move in moves], np.float64).reshape(count, 6)
    held = np.vstack([np.full((1, 6), np.nan), placed[:-1]]) if count else placed
    none = (float("nan"),) * 4
    arc = np.array([move.arc or none for move in moves], np.float64).reshape(count, 4)
    nothing = (float("nan"),) * 6
    by = np.array([move.by or nothing for move in moves], np.float64).reshape(count, 6)
    settings: dict[Conditions, int] = {}
    which = [settings.setdefault(move.conditions, len(settings)) for move in moves]
    return Path(
        line=np.array([move.line for move in moves], np.int32),
        kind=np.array([move.kind for move in moves], np.uint8),
        starts=[np.ascontiguousarray(starts[:, axis]) for axis in range(6)],
        ends=[np.ascontiguousarray(ends[:, axis]) for axis in range(6)],
        feed=np.array([move.feed for move in moves], np.float64),
        placed=[np.ascontiguousarray(placed[:, axis]) for axis in range(6)],
        held=[np.ascontiguousarray(held[:, axis]) for axis in range(6)],
        arc=np.ascontiguousarray(arc.T),
        which=np.array(which, np.intp),
        settings=list(settings),
        by=list(by.T) if any(move.by for move in moves) else None,
    )
