"""Interpreting a program: bulk runs of plain moves, and single lines between them.

Follows RS274/NGC (NISTIR 6556). What a described controller does otherwise is in the dialect.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np

from headrace.findings import CATALOGUE, Finding, Place
from headrace.language.arcs import FAULTS, Arcs, steepness
from headrace.language.bulk import apply_run, read_run
from headrace.language.calls import NONE, Call, Calls
from headrace.language.dialect import STANDARD, Dialect
from headrace.language.executor import Executor
from headrace.language.modal import CCW, PLANES
from headrace.language.mover import arc_text
from headrace.language.recorder import Recorder, setting_of
from headrace.language.state import State
from headrace.language.trace import CW as CW_MOVE
from headrace.language.trace import ArcColumns, Block, Floats, Trace
from headrace.language.worked_out import WorkedOut
from headrace.program import Piece, Program, Scan, Text
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
    worked_out: list[WorkedOut] | None = None,
) -> Trace:
    """What `program` does, from the state `start` (default: everything unknown).

    With `before_line` only the lines before that one are interpreted. Rules that the program
    breaks are findings of the trace; the line that breaks one does nothing. `worked_out` is given
    the values of the lines that hold parameters or expressions, in the order of running.
    """
    interpreter = _Interpreter(program, dialect, start or State(units=dialect.units))
    interpreter.worked_out = worked_out
    return interpreter.run(before_line)


class _Interpreter:
    def __init__(self, program: Program, dialect: Dialect, start: State) -> None:
        self.program = program
        self.dialect = dialect
        self.state = start.copy()
        self.tool = start.tool
        if self.state.units is None:
            self.state.units = dialect.units
        self.recorder = Recorder()
        self.findings: list[Finding] = []
        self.executor = Executor(self.state, dialect, self.recorder, self._report)
        self.calls = Calls.of(program)
        self.worked_out: list[WorkedOut] | None = None
        self._line = 0
        self._caller: int | None = None
        self._framed = False
        self._begun = False
        self._counts: Counter[str] = Counter()
        self.ended_at: int | None = None

    def run(self, before_line: int | None) -> Trace:
        last = len(self.program) if before_line is None else before_line
        self.findings += self.calls.faults
        for start, stop in self.calls.main(last):
            self._lines(start, stop)
        self.recorder.flush()
        return Trace(
            blocks=tuple(self.recorder.blocks),
            events=tuple(self.recorder.events),
            findings=(*self.findings, *self._summed_up()),
            end=self.state,
            ended_at=self.ended_at,
            calls=self.calls,
            tool=self.tool,
        )

    def _lines(self, start: int, stop: int) -> None:
        for first, piece in self.program.pieces_between(start, stop):
            if self.ended_at is not None:
                break
            self._piece(first, piece)

    def _call(self, line: int, call: Call) -> None:
        """Run a subprogram, as if its lines were those of the outermost call."""
        outer = self._caller
        self._caller = line if outer is None else outer
        body = self.calls.bodies[call.number]
        for _ in range(call.repeats):
            self._lines(body.start, body.stop)
        self._caller = outer

    def _piece(self, first: int, piece: Piece) -> None:
        shift = first - piece.start
        for chunk, low, high, plain in _runs(piece.text, piece.start, piece.stop):
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
        if self.dialect.projected_feed and block.arcs is not None:
            block = _along_helices(block, block.arcs)
        if before is not None and _cuts_unfed(block):
            # a cutting move without feed: let the single lines say which
            self._restore(before)
            return False
        state.forget_cycle()
        self._begun = True
        if arcs is not None:
            self._arc_faults(block, arcs)
        self._strays(block, run.arc_words)
        if self._caller is not None:
            here = np.broadcast_to(np.int32(0), len(block))
            block = replace(block, base=self._caller, rel=here)
        self.recorder.block(block)
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
        if self.worked_out is not None:
            self._work_out(line, scan, self.worked_out)
        try:
            if line in self.calls.calls:
                if not (scan.block_delete and self.dialect.block_delete):
                    self._call(line, self.calls.calls[line])
            elif not self._of_subprogram(scan):
                at = line if self._caller is None else self._caller
                self.executor.execute(at, scan, asks)
        except ReadingError as error:
            span = (error.column, error.length)
            self._add(error.name, str(error), self._place(line, span))
        if self.state.ended:
            self.ended_at = line

    def _work_out(self, line: int, scan: Scan, values: list[WorkedOut]) -> None:
        found = WorkedOut.of(line, scan, self.state)
        if found is not None and not (scan.block_delete and self.dialect.block_delete):
            values.append(found)

    def _of_subprogram(self, scan: Scan) -> bool:
        """Whether a line numbers, begins or ends a program, or calls one that is not followed."""
        if self.calls is NONE:
            return False
        ends = (word.letter == "M" and word.value in (98, 99) for word in scan.words)
        return scan.heading is not None or any(ends)

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


def _along_helices(block: Block, arcs: ArcColumns) -> Block:
    """The same moves, with feeds along helices for those along what is seen of them."""
    u, v, w = PLANES[block.setting.plane]
    first, second, across = (block.starts(axis)[arcs.rows] for axis in (u, v, w))
    seen = np.hypot(first - arcs.centre_u, second - arcs.centre_v) * arcs.turn
    feed = block.feed.copy()
    feed[arcs.rows] *= steepness(seen, block.ends[w][arcs.rows] - across)
    return replace(block, feed=feed)


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
