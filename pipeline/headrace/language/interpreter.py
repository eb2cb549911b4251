"""Interpreting a program: bulk runs of plain moves, and single lines between them.

Follows RS274/NGC (NISTIR 6556). What a described controller does otherwise is in the dialect.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from headrace.findings import CATALOGUE, Finding, Place
from headrace.language.arcs import FAULTS, Arcs
from headrace.language.bulk import apply_run, read_run
from headrace.language.dialect import STANDARD, Dialect
from headrace.language.executor import Executor
from headrace.language.modal import CCW
from headrace.language.mover import arc_text
from headrace.language.recorder import Recorder, setting_of
from headrace.language.state import State
from headrace.language.trace import CW as CW_MOVE
from headrace.language.trace import Block, Floats, Trace
from headrace.program import Piece, Program, Text
from headrace.program.columns import RARE, Chunk
from headrace.program.expression import ReadingError

SHORTEST_RUN = 24
"""Runs shorter than this are cheaper line by line."""
_MOST_ALIKE = 5

_Run = tuple[Chunk, int, int, bool]


def interpret(
    program: Program,
    dialect: Dialect = STANDARD,
    start: State | None = None,
    before_line: int | None = None,
) -> Trace:
    """What `program` does, from the state `start` (default: everything unknown).

    With `before_line` only the lines before that one are interpreted. Rules that the program
    breaks are findings of the trace; the line that breaks one does nothing.
    """
    return _Interpreter(program, dialect, start or State(units=dialect.units)).run(before_line)


class _Interpreter:
    def __init__(self, program: Program, dialect: Dialect, start: State) -> None:
        self.program = program
        self.dialect = dialect
        self.state = start.copy()
        if self.state.units is None:
            self.state.units = dialect.units
        self.recorder = Recorder()
        self.findings: list[Finding] = []
        self.executor = Executor(self.state, dialect, self.recorder, self._report)
        self._line = 0
        self._framed = False
        self._begun = False
        self._counts: Counter[str] = Counter()
        self.ended_at: int | None = None

    def run(self, before_line: int | None) -> Trace:
        last = len(self.program) if before_line is None else before_line
        for first, piece in self.program.numbered_pieces():
            if self.ended_at is not None or first >= last:
                break
            self._piece(first, piece, min(piece.stop, piece.start + last - first))
        self.recorder.flush()
        return Trace(
            blocks=tuple(self.recorder.blocks),
            events=tuple(self.recorder.events),
            findings=(*self.findings, *self._summed_up()),
            end=self.state,
            ended_at=self.ended_at,
        )

    def _piece(self, first: int, piece: Piece, stop: int) -> None:
        shift = first - piece.start
        for chunk, low, high, plain in _runs(piece.text, piece.start, stop):
            # a cycle, a probe or nothing may be in force up to the first line that says G0 to G3
            bulk_from = self._stated(piece.text, chunk, low, high) if plain else high
            if bulk_from < high:
                line = chunk.first_line + bulk_from + shift
                if not self._singles(piece, chunk.first_line + low, line - shift, shift):
                    return
                if self._bulk(piece.text, chunk, bulk_from, high, line):
                    continue
                low = bulk_from
            if not self._singles(piece, chunk.first_line + low, chunk.first_line + high, shift):
                return

    def _singles(self, piece: Piece, begun: int, stop: int, shift: int) -> bool:
        """Lines of a text one by one; False where the program has ended."""
        for line in range(begun, stop):
            self._single(line + shift, piece.text, line, piece.lineage.asks.get(line))
            if self.ended_at is not None:
                return False
        return True

    def _stated(self, text: Text, chunk: Chunk, low: int, high: int) -> int:
        """From which line of a plain run on its motion is G0 to G3."""
        code = self.state.motion
        if code is not None and code <= CCW and code % 10 == 0:
            return low
        run = read_run(text, chunk, low, high, self.state.incremental)
        if run.motion is None or run.motion.known >= len(run.rel):
            return high
        return low + int(run.rel[run.motion.known])

    def _bulk(self, text: Text, chunk: Chunk, low: int, high: int, line: int) -> bool:
        """Take a run of plain lines at once, where the state allows it."""
        state = self.state
        if state.inverse_time:
            return False
        run = read_run(text, chunk, low, high, state.incremental)
        turns = any(axis > 2 for axis in run.axes)
        if not len(run.rel) or (turns and state.factor != 1.0):
            return False
        unfed = not state.feed and (run.feed is None or run.feed.known > 0)
        before = state.copy() if unfed else None
        block, arcs = apply_run(run, state, line, setting_of(state))
        if before is not None and _cuts_unfed(block):
            # a cutting move without feed: let the single lines say which
            self._restore(before)
            return False
        state.forget_cycle()
        self._begun = True
        self.recorder.block(block)
        if arcs is not None:
            self._arc_faults(block, arcs)
        self._strays(block, run.arc_words)
        return True

    def _restore(self, before: State) -> None:
        for name in State.__slots__:
            setattr(self.state, name, getattr(before, name))

    def _arc_faults(self, block: Block, arcs: Arcs) -> None:
        assert block.arcs is not None
        for at in np.flatnonzero(arcs.fault):
            name = FAULTS[arcs.fault[at]]
            line = int(block.line[block.arcs.rows[at]])
            self._add(name, arc_text(name, float(arcs.mismatch[at])), self._place(line))

    def _strays(self, block: Block, arc_words: tuple[Floats, ...] | None) -> None:
        """Arc words on moves that are no arcs."""
        if arc_words is None:
            return
        for letter, words in zip("IJKR", arc_words, strict=True):
            stray = np.flatnonzero(~np.isnan(words) & (block.kind < CW_MOVE))
            for at in stray:
                place = self._place(int(block.line[at]))
                self._add("word-unused", f"{letter} is for an arc, and none is here", place)

    def _single(self, line: int, text: Text, at: int, asks: str | None) -> None:
        self._line = line
        scan = text.scan(at)
        for fault in scan.faults:
            span = (fault.column, fault.length)
            self._add(fault.name, fault.what, self._place(line, span))
        if scan.fatal:
            self._begun = True
            return
        if scan.percent:
            self._percent(line)
            return
        self._begun = self._begun or scan.is_code
        try:
            self.executor.execute(line, scan, asks)
        except ReadingError as error:
            span = (error.column, error.length)
            self._add(error.name, str(error), self._place(line, span))
        if self.state.ended:
            self.ended_at = line

    def _percent(self, line: int) -> None:
        """The first % opens the program, the second ends it (3.1)."""
        if self._framed or self._begun:
            if not self._framed:
                what = "a % line in a program that did not begin with one"
                self._add("percent-unexpected", what, self._place(line))
            self.ended_at = line
        self._framed = True

    def _report(self, name: str, what: str, span: tuple[int, int]) -> None:
        self._add(name, what, self._place(self._line, span))

    def _place(self, line: int, span: tuple[int, int] = (0, 0)) -> Place:
        text = self.program[line].text
        length = span[1] or max(1, len(text.rstrip()))
        return Place(self.program.name, line + 1, span[0] + 1, length, text)

    def _add(self, name: str, what: str, place: Place | None) -> None:
        self._counts[name] += 1
        if self._counts[name] <= _MOST_ALIKE:
            self.findings.append(Finding.of(name, what, place))

    def _summed_up(self) -> Iterator[Finding]:
        """One finding for all those of a kind that are too many to show."""
        for name, count in self._counts.items():
            if count > _MOST_ALIKE:
                yield Finding.of(
                    "more-findings",
                    f"{count - _MOST_ALIKE} more of `{name}`",
                    severity=CATALOGUE[name].severity,
                )


def _cuts_unfed(block: Block) -> bool:
    cuts = block.kind != 0
    return bool((cuts & ~(block.feed > 0)).any())


def _runs(text: Text, start: int, stop: int) -> list[_Run]:
    """Runs of plain lines and of others, by chunk; worked out once for a text."""
    key = ("runs", start, stop, SHORTEST_RUN)
    return text.once(key, lambda: list(_found_runs(text, start, stop)))


def _found_runs(text: Text, start: int, stop: int) -> Iterator[_Run]:
    """Short plain runs join the others."""
    for chunk in text.chunks:
        low = max(start - chunk.first_line, 0)
        high = min(stop - chunk.first_line, len(chunk))
        if low >= high:
            continue
        rare = (chunk.flags[low:high] & RARE) != 0
        turns = np.flatnonzero(rare[1:] != rare[:-1]) + 1
        bounds = [low, *(turns + low).tolist(), high]
        waiting = low
        for begun, end in pairwise(bounds):
            if rare[begun - low] or end - begun < SHORTEST_RUN:
                continue
            if begun > waiting:
                yield chunk, waiting, begun, False
            yield chunk, begun, end, True
            waiting = end
        if high > waiting:
            yield chunk, waiting, high, False
