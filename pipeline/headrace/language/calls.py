"""Subprograms within one file: which lines are of which, and which lines call them.

RS274/NGC has none; two forms are common practice. In one, `M98 P100 L2` calls what stands behind
the program end, from a line `O100` to `M99`; in the other, `O100 call` calls what stands between
`O100 sub` and `O100 endsub`. Nothing is handed over: all parameters are everybody's.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

import numpy as np

from headrace.findings import Finding
from headrace.program import Line, Program, Text
from headrace.program.columns import ODD

DEEPEST = 9
"""Calls from within calls, at the most."""
MOST_LINES = 1_000_000
"""Lines that all calls of a program run together, at the most."""

_MOST_FAULTS = 5
_LOCALS = 30
"""Where subprograms are called by O words, #1 to #30 are their own on many controllers."""


@dataclass(frozen=True, slots=True)
class Body:
    """A subprogram: its own lines are `start` to `stop`; the whole definition, `first` to `last`
    with both, does nothing by itself."""

    first: int
    start: int
    stop: int
    last: int


@dataclass(frozen=True, slots=True)
class Call:
    """A call of subprogram `number`, `repeats` times."""

    number: int
    repeats: int = 1


@dataclass(frozen=True, slots=True)
class Calls:
    """The subprograms of a program by their numbers, its calls by their lines (from 0), and the
    line of its heading, a number alone. Where there are `faults`, nothing is called."""

    bodies: Mapping[int, Body] = field(default_factory=dict)
    calls: Mapping[int, Call] = field(default_factory=dict)
    heading: int | None = None
    faults: tuple[Finding, ...] = ()

    @classmethod
    def of(cls, program: Program) -> Calls:
        """What a program has of them."""
        lines = {int(line) for line in program.lines_with("M", 98, 99)}
        for first, piece in program.numbered_pieces():
            shift = first - piece.start
            lines.update(at + shift for at in _headed(piece.text) if piece.start <= at < piece.stop)
        return _Reading(program).calls(lines) if lines else NONE

    @property
    def definitions(self) -> list[Body]:
        """The subprograms in the order of their lines."""
        return sorted(self.bodies.values(), key=lambda body: body.first)

    def defines(self, line: int) -> bool:
        """Whether a line belongs to a subprogram."""
        return any(body.first <= line <= body.last for body in self.bodies.values())

    def main(self, stop: int) -> Iterator[tuple[int, int]]:
        """The stretches (from, to) of the lines before `stop` that are no subprogram's."""
        start = 0
        for body in self.definitions:
            if min(body.first, stop) > start:
                yield start, min(body.first, stop)
            start = body.last + 1
        if stop > start:
            yield start, stop

    def run(self, call: Call) -> Iterator[int]:
        """The lines that a call runs, in order; those of calls within it in their place."""
        body = self.bodies[call.number]
        for _ in range(call.repeats):
            for line in range(body.start, body.stop):
                if line in self.calls:
                    yield from self.run(self.calls[line])
                else:
                    yield line


NONE = Calls()


