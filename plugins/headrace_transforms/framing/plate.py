"""The touch plate: going over it, and touching it twice."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

from headrace import Edit, Job, State, asking, before, needed, pausing
from headrace_transforms.framing.raising import raised
from headrace_transforms.framing.touching import Touch
from headrace_transforms.framing.travel import require_inside, way_to
from headrace_transforms.framing.zeroing import zero_by_touch, zero_here
from headrace_transforms.numbers.lengths import Units
from headrace_transforms.telling.refusing import refusal
from headrace_transforms.telling.wording import mm


def require_top(job: Job, purpose: str) -> None:
    """JobRefused where the jobs' Z0 is not the face that the plate lies on."""
    if job.setup.sheet.zero == "bed":
        what = f"{purpose} makes the top of the sheet Z0, and the set-up says that it is the bed"
        raise refusal("touch-on-top", what)


def over_plate(job: Job, purpose: str) -> dict[str, float]:
    """Where the middle of the plate is, in machine coordinates; JobRefused where that is not
    described, or outside the travel."""
    corner = needed(job.setup.sheet.corner, "setup.sheet.corner", purpose)
    at = needed(job.setup.plate.at, "setup.plate.at", purpose)
    place = {"X": corner[0] + at[0], "Y": corner[1] + at[1]}
    for axis, value in place.items():
        fields = "setup.plate.at or setup.sheet.corner"
        require_inside(job.machine, axis, value, "the touch plate", fields)
    return place


def plate_numbers(job: Job, state: State, place: dict[str, float]) -> dict[str, float]:
    """The numbers that lead over the plate; JobRefused where they are not known."""
    numbers = way_to(job, state, place)
    if numbers is None:
        what = "nothing tells what the plate's place reads in X and Y"
        raise refusal("numbers-unknown", what)
    return numbers


def sideways(job: Job, units: Units, numbers: dict[str, float]) -> str:
    """The line that goes somewhere in X and Y, by the `numbers` that `way_to` gives."""
    word = "G53 G0" if job.machine.machine_moves else "G0"
    return f"{word} {units.words(numbers)}"


def touched(
    job: Job, line: int, state: State, touch: Touch, purpose: str, margin: float | None = None
) -> Iterator[Edit]:
    """The clip on, two touches, the clip off, before `line`; each touch makes its place read the
    plate's thickness.

    In `state` the tip stands over the plate at the top of Z, in known machine coordinates. With a
    `margin` (mm) Z gets a higher number first, where no probe may aim as low as the plate.
    """
    units = Units.read_by(job.machine, state, purpose)
    lines, offset = _numbered(job, state, units, touch, purpose, margin)
    if lines:
        yield before(line, *lines)
    yield from pausing(job.machine, line, *asking("clip-on"), asks="clip-on")
    yield before(line, *_touches(job, touch, units, offset, purpose))
    yield from pausing(job.machine, line, *asking("clip-off"), asks="clip-off")


def _numbered(
    job: Job, state: State, units: Units, touch: Touch, purpose: str, margin: float | None
) -> tuple[tuple[str, ...], float]:
    """Lines that give Z numbers in which the aims can be stated, and the offset of these (mm)."""
    machine, here = job.machine, state.machine[2]
    probe = needed(machine.probe, "machine.probe", purpose)
    by_origin = machine.work_zero.word == "G10 L2"
    if margin is not None and probe.lowest_target is not None and not by_origin:
        number, told = raised(machine, job.setup, here, margin, touch.over_travel, purpose)
        zero = zero_here(job, state, units, {"Z": number}, purpose)
        return (*told, *zero), here - number
    if isnan(state.offset[2]) or by_origin:
        # from here on Z reads the machine's own numbers
        return zero_here(job, state, units, {"Z": here}, purpose), 0.0
    return (), state.offset[2]


def _touches(job: Job, touch: Touch, units: Units, offset: float, purpose: str) -> Iterator[str]:
    """The lines between the two pauses."""
    probe = needed(job.machine.probe, "machine.probe", purpose)
    second = touch.plate - touch.over_travel
    _require_target(probe.lowest_target, units.written(second), "the second touch")
    _require_target(probe.lowest_target, units.written(touch.aim - offset), "the first touch")
    text = units.text
    yield f"G0 Z{text(touch.approach - offset)}"
    yield f"{probe.word} Z{text(touch.aim - offset)} F{text(touch.quick)}"
    yield from zero_by_touch(job, units, touch.plate, True, purpose)
    yield f"G0 Z{text(touch.plate + touch.back_off)}"
    yield f"{probe.word} Z{text(second)} F{text(touch.slow)}"
    yield from zero_by_touch(job, units, touch.plate, False, purpose)
    yield f"G0 Z{text(touch.plate + touch.retract)}"


def _require_target(lowest: float | None, target: float, what: str) -> None:
    if lowest is not None and target < lowest:
        short = lowest - target
        remedy = (
            "put the step `rereference-z` before it; if it stands there, give it a `margin` that"
            f" is {mm(short)} larger"
            if what == "the first touch"
            else f"give `over-travel` at least {mm(short)} less"
        )
        raise refusal(
            "probe-too-low",
            f"{what} aims at Z{mm(target)}, {mm(short)} below the lowest target Z{mm(lowest)}",
            remedy=remedy,
        )
