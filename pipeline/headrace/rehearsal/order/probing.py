"""Probes: where they aim, whether they can touch, what they do behind the touch, and what for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, isnan, sqrt

from headrace.errors import JobRefused
from headrace.findings import Finding, Place, Severity
from headrace.job import Job
from headrace.language import Event, EventKind
from headrace.machine import Heights, Machine, Setup, Span, lacking, unknown
from headrace.program import number_text
from headrace.rehearsal.lengths import NEAR, mm
from headrace.rehearsal.order.course import Course
from headrace.rehearsal.order.watch import firsts

_BEND = 0.5
"""Running on further than this (mm) behind a contact bends a plate or marks a bit: common
practice, where a fast first touch is allowed some tenths."""

_OVER = 3.0
"""How far (mm) below the lowest touch a probe is told to aim: common practice."""

_SAME = 0.001
"""Thicknesses (mm) that differ by less are the same: nobody measures a plate finer."""

_Z = 2


@dataclass(frozen=True, slots=True)
class _Probe:
    """One probe along Z: its move, where it starts and aims in the numbers in force (mm), the Z
    offset, its feed (mm/min), its place, and the set-up with the bit that is in."""

    move: int
    start: float
    aim: float
    offset: float
    feed: float
    place: Place
    setup: Setup


def probe_findings(job: Job, course: Course) -> Iterator[Finding]:
    """All that is wrong with probes along Z; of each kind the first."""
    return firsts(_found(job, course))


def _found(job: Job, course: Course) -> Iterator[Finding]:
    touched: float | None = None
    probes = list(job.trace.events_of(EventKind.PROBE))
    for event in probes:
        probe = _along_z(job, course, event)
        if probe is None:
            yield from _sideways(job, course, event)
            continue
        yield from _aim(job, probe)
        yield from _reach(job, probe, touched, event is probes[0])
        yield from _overrun(job, probe, touched)
        yield from _lift(course, probe)
        if not isnan(probe.offset):
            touched = None
        number = _number_set(job, course, event)
        touched = number if number is not None else touched
    yield from _outcome(job, course, [e for e in probes if _along_z(job, course, e) is not None])


def _along_z(job: Job, course: Course, event: Event) -> _Probe | None:
    """A probe along Z alone; None for another."""
    move = event.moves - 1
    block, row = course.at(move)
    target = event.value if isinstance(event.value, dict) else {}
    if _Z not in target or course.goes_sideways(move):
        return None
    place = job.program.place(event.line)
    start, offset = course.start(move, _Z), block.setting.offset[_Z]
    setup = job.setup.with_tool(block.setting.tool)
    return _Probe(move, start, float(target[_Z]), offset, float(block.feed[row]), place, setup)


def _sideways(job: Job, course: Course, event: Event) -> Iterator[Finding]:
    """A probe that goes along X or Y."""
    if course.goes_sideways(event.moves - 1):
        target = event.value if isinstance(event.value, dict) else {}
        what = "a probe goes sideways" + (" as well as down" if _Z in target else "")
        yield Finding.of("probe-sideways", what, job.program.place(event.line))


def _aim(job: Job, probe: _Probe) -> Iterator[Finding]:
    """Where the probe aims: down, and at a number that the controller accepts."""
    machine = job.machine
    if probe.aim >= probe.start:
        what = f"a probe that starts at Z{mm(probe.start)} aims up at Z{mm(probe.aim)}"
        yield Finding.of("probe-upward", what, probe.place)
    lowest = None if machine.probe is None else machine.probe.lowest_target
    if lowest is not None and probe.aim < lowest - NEAR:
        short = lowest - probe.aim
        what = (
            f"a probe aims at Z{mm(probe.aim)}, {mm(short)} below the lowest target Z{mm(lowest)}"
        )
        remedy = _better_aim(job, probe, lowest)
        yield Finding.of("probe-too-low", what, probe.place, remedy=remedy)
    elif machine.soft_limits in ("clamps", "alarms") and machine.soft_limit_numbers is None:
        travel = machine.axes["z"]
        if probe.aim < travel.low - NEAR or probe.aim > travel.high + NEAR:
            question = f"whether soft limits stop a probe that aims at Z{mm(probe.aim)}"
            yield unknown("machine.soft-limits.numbers", question, probe.place)


def _better_aim(job: Job, probe: _Probe, lowest: float) -> str:
    """Two numbers that work together: one for where the probe starts, and one to aim at."""
    plate = _plate_numbers(job.machine, probe.setup, probe.offset)
    if isnan(probe.start):
        return f"give Z a number that is {mm(lowest - probe.aim)} higher before it (by G92)"
    deepest = probe.aim if plate is None else plate.least - _OVER
    if plate is not None and lowest < plate.least - NEAR:
        return f"aim at Z{mm(lowest)}: the plate lies above that"
    number = ceil(lowest + probe.start - deepest - NEAR)
    return f"write `G92 Z{number}` before it, where the probe starts, and aim at Z{mm(lowest)}"


def _reach(job: Job, probe: _Probe, touched: float | None, first: bool) -> Iterator[Finding]:
    """Whether the probe begins above the plate and aims below it, over all that may vary. Behind
    the first touch the plate is where that one has found it."""
    if isnan(probe.offset):
        if touched is not None:
            yield from _reached(probe, Span(touched, touched), "the touch before it")
        elif first:
            what = "cannot tell whether the probe reaches the plate: no line says where the tip is"
            remedy = "home Z in this file before it"
            yield Finding.of("cannot-tell", what, probe.place, remedy=remedy)
        return
    plate = _plate_numbers(job.machine, probe.setup, probe.offset)
    if plate is None:
        question = "whether the probe reaches the plate"
        yield unknown(lacking(job.machine, probe.setup), question, probe.place)
    else:
        yield from _reached(probe, plate, "the plate")


def _reached(probe: _Probe, plate: Span, name: str) -> Iterator[Finding]:
    where = f"Z{mm(plate.least)}"
    if plate.most - plate.least > NEAR:
        where = f"between Z{mm(plate.least)} and Z{mm(plate.most)}"
    if probe.start <= plate.most - NEAR:
        what = f"a probe starts at Z{mm(probe.start)}, and {name} may be {where}"
        remedy = f"start above Z{mm(plate.most)}"
        yield Finding.of("probe-out-of-reach", what, probe.place, remedy=remedy)
    elif probe.aim >= plate.least - NEAR:
        what = f"a probe reaches to Z{mm(probe.aim)}, and {name} may be {where}"
        remedy = f"aim below Z{mm(plate.least)}"
        yield Finding.of("probe-out-of-reach", what, probe.place, remedy=remedy)


def _overrun(job: Job, probe: _Probe, touched: float | None) -> Iterator[Finding]:
    """What runs on behind the contact: v^2 / 2a + v t, from elementary mechanics."""
    described = job.machine.probe
    if described is None:
        yield unknown("machine.probe", "how far the probe runs on behind the contact", probe.place)
        return
    acceleration = job.machine.axes["z"].acceleration
    if acceleration is None:
        question = "how far the probe runs on behind the contact"
        yield unknown("machine.axes.z.acceleration", question, probe.place)
        return
    speed, reaction = probe.feed / 60.0, described.reaction
    run = speed * speed / (2.0 * acceleration) + speed * reaction
    plate = _plate_numbers(job.machine, probe.setup, probe.offset)
    lowest = touched if plate is None else plate.least
    room = None if lowest is None else lowest - probe.aim
    if room is not None and 0 < room <= run:
        what = (
            f"a probe at {mm(probe.feed)} mm/min runs on for {mm(run)} mm, and its aim leaves"
            f" {mm(room)} behind the contact"
        )
        slower = _feed(room, acceleration, reaction)
        remedy = f"give a feed below F{number_text(slower, 0)}, or aim lower"
        yield Finding.of("probe-overrun", what, probe.place, remedy=remedy)
    elif run > _BEND:
        what = f"a probe at {mm(probe.feed)} mm/min runs on for {mm(run)} mm behind the contact"
        slower = _feed(_BEND, acceleration, reaction)
        yield Finding.of("probe-overrun", what, probe.place, severity=Severity.WARN,
                         remedy=f"give a feed of F{int(slower)} at the most")  # fmt: skip


def _feed(run: float, acceleration: float, reaction: float) -> float:
    """The feed (mm/min) that runs on for so many mm: the overrun solved for the speed."""
    return 60.0 * acceleration * (sqrt(reaction**2 + 2.0 * run / acceleration) - reaction)


def _lift(course: Course, probe: _Probe) -> Iterator[Finding]:
    """The first move behind a touch goes up, and nowhere else."""
    after = probe.move + 1
    if after >= len(course):
        return
    start, end = course.start(after, _Z), course.end(after, _Z)
    place = course.place(after)
    if course.goes_sideways(after):
        what = "the head goes sideways right behind the touch"
        yield Finding.of("touch-not-lifted", what, place)
    elif end < start - NEAR:
        what = f"the tip goes from Z{mm(start)} down to Z{mm(end)} right behind the touch"
        yield Finding.of("touch-not-lifted", what, place)


def _outcome(job: Job, course: Course, probes: list[Event]) -> Iterator[Finding]:
    """What becomes of the touches: the last one before a cut, or before the end, must have set Z,
    to the thickness of the plate."""
    zeros = list(job.trace.zeros("Z"))
    for number, event in enumerate(probes):
        until = probes[number + 1].moves - 1 if number + 1 < len(probes) else len(course)
        cut = course.first_feed(event.moves, until)
        if number + 1 < len(probes) and cut is None:
            continue  # touched again before anything is cut
        last = until if cut is None else cut
        found = [zero for zero in zeros if event.moves <= zero.moves <= last]
        if not any(event.line < zero.line for zero in found):
            place = job.program.place(event.line)
            yield Finding.of("touch-unused", "a touch, and nothing sets Z behind it", place)
            continue
        here = [zero for zero in found if zero.line > event.line and _sets_here(job, zero)]
        if here and here[-1].moves > event.moves:
            before = probes[number - 1] if number else None
            yield from _set_elsewhere(job, course, event, before, here)
        else:
            yield from _set_right(job, course, event)


def _set_elsewhere(
    job: Job, course: Course, event: Event, before: Event | None, zeros: list[Event]
) -> Iterator[Finding]:
    """Z is set once more, or at all, where the tip has gone to since the touch: right only where
    the number takes that into account. `zeros` are the words behind the touch that set Z where the
    tip stands, `before` is the touch before it."""
    plate = _plate_to_zero(job)
    if plate is None:
        return
    setting = course.at(event.moves - 1)[0].setting
    number = _plate_numbers(job.machine, job.setup.with_tool(setting.tool), setting.offset[_Z])
    if number is None and before is not None:
        touched = _number_set(job, course, before)
        number = None if touched is None else Span.of(touched)
    height: Span | None = Span.of(0.0)
    at = event.moves
    for zero in zeros:
        if zero.moves > at:
            stands = course.end(zero.moves - 1, _Z)
            if height is not None:
                gone = None if number is None or isnan(stands) else stands - number
                height = None if gone is None else gone + height
        if zero.moves >= len(course):
            return
        reads = course.start(zero.moves, _Z)
        number, at = (None if isnan(reads) else Span.of(reads)), zero.moves
    place = job.program.place(zeros[-1].line)
    if number is None:
        return
    right = None if height is None else plate + height
    if right is None or right.least - _SAME <= number.least <= right.most + _SAME:
        if right is None or right.most - right.least > plate.most - plate.least + _SAME:
            what = "the tip has left the touch before Z is set, and how high it stands is not known"
            yield Finding.of("touch-unused", what, place)
        return
    what = (
        f"Z is set to {mm(number.least)} where the tip has gone to since the touch, and there it"
        f" should read {_span_text(right)}"
    )
    remedy = "set Z right behind the touch, before anything moves"
    yield Finding.of("plate-mistaken", what, place, remedy=remedy)


def _sets_here(job: Job, zero: Event) -> bool:
    """Whether a word speaks of where the tip stands: G92, and G10 L20 where the machine has it."""
    how, which, _ = _named(zero)
    return (how == "shift" and which == 920) or (how == "origin" and job.dialect.sets_here)


def _plate_to_zero(job: Job) -> Span | None:
    """How high the plate's top lies above the zero of the jobs; None where not described."""
    sheet, plate = job.setup.sheet, job.setup.plate.thickness
    if plate is None:
        return None
    if sheet.zero == "bed":
        return None if sheet.thickness is None else sheet.thickness + plate
    return Span(plate, plate)


