"""The sheet's corner as work zero."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

from headrace import Edit, Facet, Job, before, needed, transform
from headrace_transforms.framing.lifting import at_top, to_top
from headrace_transforms.framing.plate import sideways
from headrace_transforms.framing.travel import (
    require_homed,
    require_homed_here,
    require_inside,
    way_to,
)
from headrace_transforms.framing.zeroing import require_kept, require_lasting, selecting, zero_here
from headrace_transforms.numbers.lengths import Units
from headrace_transforms.telling.refusing import refusal


@transform(
    "corner-zero",
    changes=[Facet.WORK_ZERO, Facet.COMMENTS],
    adds_motion=True,
)
def corner_zero(job: Job) -> Iterator[Edit]:
    """Go to the sheet's corner and make it the work zero in X and Y.

    The corner is `sheet: corner` of the set-up, in the numbers shown after homing. Goes there at
    the top of Z, by a move in machine coordinates where the machine knows them, and sets the zero
    by the machine's own words.

        G28 X0 Y0     ->        G28 X0 Y0
                                G90
                                G54
                                G53 G0 X150 Y200
                                G10 L2 P1 X150 Y200
    """
    name, start, machine = "corner-zero", job.landmarks.start, job.machine
    require_kept(job, name)
    corner = needed(job.setup.sheet.corner, "setup.sheet.corner", name)
    for axis, place in zip("XY", corner, strict=True):
        require_inside(machine, axis, place, "the sheet's corner", "setup.sheet.corner")
    state = job.state_at(start)
    require_homed(state, "XYZ", name)
    require_homed_here(job, start, name)
    require_lasting(job, start, name)
    units = Units.read_by(machine, state, name)
    lines = ["G90", *selecting(job, state, name)]
    if not at_top(job, state):
        lines.append(to_top(job, state, units, name))
    places = {"X": corner[0], "Y": corner[1]}
    numbers = way_to(job, state, places)
    if numbers is None:
        # no work offset is known yet: make the numbers those of the machine, where it stands now
        here = {axis: state.machine[at] for at, axis in enumerate("XY")}
        if any(isnan(place) for place in here.values()):
            raise refusal("numbers-unknown", f"{name} cannot tell what the corner reads in X and Y")
        lines.extend(zero_here(job, state, units, here, name))
        numbers = places
    lines.append(sideways(job, units, numbers))
    there = state.copy()
    for at, place in enumerate(corner):
        there.moved_machine(at, place)
    lines.extend(zero_here(job, there, units, {"X": 0.0, "Y": 0.0}, name))
    yield before(start, *(line for line in lines if line))
