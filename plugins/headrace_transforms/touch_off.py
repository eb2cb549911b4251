"""Finding Z by the touch plate."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

from headrace import Edit, Facet, Job, before, transform
from headrace_transforms.framing.lifting import at_top, to_top
from headrace_transforms.framing.plate import (
    over_plate,
    plate_numbers,
    require_top,
    sideways,
    touched,
)
from headrace_transforms.framing.stopping import require_still, stopped
from headrace_transforms.framing.touching import OPTIONS, touch_of
from headrace_transforms.framing.travel import require_homed, require_homed_here
from headrace_transforms.framing.zeroing import require_kept, require_lasting, selecting
from headrace_transforms.numbers.lengths import Units
from headrace_transforms.telling.refusing import refusal


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
    options=OPTIONS,
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
    require_top(job, name)
    touch = touch_of(
        machine,
        job.setup,
        name,
        gap=gap,
        back_off=back_off,
        over_travel=over_travel,
        retract=retract,
        quick=quick,
        slow=slow,
    )
    place = over_plate(job, name)
    require_kept(job, name)
    state = job.state_at(start)
    require_still(state, name)
    require_homed(state, "XYZ", name)
    require_homed_here(job, start, name)
    require_lasting(job, start, name, touched=True)
    units = Units.read_by(machine, state, name)
    numbers = plate_numbers(job, state, place)
    yield from stopped(job, start, state)
    lines = ["G90", *selecting(job, state, name)]
    there = state.copy()
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
        there.moved_machine(2, machine.axes["z"].high - machine.margin)
    lines.append(sideways(job, units, numbers))
    yield before(start, *(line for line in lines if line))
    yield from touched(job, start, there, touch, name)
