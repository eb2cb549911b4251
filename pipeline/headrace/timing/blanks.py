"""A blank that turns under the bit: times go by its surface, laid flat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from headrace.job import Job
from headrace.language import Trace
from headrace.machine import Machine
from headrace.rehearsal.space.rolled import angles, laid_flat
from headrace.timing.limits import Limits, limits_of
from headrace.timing.moves import Moves


def flat_trace(job: Job) -> Trace:
    """What the program does, the turns of a blank as ways along its surface; what it does, where
    there is no blank."""
    blank = job.setup.blank
    if blank is None:
        return job.trace
    blocks = tuple(laid_flat(block, blank, job.machine) for block in job.trace.blocks)
    return replace(job.trace, blocks=blocks)


def limits_on_blank(job: Job, moves: Moves, trace: Trace) -> Limits:
    """The limits of the moves of a flat trace: where the blank turns, those of its axis count in
    the place of the linear one's, as fast as they are on the surface."""
    limits = limits_of(moves, trace, job.machine)
    blank = job.setup.blank
    if blank is None or trace.blocks == job.trace.blocks:
        return limits
    turned = np.concatenate([angles(block, blank.axis) != 0 for block in job.trace.blocks])
    other = limits_of(moves, trace, _on_surface(job.machine, blank.axis, blank.around / 360.0))
    return Limits(
        *(
            np.where(turned, there, here)
            for here, there in (
                (limits.wanted, other.wanted),
                (limits.speed, other.speed),
                (limits.acceleration, other.acceleration),
            )
        )
    )


def _on_surface(machine: Machine, letter: str, mm: float) -> Machine:
    """The machine with a rotary axis, so many mm a degree, in place of the linear one across."""
    rotary = machine.rotary[letter]
    across = "y" if rotary.along == "x" else "x"
    gain = rotary.acceleration
    axis = replace(
        machine.axes[across],
        rapid=rotary.rapid * mm,
        feed=rotary.feed * mm,
        acceleration=None if gain is None else gain * mm,
    )
    return replace(machine, axes={**machine.axes, across: axis})
