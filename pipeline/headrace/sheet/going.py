"""Going on from a pause: what the machine does then by itself, and what turns until then."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

from headrace.job import Job
from headrace.language import Event, EventKind
from headrace.rehearsal.order.questions import asked_at
from headrace.sheet.telling import size_text

STOPS = (EventKind.STOP, EventKind.OPTIONAL_STOP)


def going_on(job: Job, at: int, number: int) -> Iterator[str]:
    """What comes first behind the pause `number`, which is the event `at` (from 0) of the file:
    the spindle, a move, the next pause; nothing where the file only ends."""
    stop = job.trace.events[at]
    waited = 0.0
    for event in islice(job.trace.events, at + 1, None):
        if event.moves > stop.moves:
            break
        if event.kind is EventKind.DWELL and isinstance(event.value, float):
            waited += event.value
        elif event.kind is EventKind.STOP:
            yield f"Pause {number + 1} comes next, and nothing moves before it."
            return
        elif event.kind is EventKind.OPTIONAL_STOP:
            number += 1
        elif _starts(job, event):
            yield f"Hands are away: the spindle starts {_when(waited)}."
            return
        elif event.kind is EventKind.TOOL and job.machine.tool_change == "changer":
            break
    else:
        if len(job.trace) <= stop.moves:
            return
    yield f"Hands are away: the machine moves {_when(waited)}."


def turning(job: Job, at: int) -> bool:
    """Whether nothing before the event `at` has stopped the spindle again, or asked for it."""
    turns = False
    by_hand = job.machine.spindle.control == "by-hand"
    for event in islice(job.trace.events, at):
        if by_hand and event.kind in STOPS:
            asks = asked_at(job, event.line)
            turns = (turns or asks in ("spindle-on", "spindle-set")) and asks != "spindle-off"
        elif event.kind is EventKind.SPINDLE and not by_hand:
            turns = event.value != "off"
        elif event.kind is EventKind.TOOL and not by_hand:
            turns = turns and job.program[event.line].asks is not None  # M6 stops it
    return turns


def starts_before_touch(job: Job, at: int) -> bool:
    """Whether the file starts the spindle behind the event `at` before it asks for plate and clip,
    or for another bit."""
    for event in islice(job.trace.events, at + 1, None):
        if _starts(job, event):
            return True
        asks = asked_at(job, event.line) if event.kind in STOPS else None
        if asks is not None and asks.startswith(("clip-", "tool-")):
            return False
    return False


def _starts(job: Job, event: Event) -> bool:
    by_hand = job.machine.spindle.control == "by-hand"
    return event.kind is EventKind.SPINDLE and event.value != "off" and not by_hand


def _when(waited: float) -> str:
    return f"{size_text(waited, 's')} after you go on" if waited else "as soon as you go on"
