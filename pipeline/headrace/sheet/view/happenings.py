"""What happens between moves, as far as a track tells it: pauses, dwells, switching, the end."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from headrace.job import Job
from headrace.language import Event, EventKind
from headrace.machine.asking import speed_asked
from headrace.rehearsal.order.questions import asked_at, text_at
from headrace.sheet.pauses import shown
from headrace.timing.clock import Clock

STILL, RAPID, CUT, PROBE, HOME, PAUSE, DWELL, END = range(8)
"""What is done: nothing, a rapid, a cut, a touch, homing, waiting for the operator, for a time."""

UNKNOWN, OFF, FORWARD, BACKWARD, HAND_ON, HAND_OFF = range(6)
"""The spindle: not known, as words switch it, and as a hand was asked to."""

_WAYS = {None: UNKNOWN, "off": OFF, "cw": FORWARD, "ccw": BACKWARD}
_KINDS = {
    EventKind.STOP: PAUSE,
    EventKind.OPTIONAL_STOP: PAUSE,
    EventKind.DWELL: DWELL,
    EventKind.END: END,
    EventKind.TOOL: STILL,
    EventKind.SPINDLE: STILL,
}


@dataclass(frozen=True, slots=True)
class Turning:
    """How the spindle stands, and its speed in rev/min (None: not stated, or as the file's words
    have it)."""

    spindle: int
    speed: float | None = None


@dataclass(frozen=True, slots=True)
class Happening:
    """Something on a line (from 0) after so many moves, over at a planned time (s). `during` is the
    spindle while it lasts, `behind` once the operator has gone on. `shown` is what the display
    shows of a pause."""

    line: int
    moves: int
    kind: int
    time: float
    during: Turning
    behind: Turning
    tool: int | None
    optional: bool = False
    shown: str = ""


def by_hand(job: Job) -> bool:
    """Whether words do nothing to the spindle, and only the operator switches it."""
    return job.machine.spindle.control == "by-hand"


def spindle_of(way: str | None) -> int:
    """The spindle as words switch it."""
    return _WAYS[way]


def happenings(job: Job, clock: Clock) -> Iterator[Happening]:
    """All that happens, in order."""
    hand, tool = by_hand(job), job.trace.tool
    now = Turning(UNKNOWN if hand else spindle_of(job.start.spindle))
    for event in job.trace.events:
        if event.kind not in _KINDS:
            continue
        kind, time = _KINDS[event.kind], clock.before(event)
        if event.kind is EventKind.TOOL:
            tool = event.value if isinstance(event.value, int) else None
        if kind == DWELL and isinstance(event.value, (int, float)):
            time += event.value
        behind = _answered(job, event, now) if hand else _switched(job, event, now)
        during = now if kind == PAUSE else behind
        optional = event.kind is EventKind.OPTIONAL_STOP and 1 not in job.dialect.stops
        text = " ".join(shown(job, text_at(job, event.line))) if kind == PAUSE else ""
        yield Happening(event.line, event.moves, kind, time, during, behind, tool, optional, text)
        now = behind


def _switched(job: Job, event: Event, now: Turning) -> Turning:
    """The spindle behind an event, where words switch it."""
    if event.kind is EventKind.SPINDLE:
        return Turning(spindle_of(str(event.value)))
    if event.kind is EventKind.TOOL:
        return Turning(OFF)
    return Turning(spindle_of(job.trace.end.spindle)) if event.kind is EventKind.END else now


def _answered(job: Job, event: Event, now: Turning) -> Turning:
    """The spindle behind an event, where a hand switches it."""
    if _KINDS[event.kind] != PAUSE:
        return now
    asked = asked_at(job, event.line)
    if asked == "spindle-off":
        return Turning(HAND_OFF)
    if asked in ("spindle-on", "spindle-set"):
        text = text_at(job, event.line)
        return Turning(HAND_ON, None if text is None else speed_asked(job.machine, text))
    return now
