"""Bringing about, at the beginning of a file, what lines have done that stand in another one."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

from headrace import Edit, EventKind, Job, State, number_text, replace
from headrace_transforms.framing.travel import NEAR
from headrace_transforms.numbers.lengths import Units
from headrace_transforms.numbers.systems import SYSTEMS
from headrace_transforms.telling.refusing import place_of, refusal
from headrace_transforms.telling.wording import mm

_MOTIONS = {0: "G0", 10: "G1", 20: "G2", 30: "G3"}


def restored(job: Job, line: int) -> Iterator[str]:
    """Lines that bring the machine from anywhere to how it stands before `line`: modes, feed,
    speed, outputs, and the place, where it is known; but no spindle, and no tool."""
    state = job.state_at(line)
    _require_plain(job, state, line)
    units = Units.of(state, "the file behind a tool change")
    yield f"{'G20' if state.units == 'inch' else 'G21'} G{state.plane} G90 G94"
    if job.machine.work_zero.systems and 12 in state.stated:
        yield SYSTEMS[state.system - 1]
    if 4 in state.stated:
        yield "G90.1" if state.absolute_centres else "G91.1"
    corners = [event for event in job.trace.events_of(EventKind.CORNERS) if event.line < line]
    if corners:
        yield _corners(job, corners[-1].line)
    if state.feed:
        yield f"F{number_text(state.feed)}"
    if state.speed is not None:
        yield f"S{number_text(job.dialect.speed_number(state.speed), 3)}"
    yield from _outputs(state)
    if state.return_to_r:
        yield "G99"
    yield from _place(job, state, units)
    if state.incremental:
        yield "G91"


def first_motion_stated(job: Job, start: int, stop: int) -> list[Edit]:
    """The first line that moves says its motion, where it relied on lines before `start`."""
    state = job.state_at(start)
    word = _MOTIONS.get(state.motion or 0, "G0")
    for index in range(start, stop):
        line = job.program[index]
        if any(w.letter == "G" and w.code in _TAKE_AXES for w in line.words):
            continue
        if any(w.code in _STATE_MOTION for w in line.words if w.letter == "G"):
            return []
        axes = [w for w in line.words if w.letter in "XYZABC"]
        if axes:
            text = line.text[: axes[0].start] + f"{word} " + line.text[axes[0].start :]
            return [replace(index, text)]
    return []


_TAKE_AXES = frozenset(("G10", "G28", "G30", "G92"))
_STATE_MOTION = frozenset(
    ("G0", "G1", "G2", "G3", "G38.2", "G80", *(f"G{number}" for number in range(81, 90)))
)


def _place(job: Job, state: State, units: Units) -> Iterator[str]:
    """The way to the place, Z last: in machine coordinates where these are what led there."""
    for axes in ("XY", "Z"):
        at = {axis: "XYZ".index(axis) for axis in axes}
        placed = {a: state.placed[i] for a, i in at.items() if i in state.placed}
        known = {a: state.position[i] for a, i in at.items() if a not in placed}
        for word, numbers in (("G53 G0", placed), ("G0", known)):
            numbers = {a: v for a, v in numbers.items() if not isnan(v)}
            if numbers and (word == "G0" or job.machine.machine_moves):
                yield f"{word} {units.words(numbers)}"


def _require_plain(job: Job, state: State, line: int) -> None:
    """JobRefused where the state is more than words at the beginning can bring about, or where no
    bit may come down to the place without turning."""
    place = place_of(job.program, job.program[line])
    shifts = job.program.lines_with("G", 92)
    for fault, what in (
        (state.inverse_time, "the feed counts in inverse time (G93)"),
        (state.cycle is not None, "a drilling cycle is in force"),
        (not state.overrides, "the feed knob is switched off (M49)"),
        (bool((shifts < line).any()), "the job has moved its zero (G92)"),
    ):
        if fault:
            raise refusal("state-not-restorable", f"{what} where the tool changes", place=place)
    homings = (event.line for event in job.trace.events_of(EventKind.HOME))
    if job.dialect.homing_clears_shift and any(at < line for at in homings):
        what = "the job has homed the machine, which takes its zero away, before the tool changes"
        remedy = "export the job without the homing word"
        raise refusal("state-not-restorable", what, place=place, remedy=remedy)
    depth = -state.position[2]
    if job.setup.sheet.zero == "top" and depth > NEAR:
        what = f"the tool changes with the tip {mm(depth)} mm in the sheet"
        remedy = "let CAM lift out of the sheet before it calls the bit"
        raise refusal("change-out-of-place", what, place=place, remedy=remedy)


def _corners(job: Job, line: int) -> str:
    """The words for how corners are taken, as the job's line has them."""
    words = job.program[line].words
    code = next(word.code for word in words if word.code in ("G61", "G61.1", "G64"))
    within = next((word for word in words if word.letter == "P"), None)
    if code != "G64" or within is None or within.value is None:
        return code
    return f"{code} P{within.value}"


def _outputs(state: State) -> Iterator[str]:
    """What is switched on, a line for each word."""
    if state.mist:
        yield "M7"
    if state.flood:
        yield "M8"
    for code, on in sorted(state.outputs.items()):
        if on and code not in (7, 8):
            yield f"M{code}"
