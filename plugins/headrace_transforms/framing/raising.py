"""A higher Z number, where no probe may aim below a certain one."""

from __future__ import annotations

from math import ceil

from headrace import Heights, Machine, Setup, needed
from headrace_transforms.framing.travel import require_inside
from headrace_transforms.telling.wording import mm, notes


def raised(
    machine: Machine, setup: Setup, here: float, margin: float, over_travel: float, purpose: str
) -> tuple[float, tuple[str, ...]]:
    """The number that Z gets where the tip stands (`here`, in machine coordinates; mm), and
    comment lines that tell how it comes about.

    It is the lowest target of the probe, plus the way down to the lowest possible touch, plus
    `over_travel` and `margin`, rounded up to a whole millimetre. JobRefused where that lies outside
    the travel.
    """
    probe = needed(machine.probe, "machine.probe", purpose)
    lowest = max(needed(probe.lowest_target, "machine.probe.lowest-target", purpose), 0.0)
    heights = Heights.of(machine, setup, purpose)
    deepest = machine.axes["z"].high - heights.touch.most - over_travel
    stick_out = setup.field(setup.tool, "stick-out")
    fields = f"machine.bed, {stick_out}, setup.sheet.thickness or over-travel"
    require_inside(machine, "Z", deepest, "the lowest aim of the probe", fields)
    way = here - deepest
    number = ceil(lowest + way + margin - 1e-9)
    return number, notes(
        machine,
        f"Z HERE BECOMES {mm(number)}:",
        f"LOWEST TARGET {mm(lowest)}",
        f"LOWEST TOUCH {mm(way - over_travel)}",
        f"OVER-TRAVEL {mm(over_travel)}",
        f"MARGIN {mm(margin)}",
    )
