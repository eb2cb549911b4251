"""Raising the Z number after homing."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

from headrace import Edit, Facet, Job, before, needed, transform
from headrace_transforms.framing.raising import raised
from headrace_transforms.framing.travel import require_homed
from headrace_transforms.framing.zeroing import require_kept, require_lasting
from headrace_transforms.numbers.lengths import Units
from headrace_transforms.telling.refusing import refusal


@transform(
    "rereference-z",
    changes=[Facet.WORK_ZERO, Facet.COMMENTS],
    options={
        "margin": {
            "type": "number",
            "description": "How far above the lowest target the probe's aim stays at least; mm.",
            "exclusiveMinimum": 0,
            "maximum": 100,
            "default": 2,
        },
        "over-travel": {
            "type": "number",
            "description": "How far below the lowest possible touch the probe aims, as in"
            " touch-off; mm.",
            "exclusiveMinimum": 0,
            "maximum": 50,
            "default": 3,
        },
    },
)
def rereference_z(job: Job, *, margin: float, over_travel: float) -> Iterator[Edit]:
    """Give Z a higher number after homing, so that a probe may aim at the plate.

    For controllers that let no probe aim below a certain number. The new number is that lowest
    target, plus the way from here down to the lowest possible touch, plus over-travel and margin,
    rounded up to a whole millimetre; it is never less than the whole way of the probe.

        G28 Z0        ->        G28 Z0
                                (Z HERE BECOMES 56)
                                G92 Z56
    """
    start, machine = job.landmarks.start, job.machine
    state = job.state_at(start)
    if machine.work_zero.word != "G92":
        why = f"its numbers are set by {machine.work_zero.word}"
        raise refusal("rereference-needless", f"rereference-z is not for this machine: {why}")
    lowest = needed(machine.probe, "machine.probe", "rereference-z").lowest_target
    if lowest is None:
        raise refusal(
            "rereference-needless",
            "rereference-z is not for this machine: machine.probe.lowest-target is not given",
            remedy="leave the step out if the controller lets a probe aim at any number; else fill"
            " in `probe.lowest-target` in the machine file",
        )
    require_kept(job, "rereference-z")
    require_homed(state, "Z", "rereference-z")
    require_lasting(job, start, "rereference-z")
    axis = machine.axes["z"]
    here = state.machine[2]
    if axis.home_end != "high" or isnan(here) or here < axis.homed_number - 1e-6:
        raise refusal("not-homed", "rereference-z must stand right behind homing Z to its top")
    units = Units.read_by(machine, state, "rereference-z")
    number, told = raised(machine, job.setup, here, margin, over_travel, "rereference-z")
    yield before(start, *told, f"G92 Z{units.text(number)}")