class _Reading:
    """Telling subprograms from what is none, by the few lines that speak of them."""

    def __init__(self, program: Program) -> None:
        self.program = program
        self.bodies: dict[int, Body] = {}
        self.found: dict[int, Call] = {}
        self.faults: list[Finding] = []
        self.heading: int | None = None
        self.ended = False
        self.open: tuple[int, Line] | None = None
        self.by_words: set[int] = set()

    def calls(self, lines: set[int]) -> Calls:
        ends = {int(line) for line in self.program.lines_with("M", 2, 30)}
        for index in sorted(lines | ends):
            if len(self.faults) < _MOST_FAULTS:
                self._line(self.program[index])
        if self.open is not None:
            self._fault(self.open[1], f"subprogram O{self.open[0]} has no end")
        self._own_numbers()
        if not self.faults:
            self._reachable()
        if self.faults:
            return Calls(heading=self.heading, faults=tuple(self.faults))
        return Calls(self.bodies, self.found, self.heading)

    def _line(self, line: Line) -> None:
        heading = line.scan.heading
        if heading is not None and heading.says == "call":
            self.found[line.index] = Call(heading.number)
        elif line.scan.block_delete and not line.has("M", 98):
            if heading is not None or line.has("M", 99):
                self._fault(line, "whether a subprogram is there hangs on a switch")
        elif heading is None:
            self._codes(line)
        elif heading.says == "endsub":
            if self.open is None or self.open[0] != heading.number:
                self._fault(line, f"`O{heading.number} endsub` without its beginning")
            self._close(line)
        elif heading.says == "sub" or self.ended:
            if self.open is not None:
                self._fault(line, f"subprogram O{self.open[0]} has no end before this line")
            if heading.number in self.bodies:
                self._fault(line, f"subprogram O{heading.number} stands here a second time")
            self.open = (heading.number, line)
            if heading.says:
                self.by_words.add(heading.number)
        elif any(self.program[above].is_code for above in range(line.index)):
            self._fault(line, "a program number amid a program: another one begins here")
        elif self.heading is not None:
            self._fault(line, "a second program number")
        else:
            self.heading = line.index

    def _codes(self, line: Line) -> None:
        """A line with M98, M99 or the program's end."""
        if line.has("M", 98):
            self._called(line)
        elif line.has("M", 99):
            if len(line.words) > 1 or line.scan.settings:
                self._fault(line, "M99 is followed only where it has its line to itself")
            elif self.open is None or self.open[0] in self.by_words:
                self._fault(line, "M99 without a subprogram that it ends")
            self._close(line)
        elif self.open is not None:
            self._fault(line, f"the program ends within subprogram O{self.open[0]}")
        else:
            self.ended = True

    def _called(self, line: Line) -> None:
        words = {word.letter: word.value for word in line.words}
        number, repeats = words.get("P"), words.get("L", Decimal(1))
        plain = words.keys() <= {"M", "P", "L"} and len(words) == len(line.words)
        if not plain or line.scan.settings or number is None or repeats is None:
            self._fault(line, "M98 is followed only with P and L in plain numbers beside it")
        elif number % 1 or repeats % 1 or repeats < 1 or repeats > MOST_LINES:
            self._fault(line, "P and L of a call are whole numbers, and L is 1 or more")
        else:
            self.found[line.index] = Call(int(number), int(repeats))

    def _close(self, line: Line) -> None:
        if self.open is not None:
            number, first = self.open
            self.bodies[number] = Body(first.index, first.index + 1, line.index, line.index)
        self.open = None

    def _own_numbers(self) -> None:
        """Parameters in subprograms that O words call, where they may be another's."""
        for number in sorted(self.by_words & self.bodies.keys()):
            body = self.bodies[number]
            for line in self.program.lines_flagged(ODD):
                if body.start <= line < body.stop and _local(self.program[int(line)]):
                    what = f"#1 to #{_LOCALS} within a subprogram, or a parameter worked out"
                    self._fault(self.program[int(line)], what)
                    break

    def _reachable(self) -> None:
        """What calls run: it must be there, and come to an end."""
        for index, call in self.found.items():
            if call.number not in self.bodies:
                what = f"this calls O{call.number}, which is not in the file"
                self._fault(self.program[index], what, "subprogram-missing")
        if self.faults:
            return None
        lines = sorted(self.found)
        inside: set[int] = set()
        within: dict[int, list[Call]] = {}
        for number, body in self.bodies.items():
            here = lines[bisect_left(lines, body.start) : bisect_left(lines, body.stop)]
            within[number] = [self.found[line] for line in here]
            inside.update(here)
        known: dict[int, tuple[int, int]] = {}
        total = 0
        for index, call in self.found.items():
            try:
                run, _ = self._extent(call.number, within, known, ())
            except RecursionError:
                what = f"calls within calls go on, or more than {DEEPEST} deep"
                return self._fault(self.program[index], what, "subprogram-endless")
            total += 0 if index in inside else run * call.repeats
            if total > MOST_LINES:
                what = f"up to this call subprograms run {total} lines; {MOST_LINES} are followed"
                return self._fault(self.program[index], what, "subprogram-endless")
        return None

    def _extent(
        self,
        number: int,
        within: Mapping[int, Sequence[Call]],
        known: dict[int, tuple[int, int]],
        above: tuple[int, ...],
    ) -> tuple[int, int]:
        """How many lines a subprogram runs, and how deep its calls go; RecursionError where it
        calls itself or goes too deep."""
        if number not in known:
            if number in above or len(above) >= DEEPEST:
                raise RecursionError
            inner = [
                (call.repeats, *self._extent(call.number, within, known, (*above, number)))
                for call in within[number]
            ]
            own = self.bodies[number].stop - self.bodies[number].start
            run = own + sum(repeats * lines for repeats, lines, _ in inner)
            known[number] = run, 1 + max((deep for _, _, deep in inner), default=0)
        if len(above) + known[number][1] > DEEPEST:
            raise RecursionError
        return known[number]

    def _fault(self, line: Line, what: str, name: str = "subprogram") -> None:
        self.faults.append(Finding.of(name, what, self.program.place(line.index)))


def _local(line: Line) -> bool:
    """Whether a line names a parameter that may be a subprogram's own, or one by its value."""
    indices = [setting.index for setting in line.scan.settings]
    values = [setting.value for setting in line.scan.settings]
    values += [word.expression for word in line.words if word.expression is not None]
    for steps in values:
        for at, step in enumerate(steps):
            if step.operation == "parameter":
                indices.append(steps[at - 1 : at])
    return any(len(i) != 1 or i[0].operation != "number" or i[0].number <= _LOCALS for i in indices)


def _headed(text: Text) -> tuple[int, ...]:
    """The lines of a text that begin with an O word."""
    return text.once("headed", lambda: tuple(_found_headed(text)))


def _found_headed(text: Text) -> Iterator[int]:
    for chunk in text.chunks:
        for line in (np.flatnonzero(chunk.flags & ODD) + chunk.first_line).tolist():
            if b"O" in text.raw(line).upper() and text.scan(line).heading is not None:
                yield line
