"""What a file does, in sentences and in order: from its moves and what happens between them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from math import isnan

from headrace.counting import count_text
from headrace.job import Job
from headrace.language import Event, EventKind
from headrace.rehearsal.lengths import mm
from headrace.sheet.cuts import Cuts, on_surface
from headrace.sheet.facts import Pause
from headrace.sheet.happening import asked, called, homed, switched
from headrace.sheet.heights import aim_text, own_zero
from headrace.sheet.moves import Moves
from headrace.sheet.naming import bit_of, bit_text
from headrace.sheet.spans import joined
from headrace.sheet.sums import summed
from headrace.sheet.telling import size_text, span_text
from headrace.sheet.travel import only_lifts, travelled
from headrace.sheet.turns import turned
from headrace.sheet.zeros import Zeros

_MOST = 120
"""Of more sentences than these the beginning and the end are told."""
_KEPT = 50

_SILENT = frozenset(
    (
        EventKind.MESSAGE,
        EventKind.ASKS,
        EventKind.CORNERS,
        EventKind.CYCLE,
    )
)
"""What is told elsewhere, or shows in the moves that follow."""


def doing(job: Job, cuts: Sequence[Cuts], pauses: Sequence[Pause]) -> tuple[str, ...]:
    """The sentences; of very many those in the middle are counted only."""
    told = list(_Told(job, cuts, pauses).sentences())
    if len(told) <= _MOST:
        return tuple(told)
    left = len(told) - 2 * _KEPT
    return (*told[:_KEPT], f"({left} more steps here, which are not told.)", *told[-_KEPT:])


class _Told:
    """Walks along the events of a file and tells what lies between them. Moves count from 0."""

    def __init__(self, job: Job, cuts: Sequence[Cuts], pauses: Sequence[Pause]) -> None:
        self.job = job
        self.moves = Moves(job, cuts)
        self.flat = Moves(job, on_surface(job, cuts))
        self.zeros = Zeros(self.moves)
        self.pauses = iter(pauses)
        self.first = 0
        self.waits: list[tuple[int, float]] = []
        self.touches: list[tuple[int, str]] = []
        self.zero = ""
        self.plate = False
        self.tool: object = job.trace.tool
        self.in_cycle = {event.line for event in job.trace.events_of(EventKind.CYCLE)}

    def sentences(self) -> Iterator[str]:
        """All of them."""
        events = [event for event in self.job.trace.events if event.kind not in _SILENT]
        homes: list[Event] = []
        for event in events:
            if event.kind in (EventKind.DWELL, EventKind.SPINDLE) and event.line in self.in_cycle:
                continue
            if event.kind is EventKind.UNITS:
                self.zeros.inch = event.value == "inch"
                continue
            if event.kind is EventKind.HOME:
                homes.append(event)
                continue
            if homes:
                yield from self._homed(homes)
                homes = []
            if event.kind is EventKind.DWELL and isinstance(event.value, float):
                self.waits.append((event.moves, event.value))
                yield from self._touched()
            elif event.kind is EventKind.PROBE:
                yield from self._probed(event)
            else:
                yield from self._other(event)
        yield from self._homed(homes)
        yield from self._until(len(self.job.trace))

    def _homed(self, homes: Sequence[Event]) -> Iterator[str]:
        if homes:
            yield from self._until(homes[0].moves - 1)
            self.first = homes[-1].moves
            if self.job.machine.homing.by != "by-hand":
                yield homed(self.job, homes)

    def _probed(self, event: Event) -> Iterator[str]:
        """A touch; one that follows another with nothing but a lift between them joins it."""
        probe = event.moves - 1
        again = bool(self.touches) and not self.waits and only_lifts(self.moves, self.first, probe)
        if not again:
            yield from self._until(probe)
        self.touches.append((probe, self._touch(event)))
        self.first = event.moves

    def _touch(self, event: Event) -> str:
        found = self.moves.at(event.moves - 1)
        feed = float("nan") if found is None else float(found[0].block.feed[found[1]])
        aims = event.value.items() if isinstance(event.value, dict) else ()
        aim = " ".join(
            aim_text(found[0], number)
            if axis == 2 and found is not None
            else f"{'XYZABC'[axis]}{mm(number)}"
            for axis, number in aims
        )
        at = "" if isnan(feed) else f"at {mm(feed)} mm/min, "
        return f"{at}to {aim} at the most"

    def _touched(self) -> Iterator[str]:
        """The touches that are waiting to be told."""
        if self.touches:
            what = "Touches the plate" if self.plate else "Touches"
            twice = {1: "", 2: " twice"}.get(len(self.touches), f" {len(self.touches)} times")
            ways = ", then ".join(way for _, way in self.touches)
            yield f"{what}{twice}: {ways}{self.zero}."
            yield from self._counts()
        self.touches, self.zero = [], ""

    def _counts(self) -> Iterator[str]:
        """From what Z counts behind a touch that has set the zero."""
        behind = self.moves.at(self.first) if self.zero else None
        own = "" if behind is None else own_zero(behind[0])
        if own:
            yield f"From here on Z0 is meant to be {own}."

    def _other(self, event: Event) -> Iterator[str]:
        kind = event.kind
        if kind is EventKind.TOOL:
            was, self.tool = self.tool, event.value
            yield from self._called(event, was)
            return
        if kind is EventKind.ZERO and self.touches and self.touches[-1][0] == event.moves - 1:
            told = self.zeros.told(event, touched=True)
            self.zero = f"; then {told}" if told else self.zero
            return
        if kind in (EventKind.STOP, EventKind.OPTIONAL_STOP):
            yield from self._until(event.moves)
            pause = next(self.pauses)
            self.plate = (self.plate or pause.asks == "clip-on") and pause.asks != "clip-off"
            yield asked(self.job, pause)
            return
        told = (
            self.zeros.told(event, touched=False)
            if kind is EventKind.ZERO
            else switched(self.moves, event)
        )
        if told:
            yield from self._until(event.moves)
            yield f"{told[0].upper()}{told[1:]}."

    def _called(self, event: Event, was: object) -> Iterator[str]:
        """Another bit; the pause that asks for it has been told."""
        if self.job.program[event.line].asks is None:
            yield from self._until(event.moves)
            yield called(self.job, event.value, was)

    def _until(self, moves: int) -> Iterator[str]:
        """What was done since the last sentence, up to the move `moves`."""
        yield from self._touched()
        waits, self.waits = self.waits, []
        first, self.first = self.first, max(moves, self.first)
        cut = self.moves.cut(first, moves)
        if cut is None:
            yield from self._moved(first, moves, waits)
            return
        begun, ended = cut
        before = [wait for wait in waits if wait[0] <= begun]
        behind = [wait for wait in waits if wait[0] > ended]
        yield from self._moved(first, begun, before)
        yield self._cut(first, moves, len(waits) - len(before) - len(behind))
        yield from self._moved(ended + 1, moves, behind)

    def _moved(self, first: int, moves: int, waits: Sequence[tuple[int, float]]) -> Iterator[str]:
        """Ways without a cut, and the waits on them, each where it comes."""
        for at, together in groupby(waits, key=lambda wait: wait[0]):
            yield from self._went(first, at)
            yield f"Waits {size_text(sum(seconds for _, seconds in together), 's')}."
            first = at
        yield from self._went(first, moves)

    def _went(self, first: int, moves: int) -> Iterator[str]:
        told = [*travelled(self.moves, first, moves), *turned(self.moves, first, moves)]
        if told:
            text = ", ".join(told)
            yield f"{text[0].upper()}{text[1:]}."

    def _cut(self, first: int, moves: int, waits: int) -> str:
        """What the moves from `first` to before `moves` cut."""
        total, setting = summed(self.flat.between(first, moves)), self.moves.setting(first)
        assert total is not None, "there is a cut among them"
        number = None if setting is None else setting.tool
        bit = bit_text(number, bit_of(self.job.setup, number))
        lines = [self.moves.line(move) for move in (total.first, total.last)]
        what = f"{self._verb(total.holes, lines[0])} with {bit[0].lower()}{bit[1:]}"
        if total.speeds:
            what += f" at {_either(total.speeds)} rev/min"
        told = [_way(total.length)]
        feeds = joined((total.feeds, total.plunges, total.ramps))
        if feeds is not None:
            told[0] += f" at {span_text(feeds, 'mm/min')}"
        if total.levels > 1:
            told.append(f"at {total.levels} heights")
        told.append(
            "how deep is not described"
            if total.deepest is None
            else f"down to {span_text(total.deepest)} below the sheet's top"
        )
        told += turned(self.moves, first, moves)
        if waits:
            told.append(f"waiting {waits} times")
        return f"{what}: {', '.join(told)} ({_lines(min(lines) + 1, max(lines) + 1)})."

    def _verb(self, holes: int, line: int) -> str:
        if not holes:
            return "Cuts"
        if line in self.in_cycle:
            return f"Drills {count_text(holes, 'hole')}"
        return f"Goes straight down at {count_text(holes, 'place')}"


def _lines(first: int, last: int) -> str:
    return f"line {first}" if first == last else f"lines {first} to {last}"


def _either(speeds: Sequence[float]) -> str:
    least, most = mm(min(speeds)), mm(max(speeds))
    return least if least == most else f"{least} to {most}"


def _way(length: float) -> str:
    return size_text(length, "mm", 0) if length < 1000 else size_text(length / 1000, "m", 1)
