"""What each line under a drilling cycle does: moves, dwells, spindle words and stops, as lines."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from math import isnan

import numpy as np

from headrace import EventKind, Job, JobRefused, number_text
from headrace_transforms.numbers.modes import Mode
from headrace_transforms.paths.arcs import ACROSS
from headrace_transforms.telling.refusing import place_of, refusal

CYCLES = ("G81", "G82", "G83", "G84", "G85", "G86", "G87", "G88", "G89")

_AXES = "XYZ"
_RAPID = 0
_NEAR = 1e-6
"""Heights (mm) that are the same."""
_SPINDLE = {"cw": "M3", "ccw": "M4", "off": "M5"}
_ACTS = (EventKind.DWELL, EventKind.SPINDLE, EventKind.STOP)
_PLACES = {1.0: 7, 25.4: 8}
"""Decimals that no controller counts: less than a millionth of a millimetre is lost."""


def lacking(job: Job) -> tuple[str, ...]:
    """The cycles that the machine does not read."""
    read = job.machine.cycles
    return () if read is None else tuple(cycle for cycle in CYCLES if cycle not in read)


@dataclass(frozen=True, slots=True)
class Hole:
    """A line (from 0) under a cycle (`G81`), and the lines that do the same without one: at first
    always a move."""

    line: int
    cycle: str
    texts: list[str]


def holes(job: Job, cycles: tuple[str, ...]) -> Iterator[Hole]:
    """The lines under some cycles, in order; JobRefused where one cannot be said otherwise."""
    events = job.trace.events
    moves: _Moves | None = None
    series = _Series(job)
    for at, event in enumerate(events):
        if event.kind is not EventKind.CYCLE:
            continue
        cycle, line = str(event.value), event.line
        moves = moves or _Moves(job)
        unclear = series.unclear_return(moves, line, event.moves, cycle)
        if cycle not in cycles:
            continue
        _require_sayable(job, line, cycle)
        if unclear is not None:
            raise unclear
        acts: list[tuple[int, str]] = []
        stop = at + 1
        while stop < len(events) and events[stop].line == line:
            if events[stop].kind in _ACTS:
                acts.append((events[stop].moves, _act(job, events[stop].kind, events[stop].value)))
            stop += 1
        if events[stop - 1].kind is EventKind.STOP:
            acts.pop()  # the line's own stop, which comes last
        yield Hole(line, cycle, list(moves.texts(line, event.moves, acts)))


def _require_sayable(job: Job, line: int, cycle: str) -> None:
    place = place_of(job.program, job.program[line])
    if line in job.trace.calls.calls:
        remedy = "put the step `expand-calls` before this one"
        raise refusal("cycle-unwritable", f"a {cycle} in a subprogram", place=place, remedy=remedy)
    if any(word.letter == "G" and word.value is None for word in job.program[line].words):
        what = f"a line under {cycle} with a G word that is worked out"
        remedy = "put the step `plain-numbers` before this one"
        raise refusal("cycle-unwritable", what, place=place, remedy=remedy)
    if cycle == "G84" and not job.machine.spindle.reverse:
        what = "a tap leaves its hole by turning the other way, which this spindle does not"
        raise refusal("spindle-reverse", what, place=place)
    if cycle == "G87":
        what = "a G87 goes beside its bore while the spindle is held in one direction"
        raise refusal("cycle-unwritable", what, place=place)


def _act(job: Job, kind: EventKind, value: object) -> str:
    if kind is EventKind.DWELL:
        return f"G4 P{number_text(float(str(value)) / job.dialect.dwell_unit, 7)}"
    return "M0" if kind is EventKind.STOP else _SPINDLE[str(value)]


class _Series:
    """Holes that follow one another, and the height from which the first of them began.

    G98 returns to where the bit was "before the cycle began" (3.5.20). Before this line, or before
    the first hole: controllers differ where G99 has left the bit lower in between."""

    def __init__(self, job: Job) -> None:
        self.job = job
        stop = job.landmarks.end + 1
        self.to_r = Mode.of(job, stop, (99.0, 98.0), job.start.return_to_r)
        lines, codes = job.program.codes()
        plain = job.program.lines_with("G", 0, 1, 2, 3)
        self.breaks = np.union1d(lines[np.isin(codes, (38.2, 80))], plain)
        self.begun: tuple[int, int] | None = None
        self.height = self.left = 0.0

    def unclear_return(self, moves: _Moves, line: int, first: int, cycle: str) -> JobRefused | None:
        """A refusal where the next line of holes, whose moves begin with the row `first`, returns
        to a height that hangs on the controller."""
        if cycle == "G88":  # the operator takes the tool out
            self.begun = None
            return None
        plane = self.job.trace.blocks[moves.block(first)].setting.plane
        depth = ACROSS[plane]
        begun = int(np.searchsorted(self.breaks, line)), plane
        start = float(moves.starts[depth][first])
        if begun != self.begun:
            self.begun, self.height = begun, start
        else:
            self.height += start - self.left  # another work offset system
        self.left = float(moves.ends[depth][moves.last(line) - 1])
        if self.height <= self.left + _NEAR or self.to_r.at(np.array([line]))[0]:
            return None
        name = _AXES[depth]
        factor = 25.4 if moves.inch(line) else 1.0
        low, high = (number_text(at / factor, 4) for at in (self.left, self.height))
        what = (
            f"a G98 behind G99: some controllers return to {name}{low} here, where the last"
            f" hole left the bit, others to {name}{high}, where the first one began"
        )
        remedy = (
            f"write G80 and `G0 {name}{high}` before this line and the cycle anew on it, or"
            " export all holes of the cycle with G98"
        )
        place = place_of(self.job.program, self.job.program[line])
        return refusal("cycle-unwritable", what, place=place, remedy=remedy)


class _Moves:
    """The moves of a job, by rows (m), to be written."""

    def __init__(self, job: Job) -> None:
        self.job = job
        trace = job.trace
        self.lines = trace.line
        self.kinds = trace.kind
        self.starts = [trace.starts(axis) for axis in range(3)]
        self.ends = [trace.ends(axis) for axis in range(3)]
        self.firsts = np.cumsum([0, *(len(block) for block in trace.blocks)])
        units = list(trace.events_of(EventKind.UNITS))
        self.unit_lines = [event.line for event in units]
        self.units = [job.start.units or job.dialect.units, *(event.value for event in units)]

    def last(self, line: int) -> int:
        """The row behind the last one of a line."""
        return int(np.searchsorted(self.lines, line, "right"))

    def inch(self, line: int) -> bool:
        """Whether a line counts in inches."""
        return self.units[bisect_right(self.unit_lines, line)] == "inch"

    def block(self, row: int) -> int:
        """Which block a row is in."""
        return int(np.searchsorted(self.firsts, row, "right")) - 1

    def texts(self, line: int, first: int, acts: list[tuple[int, str]]) -> Iterator[str]:
        """The moves of a line from the row `first` on, with what is done between them: pairs of
        the moves that come before it, and a text."""
        last = self.last(line)
        factor = 25.4 if self.inch(line) else 1.0
        block = self.job.trace.blocks[self.block(first)]
        increments = block.setting.incremental
        here = [float(column[first]) for column in self.starts]
        depth = ACROSS[block.setting.plane]
        if isnan(here[depth]):
            name = _AXES[depth]
            what = (
                f"whether the bit is above R before this hole is not known: no line states {name}"
            )
            remedy = f"state a height by G0 {name} before the cycle"
            place = place_of(self.job.program, self.job.program[line])
            raise refusal("numbers-unknown", what, place=place, remedy=remedy)
        for row in range(first, last):
            while acts and acts[0][0] <= row:
                yield acts.pop(0)[1]
            word = "G0" if self.kinds[row] == _RAPID else "G1"
            yield f"{word} {' '.join(self._words(row, depth, here, factor, increments))}"
        yield from (text for _, text in acts)

    def _words(
        self, row: int, depth: int, here: list[float], factor: float, increments: bool
    ) -> Iterator[str]:
        """The axis words of a move: of the axes that go anywhere, and on the way to the hole of
        those that its line names. `here` is where the written ones lead, and is led on."""
        starts = [float(column[row]) for column in self.starts]
        ends = [float(column[row]) for column in self.ends]
        line = self.job.program[int(self.lines[row])]
        aside = starts[depth] == ends[depth]
        named = [
            axis
            for axis, name in enumerate(_AXES)
            if starts[axis] != ends[axis] or (aside and axis != depth and line.has(name))
        ]
        known = [axis for axis in range(3) if not isnan(ends[axis])]
        if not named:  # a move that goes nowhere is one all the same
            named = [axis for axis in known if axis != depth] or [depth]
        lost = [_AXES[axis] for axis in named if axis not in known and line.has(_AXES[axis])]
        if lost:
            what = f"where this line goes in {', '.join(lost)} is not known"
            raise refusal("numbers-unknown", what, place=place_of(self.job.program, line))
        for axis in named:
            if axis in known:
                base = here[axis] if increments else 0.0
                text = number_text((ends[axis] - base) / factor, _PLACES[factor])
                here[axis] = base + float(text) * factor
                yield f"{_AXES[axis]}{text}"
