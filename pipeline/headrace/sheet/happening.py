"""What happens between moves, in words: homing, pauses, switches, bits."""

from __future__ import annotations

from collections.abc import Iterable

from headrace.job import Job
from headrace.language import Event, EventKind
from headrace.machine.asking import speed_asked
from headrace.rehearsal.lengths import mm
from headrace.rehearsal.order.questions import text_at
from headrace.sheet.facts import Pause
from headrace.sheet.moves import Moves
from headrace.sheet.naming import bit_of, bit_text

_ASKED = {
    "clip-on": "for plate and clip",
    "clip-off": "for clip and plate to be taken away",
    "spindle-off": "for the spindle to be switched off",
    "spindle-on": "for the spindle to be switched on",
    "spindle-set": "for another speed of the spindle",
    "homed": "for homing at the panel",
}


def homed(job: Job, homes: Iterable[Event]) -> str:
    """Homing, in the order in which the axes go."""
    groups = []
    for event in homes:
        axes = event.value if isinstance(event.value, tuple) else ()
        order = [[axis for axis in group if axis.upper() in axes] for group in _order(job)]
        groups += [" and ".join(axis.upper() for axis in group) for group in order if group]
    return f"Homes {', then '.join(groups)}."


def _order(job: Job) -> tuple[tuple[str, ...], ...]:
    described = job.machine.homing.order
    named = {axis for group in described for axis in group}
    return (*described, tuple(axis for axis in "xyzabc" if axis not in named))


def asked(job: Job, pause: Pause) -> str:
    """A pause, by what it asks for."""
    here, asks = f" (pause {pause.number})", pause.asks
    text = text_at(job, pause.line - 1)
    if asks is None:
        waits = "May wait" if pause.optional else "Waits"
        return f'{waits} for "{text}"{here}.' if text else f"{waits}{here}."
    if asks.startswith("tool-"):
        number = int(asks.removeprefix("tool-"))
        name = bit_text(number, bit_of(job.setup, number))
        return f"Asks for {name[0].lower()}{name[1:]}{here}."
    speed = speed_asked(job.machine, text) if text else None
    if speed is not None:
        mark = job.machine.spindle.nearest_mark(speed)
        dial = "" if mark is None else f", dial mark {mark}"
        return f"Asks for the spindle at {mm(speed)} rev/min{dial}{here}."
    return f"Asks {_ASKED.get(asks, asks)}{here}."


def switched(moves: Moves, event: Event) -> str:
    """What an event switches or ends, in words without a stop; nothing where it changes nothing."""
    value = event.value
    match event.kind:
        case EventKind.SPINDLE:
            return _spindle(moves, event)
        case EventKind.OUTPUT:
            return f"switches on: {value}"
        case EventKind.OUTPUT_OFF:
            return f"switches off: {value}"
        case EventKind.COOLANT:
            return _coolant(moves.job, event)
        case EventKind.OVERRIDES:
            return "" if value else "puts the knobs for feed and speed out of action (M49)"
        case EventKind.END:
            return "ends"
    return ""


def _spindle(moves: Moves, event: Event) -> str:
    spindle = moves.job.machine.spindle
    if spindle.control == "by-hand":
        return ""  # no word switches it
    if event.value == "off":
        return "stops the spindle"
    way = " the other way round" if event.value == "ccw" else ""
    if spindle.control == "relay":
        return f"starts the spindle{way} at {mm(spindle.slowest)} rev/min"
    setting = moves.setting(event.moves)  # what holds for the first move behind it
    speed = None if setting is None else setting.speed
    return f"starts the spindle{way}" + ("" if speed is None else f" at {mm(speed)} rev/min")


def _coolant(job: Job, event: Event) -> str:
    """Mist and flood, where nothing else is wired to their words."""
    if names := _wet(job, event):
        return f"switches {names} on: not described what that is wired to"
    before = [was for was in job.trace.events_of(EventKind.COOLANT) if was.line < event.line]
    was_on = _wet(job, before[-1]) if before else ""
    return f"switches {was_on} off" if was_on else ""


def _wet(job: Job, event: Event) -> str:
    """What is on behind an event, of what nothing else is wired to."""
    on = event.value if isinstance(event.value, tuple) else (False, False)
    return " and ".join(
        f"{name} (M{code})"
        for code, name, is_on in zip((7, 8), ("mist", "flood"), on, strict=True)
        if is_on and f"M{code}" not in job.machine.outputs
    )


def called(job: Job, tool: object, was: object) -> str:
    """A call for a bit; `was` is the one that is in."""
    name = "a tool without a number" if tool is None else f"tool {tool}"
    if job.machine.tool_change == "changer":
        return f"Changes to {name}."
    if tool is not None and tool == was:
        return f"Calls for {name}, which is taken to be in the collet."
    return f"Calls for {name}: nothing here says that it waits until a hand has put it in."