def _span_text(span: Span) -> str:
    least, most = mm(span.least), mm(span.most)
    return least if least == most else f"{least} to {most}"


def _set_right(job: Job, course: Course, event: Event) -> Iterator[Finding]:
    """The number that Z is given on the plate."""
    sheet, plate = job.setup.sheet, job.setup.plate.thickness
    number, high = _number_set(job, course, event), _plate_to_zero(job)
    if number is None or plate is None or high is None:
        return
    if high.least - _SAME <= number <= high.most + _SAME:
        return
    zero = next(e for e in _zeros_at(job, event))
    right = _span_text(high)
    what = f"Z is set to {mm(number)} on the plate, which is {mm(plate)} thick"
    if sheet.zero == "bed":
        what += f" and lies on the sheet, with zero at the bed: {right}"
    yield Finding.of("plate-mistaken", what, job.program.place(zero.line),
                     remedy=f"set Z to {right}, or mend `plate: thickness` in the set-up file"
                     )  # fmt: skip


def _zeros_at(job: Job, event: Event) -> Iterator[Event]:
    """The words that set Z right behind a touch, before anything moves."""
    for zero in job.trace.zeros("Z"):
        if zero.moves == event.moves and zero.line > event.line:
            yield zero


def _number_set(job: Job, course: Course, event: Event) -> float | None:
    """What Z reads on the plate behind a touch; None where it is not set there, or not known."""
    if event.moves >= len(course) or next(_zeros_at(job, event), None) is None:
        return None
    number = course.start(event.moves, _Z)
    return None if isnan(number) else number


def _named(event: Event) -> tuple[str, int, str]:
    """What a zero event has set: how, which, along which axes."""
    value = event.value
    return value if isinstance(value, tuple) and len(value) == 3 else ("", 0, "")


def _plate_numbers(machine: Machine, setup: Setup, offset: float) -> Span | None:
    """Where the plate's top may be in numbers with this offset; None where not known."""
    if isnan(offset):
        return None
    try:
        touch = Heights.of(machine, setup, "the probe").touch
    except JobRefused:
        return None
    return machine.axes["z"].high - touch - offset
