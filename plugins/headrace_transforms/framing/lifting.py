"""Lifting the tip out of everything's way, before anything moves sideways."""

from __future__ import annotations

from math import isnan

from headrace import Heights, Job, State
from headrace_transforms.framing.travel import NEAR, way_to
from headrace_transforms.numbers.lengths import Units


def at_top(job: Job, state: State) -> bool:
    """Whether the tip is known to be where homing leaves it, or above what is planned with."""
    axis = job.machine.axes["z"]
    place = state.machine[2]
    ends_high = axis.home_end == "high"
    top = axis.high - job.machine.margin
    if ends_high:
        top = min(top, axis.homed_number)
    return not isnan(place) and place >= top - NEAR


def to_top(job: Job, state: State, units: Units, purpose: str, below: float | None = None) -> str:
    """The line that lifts to `below` mm under the top of travel (default: the margin).

    In machine coordinates where these are known. Else in work numbers, with Z zero on the top of
    the sheet, as high as is surely inside the travel whatever the sheet and the bit that is in
    measure.

    Raises JobRefused where the heights are not described. No text where the tip is high enough.
    """
    down = job.machine.margin if below is None else below
    top = job.machine.axes["z"].high - down
    if state.machine[2] >= top - NEAR:
        return ""
    if "Z" in state.homed:
        numbers = way_to(job, state, {"Z": top})
        if numbers is not None:
            word = "G53 G0" if job.machine.machine_moves else "G0"
            return f"{word} Z{units.text(numbers['Z'])}"
    surface = Heights.surface_of(job.machine, job.setup.with_tool(state.tool), purpose)
    number = surface.least - down
    if state.position[2] >= number - NEAR:
        return ""
    return f"G0 Z{units.text(number)}"
