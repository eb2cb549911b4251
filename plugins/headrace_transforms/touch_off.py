"""Finding Z by the touch plate."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

from headrace import Edit, Facet, Job, asking, before, needed, transform
from headrace_transforms.lifting import at_top, to_top
from headrace_transforms.pausing import pausing
from headrace_transforms.refusing import refusal
from headrace_transforms.stopping import require_still, stopped
from headrace_transforms.touching import Touch, touch_of
from headrace_transforms.travel import require_homed, require_homed_here, require_inside, way_to
from headrace_transforms.units import Units
from headrace_transforms.wording import mm
from headrace_transforms.zeroing import require_kept, selecting, zero_by_touch, zero_here


def _length(description: str, default: float, most: float = 200) -> dict[str, object]:
    return {
        "type": "number",
        "description": f"{description}; mm.",
        "exclusiveMinimum": 0,
        "maximum": most,
        "default": default,
    }


def _feed(description: str, example: float) -> dict[str, object]:
    return {
        "type": "number",
        "description": f"{description}; mm/min. When left out, as the machine says.",
        "exclusiveMinimum": 0,
        "examples": [example],
    }


@transform(
    "touch-off",
    changes=[
        Facet.WORK_ZERO,
        Facet.STOPS,
        Facet.SPINDLE,
        Facet.DWELL,
        Facet.COMMENTS,
    ],
    adds_motion=True,
    options={
        "gap": _length("Air that the rapid leaves above the highest possible plate", 3),
        "back-off": _length("How far to go up again between the two touches", 2, 50),
        "over-travel": _length("How far below the lowest possible touch the probe aims", 3, 50),
        "retract": _length("How far above the plate to wait for it to be taken away", 15),
        "quick": _feed("Feed of the first touch", 120),
        "slow": _feed("Feed of the second touch, which counts", 30),
    },
)
def touch_off(
    job: Job,
    *,
    gap: float,
    back_off: float,
    over_travel: float,
    retract: float,
    quick: float | None,
    slow: float | None,
) -> Iterator[Edit]:
    """Touch the plate twice and set Z zero on the top of the sheet.

    Goes over the plate at the top of Z, asks for the clip, comes down to `gap` above the highest
    place where the plate may be, and touches it quickly and then slowly. Each touch makes its
    place read the plate's thickness. Then goes up and asks for the clip and the plate to be taken
    away. The spindle stands still throughout, and every number is absolute.

        G0 Z5         ->        G90
                                G0 X50 Y50
                                (PLATE ON, CLIP ON)
                                M0
                                G0 Z13.12
                                G38.2 Z2.62 F120
                                G92 Z12.02
                                G0 Z14.02
                                G38.2 Z9.02 F30
                                G92 Z12.02
                                G0 Z27.02
                                (CLIP OFF, PLATE AWAY)
                                M0
                                G0 Z5
    """
    name, start, machine = "touch-off", job.landmarks.start, job.machine
    if job.setup.sheet.zero == "bed":
        what = f"{name} makes the top of the sheet Z0, and the set-up says that it is the bed"
        raise refusal("touch-on-top", what)
    touch = touch_of(
        job,
        gap=gap,
        back_off=back_off,
        over_travel=over_travel,
        retract=retract,
        quick=quick,
        slow=slow,
    )
    place = _over_plate(job)
    require_kept(job, name)
    state = job.state_at(start)
    require_still(state, name)
    require_homed(state, "XYZ", name)
    require_homed_here(job, start, name)
    units = Units.of(state, name)
    numbers = way_to(job, state, place)
    if numbers is None:
        raise refusal("numbers-unknown", f"{name} cannot tell what the plate's place reads")
    yield from stopped(machine, start, state, machine.spindle.run_down)
    lines = ["G90", *selecting(job, state, name)]
    here = state.machine[2]
    if not at_top(job, state):
        if not machine.machine_moves and isnan(state.offset[2]):
            again = "home" if machine.homing.axes == "all" else "home: {axes: [z]}"
            raise refusal(
                "numbers-unknown",
                f"{name} cannot tell how high the tip stands: Z has been set since it was homed",
                remedy=f"put the step `{again}` right before it, and behind that `rereference-z` if"
                " this machine's recipes have it",
            )
        lines.append(to_top(job, state, units, name))
        here = machine.axes["z"].high - machine.margin
    word = "G53 G0" if machine.machine_moves else "G0"
    lines.append(f"{word} X{units.text(numbers['X'])} Y{units.text(numbers['Y'])}")
    offset = state.offset[2]
    if isnan(offset) or machine.work_zero.word == "G10 L2":
        # from here on Z reads the machine's own numbers, so that the aim can be stated
        there = state.copy()
        there.moved_machine(2, here)
        lines.extend(zero_here(job, there, units, {"Z": here}, name))
        offset = 0.0
    yield before(start, *(line for line in lines if line))
    yield from pausing(machine, start, *asking("clip-on"), asks="clip-on")
    yield before(start, *_touches(job, touch, units, offset))
    yield from pausing(machine, start, *asking("clip-off"), asks="clip-off")


def _over_plate(job: Job) -> dict[str, float]:
    """Where the middle of the plate is, in machine coordinates."""
    corner = needed(job.setup.sheet.corner, "setup.sheet.corner", "touch-off")
    at = needed(job.setup.plate.at, "setup.plate.at", "touch-off")
    place = {"X": corner[0] + at[0], "Y": corner[1] + at[1]}
    for axis, value in place.items():
        fields = "setup.plate.at or setup.sheet.corner"
        require_inside(job.machine, axis, value, "the touch plate", fields)
    return place


def _touches(job: Job, touch: Touch, units: Units, offset: float) -> Iterator[str]:
    """The lines between the two pauses."""
    name = "touch-off"
    probe = needed(job.machine.probe, "machine.probe", name)
    second = touch.plate - touch.over_travel
    _require_target(probe.lowest_target, units.written(second), "the second touch")
    _require_target(probe.lowest_target, units.written(touch.aim - offset), "the first touch")
    text = units.text
    yield f"G0 Z{text(touch.approach - offset)}"
    yield f"{probe.word} Z{text(touch.aim - offset)} F{text(touch.quick)}"
    yield from zero_by_touch(job, units, touch.plate, True, name)
    yield f"G0 Z{text(touch.plate + touch.back_off)}"
    yield f"{probe.word} Z{text(second)} F{text(touch.slow)}"
    yield from zero_by_touch(job, units, touch.plate, False, name)
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
