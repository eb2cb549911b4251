"""Ending a program."""

from __future__ import annotations

from collections.abc import Iterator

from headrace import (
    Edit,
    Facet,
    Heights,
    Job,
    JobRefused,
    State,
    after,
    before,
    delete,
    replace,
    transform,
)
from headrace_transforms.framing.ending import Ending, ending_of, state_before_end
from headrace_transforms.framing.lifting import to_top
from headrace_transforms.framing.plate import sideways
from headrace_transforms.framing.stopping import Insert, stopped
from headrace_transforms.framing.travel import NEAR, way_to
from headrace_transforms.numbers.lengths import Units
from headrace_transforms.telling.refusing import refusal
from headrace_transforms.telling.wording import mm, notes


@transform(
    "park",
    changes=[
        Facet.SPINDLE,
        Facet.OUTPUTS,
        Facet.DWELL,
        Facet.STOPS,
        Facet.COMMENTS,
        Facet.LINE_NUMBERS,
    ],
    adds_motion=True,
)
def park(job: Job) -> Iterator[Edit]:
    """Lift, stop what turns, go to the parking place and end the program.

    Lifts before anything else, before a question for the spindle's switch too; stops a spindle
    that may turn and waits until it stands, or asks for it; switches outputs off; goes to the
    machine's parking place where that can be told, else stays. Then one end word, the machine's
    own, and its % frame. Lines behind the end stay as they are.

        G1 X0         ->        G1 X0
        M30                     G90
                                G53 G0 Z-5
                                M5
                                G4 P10
                                M9
                                G53 G0 X650 Y2480
                                M30
    """
    ending = ending_of(job)
    state = state_before_end(job, ending)
    behind = ending.word is not None and ending.rest_acts
    insert: Insert = after if behind else before
    yield from _opening(job, ending)
    if behind:
        yield ending.without_word()
    yield from _parked(job, ending.line, state, insert)
    yield from _ended(job, ending, behind)


def _parked(job: Job, line: int, state: State, insert: Insert) -> Iterator[Edit]:
    machine = job.machine
    units = Units.read_by(machine, state, "park")
    for axis, place in machine.park.items():
        travel = machine.axes[axis]
        if not travel.low - NEAR <= place <= travel.high + NEAR:
            raise refusal(
                "out-of-travel",
                f"the parking place {axis.upper()}{mm(place)} lies outside the travel"
                f" {mm(travel.low)} to {mm(travel.high)}",
                remedy=f"change machine.park.{axis}",
            )
    lift = to_top(job, state, units, "park", _below(job, state))
    if insert is before:
        yield before(_before_asking(job, line), "G90", *filter(None, [lift]))
    else:
        yield insert(line, "G90", *filter(None, [lift]))
    yield from stopped(job, line, state, insert)
    wet = ["M9"] if state.mist or state.flood else []
    wired = filter(None, map(machine.off_word, machine.outputs))
    if off := dict.fromkeys([*wet, *wired]):
        yield insert(line, *off)
    places = {axis.upper(): machine.park[axis] for axis in ("x", "y") if axis in machine.park}
    if not places:
        return
    numbers = way_to(job, state, places) if set(places) <= state.homed else None
    if numbers is None:
        yield from _noted(job, line, insert)
        return
    yield insert(line, sideways(job, units, numbers))


def _before_asking(job: Job, line: int) -> int:
    """Where to lift: before the question for the spindle's switch that an earlier step may have
    put right before `line`, for a hand must not reach for a router whose bit is in the cut."""
    found = line
    while found and job.program[found - 1].origin is None:
        above = job.program[found - 1]
        if above.is_code and above.asks != "spindle-off":
            break
        found -= 1
    asked = any(job.program[index].asks == "spindle-off" for index in range(found, line))
    return found if asked else line


def _noted(job: Job, line: int, insert: Insert) -> Iterator[Edit]:
    lines = notes(job.machine, "HEAD STAYS HERE:", "PARKING PLACE HAS NO", "KNOWN NUMBERS")
    if lines:
        yield insert(line, *lines)


def _below(job: Job, state: State) -> float:
    """How far below the top of travel the head waits; JobRefused where that is not safe."""
    machine, setup = job.machine, job.setup
    top = machine.axes["z"].high
    if "z" not in machine.park:
        return machine.margin
    below = top - machine.park["z"]
    try:
        surface = Heights.of(machine, setup.with_tool(state.tool), "park").surface
    except JobRefused:
        return below
    most = surface.least - (setup.safe_height or 0.0)
    if below > most:
        raise refusal(
            "park-too-low",
            f"parking at Z{mm(top - below)} is {mm(below - most)} mm below the safe height",
            remedy=f"give machine.park.z at least {mm(top - most)}"
            if most >= 0
            else f"the travel ends at Z{mm(top)}: setup.safe-height may be"
            f" {mm(surface.least - below)} at the most here",
        )
    return below


def _opening(job: Job, ending: Ending) -> Iterator[Edit]:
    """The % line that opens the program, as the machine wants it."""
    program = job.program
    first = next(
        (
            line
            for line in program
            if line.index < ending.line and (line.scan.percent or line.is_code)
        ),
        None,
    )
    framed = first is not None and first.scan.percent
    if job.machine.percent and not framed:
        if len(program) and program[0].raw.startswith(b"\xef\xbb\xbf") and ending.line > 0:
            # a byte-order mark is at home at the very beginning only
            yield replace(0, program[0].text)
        yield before(0, "%")
    elif first is not None and framed and not job.machine.percent:
        yield delete(first.index)


def _ended(job: Job, ending: Ending, behind: bool) -> Iterator[Edit]:
    """The end word, alone on its line, and the closing % line."""
    machine, program, at = job.machine, job.program, ending.line
    behind_end = range(at, len(program))
    closing = next((index for index in behind_end if program[index].scan.percent), None)
    frame = ["%"] if machine.percent and closing is None else []
    if behind:
        yield after(at, machine.end, *frame)
    elif ending.word is not None:
        line = program[at]
        text = line.rewritten({ending.word: machine.end})
        if line.scan.block_delete:
            text = machine.end
        if text != line.text:
            yield replace(at, text)
        if frame:
            yield after(at, *frame)
    else:
        yield before(at, machine.end, *frame)
    if closing is not None and not machine.percent:
        yield delete(closing)
