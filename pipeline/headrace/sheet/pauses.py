"""The pauses of a file: what the display shows, and what must be true before going on."""

from __future__ import annotations

from collections.abc import Iterator

from headrace.job import Job
from headrace.language import EventKind
from headrace.machine import Setup
from headrace.machine.asking import speed_asked
from headrace.program import number_text
from headrace.rehearsal.lengths import mm
from headrace.rehearsal.order.questions import asked_at, text_at
from headrace.sheet.facts import Pause
from headrace.sheet.going import STOPS, going_on, starts_before_touch, turning
from headrace.sheet.naming import bit_of, bit_text, stick_out_text
from headrace.sheet.telling import size_text
from headrace.timing.clock import Clock


def pauses(job: Job, clock: Clock | None) -> tuple[Pause, ...]:
    """Every pause, in the order of running."""
    stops = [at for at, event in enumerate(job.trace.events) if event.kind in STOPS]
    starts = _last_start(job)
    return tuple(_pause(job, clock, number, at, starts) for number, at in enumerate(stops, 1))


def _last_start(job: Job) -> int:
    """After how many moves the file itself starts the spindle for the last time; -1 where it never
    does."""
    if job.machine.spindle.control == "by-hand":
        return -1
    switched = job.trace.events_of(EventKind.SPINDLE)
    return max((event.moves for event in switched if event.value != "off"), default=-1)


def _pause(job: Job, clock: Clock | None, number: int, at: int, starts: int) -> Pause:
    stop = job.trace.events[at]
    asks, text = asked_at(job, stop.line), text_at(job, stop.line)
    optional = stop.kind is EventKind.OPTIONAL_STOP and 1 not in job.dialect.stops
    return Pause(
        number=number,
        line=stop.line + 1,
        shown=shown(job, text),
        needs=(
            *_of_display(job, number, text, optional),
            *_needs(job, at, asks, text, starts >= stop.moves),
            *going_on(job, at, number),
        ),
        asks=asks,
        optional=optional,
        after=None if clock is None else clock.before(stop),
    )


def shown(job: Job, text: str | None) -> tuple[str, ...]:
    """What the display shows of a pause's text, as it cuts it."""
    pause = job.machine.pause
    if pause.text == "none" or not text:
        return ()
    return (text[: pause.width].rstrip(),)


def _of_display(job: Job, number: int, text: str | None, optional: bool) -> Iterator[str]:
    """What to know of the display, and of a pause that may not wait."""
    pause = job.machine.pause
    if pause.text == "none":
        yield f"Pause {number} shows nothing on the machine: count the pauses."
        if text:
            yield f"The file says here: {text}"
    elif not text:
        yield f"The file does not tell what the display shows at pause {number}: count the pauses."
    elif len(text) > pause.width:
        yield f"The display cuts the text after {pause.width} characters. The file says: {text}"
    if optional:
        yield "The machine waits here only if its switch for optional stops is on."


def _needs(job: Job, at: int, asks: str | None, text: str | None, starts: bool) -> Iterator[str]:
    """What must be true before going on, by the question; `starts` tells that the file itself
    starts the spindle later."""
    if asks is None:
        yield from _unasked(job, at)
    elif asks == "clip-on":
        yield from _clip_on(job.setup)
    elif asks == "clip-off":
        yield "The clip is off the bit and hangs clear of everything that moves."
        yield "The plate is off the sheet."
        if starts:
            yield "The spindle's power is back: the file starts it by itself."
    elif asks == "spindle-off":
        yield from _spindle_off(job)
    elif asks in ("spindle-on", "spindle-set"):
        yield from _spindle_on(job, asks, text)
    elif asks == "homed":
        yield from _homed(job)
    elif asks.startswith("tool-"):
        yield from _tool(job, int(asks.removeprefix("tool-")))
        if starts_before_touch(job, at):
            yield "After that the spindle's power is back: the file starts it by itself."
    else:
        yield f"What the step asks for is so: {asks}."


def _unasked(job: Job, at: int) -> Iterator[str]:
    if turning(job, at):
        yield "The bit turns while the machine waits here: nothing before has stopped the spindle."
    if job.program[job.trace.events[at].line].origin is None:
        yield "The recipe asks for this: see that it is so before you go on."
    else:
        yield "Your job asks for this: find out what it wants before you go on."


def _clip_on(setup: Setup) -> Iterator[str]:
    plate = setup.plate
    yield "The spindle stands still, and its power is isolated."
    if plate.at is None:
        yield "The plate lies flat on the sheet, under the bit. Its place is not described."
    else:
        x, y = (number_text(place, 3) for place in plate.at)
        yield (
            "The plate lies flat on the sheet, under the bit, its middle at"
            f" X{x} Y{y} from the sheet's corner."
        )
    if plate.thickness is None:
        yield "The plate's thickness is not described: measure it."
    else:
        thick = size_text(plate.thickness)
        yield f"The plate, with all that is to lie under it, is {thick} thick; its faces are clean."
    yield "The clip is on the bit, on bare metal, and the lead is free to follow it down."
    yield (
        "Contact is proved: the plate is held to the bit, the controller shows the touch, and then"
        " it is laid down."
    )


def _spindle_off(job: Job) -> Iterator[str]:
    spindle = job.machine.spindle
    if spindle.control == "none":
        return
    if spindle.control == "by-hand":
        yield "The switch of the spindle is off."
    down = size_text(spindle.run_down, "s")
    yield f"The bit stands still: it turns on for {down} after it is switched off."
    yield "The spindle's power is isolated before hands come near the bit."


def _spindle_on(job: Job, asks: str, text: str | None) -> Iterator[str]:
    spindle = job.machine.spindle
    speed = None if text is None else speed_asked(job.machine, text)
    if asks == "spindle-on":
        yield "Clip and plate are away, the bit is free, hands are away from it."
        yield "The spindle's power is back, and was given back while its switch was off."
    if speed is None:
        yield "The speed is not told: see your job."
    else:
        yield from _dialled(job, speed)
    if asks == "spindle-on":
        up = size_text(spindle.run_up, "s")
        yield f"The spindle is switched on, and has come to speed: that takes {up}."


def _dialled(job: Job, speed: float) -> Iterator[str]:
    """Where the dial has to stand for a speed."""
    spindle, turns = job.machine.spindle, size_text(speed, "rev/min")
    mark = spindle.nearest_mark(speed)
    if mark is None:
        yield f"The speed is set to {turns}. What the marks of its dial mean is not described."
        return
    means = dict(spindle.dial)[mark]
    if means == speed:
        yield f"The dial stands at mark {mark}, which is {turns}."
    else:
        yield f"The speed asked for is {turns}: mark {mark}, at {mm(means)}, is the nearest."


def _homed(job: Job) -> Iterator[str]:
    order = ", then ".join(
        " and ".join(axis.upper() for axis in group) for group in job.machine.homing.order
    )
    yield f"All axes are homed at the panel: {order}."
    yield "Nothing was in the way, and nobody has moved the head since."


def _tool(job: Job, number: int) -> Iterator[str]:
    bit = bit_of(job.setup, number)
    yield "The spindle stands still, and its power is isolated."
    yield f"{bit_text(number, bit)} is in the collet, and the nut is tight."
    yield stick_out_text(bit.stick_out)
