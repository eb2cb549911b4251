"""Heights that a person would otherwise guess, computed over everything that may vary.

All are distances below the highest place that the tool's tip reaches, positive downwards, in mm:

    tip at the top of travel  ─┬─ 0
                               │            touch  = bed - stick-out - thickness - plate
    top of the plate          ─┼─ touch
    top of the sheet          ─┼─ surface = touch + plate
    top of the spoilboard     ─┴─ floor   = bed - stick-out
"""

from __future__ import annotations

from dataclasses import dataclass

from headrace.machine.description import Machine
from headrace.machine.setup import Setup
from headrace.machine.span import Span
from headrace.machine.unknown import needed


@dataclass(frozen=True, slots=True)
class Heights:
    """Distances below the tip's highest place, each a span (mm)."""

    floor: Span
    surface: Span
    touch: Span

    @classmethod
    def of(cls, machine: Machine, setup: Setup, purpose: str) -> Heights:
        """From the description; JobRefused names the field that is missing."""
        floor, surface = cls._sheet(machine, setup, purpose)
        plate = needed(setup.plate.thickness, "setup.plate.thickness", purpose)
        return cls(floor=floor, surface=surface, touch=surface - plate)

    @classmethod
    def surface_of(cls, machine: Machine, setup: Setup, purpose: str) -> Span:
        """The top of the sheet alone, which no plate is needed for; JobRefused as `of`."""
        return cls._sheet(machine, setup, purpose)[1]

    @staticmethod
    def _sheet(machine: Machine, setup: Setup, purpose: str) -> tuple[Span, Span]:
        bed = needed(machine.bed_under(setup.tool.number), "machine.bed", purpose)
        stick_out = needed(setup.tool.stick_out, setup.field(setup.tool, "stick-out"), purpose)
        thickness = needed(setup.sheet.thickness, "setup.sheet.thickness", purpose)
        floor = bed - stick_out
        return floor, floor - thickness


def spoilboard_at(machine: Machine, setup: Setup) -> Span | None:
    """Where the tip meets the spoilboard, in machine coordinates; None where not described."""
    bed, stick_out = machine.bed_under(setup.tool.number), setup.tool.stick_out
    if bed is None or stick_out is None:
        return None
    return machine.axes["z"].high - (bed - stick_out)


def sheet_top_at(machine: Machine, setup: Setup) -> Span | None:
    """Where the tip meets the top of the sheet, in machine coordinates; None where not
    described."""
    floor, thickness = spoilboard_at(machine, setup), setup.sheet.thickness
    return None if floor is None or thickness is None else floor + thickness


def lacking(machine: Machine, setup: Setup) -> str:
    """The first field that is lacking to tell where sheet and plate are; one must be."""
    fields = {
        "machine.bed": machine.bed_under(setup.tool.number),
        setup.field(setup.tool, "stick-out"): setup.tool.stick_out,
        "setup.sheet.thickness": setup.sheet.thickness,
        "setup.plate.thickness": setup.plate.thickness,
    }
    return next(field for field, value in fields.items() if value is None)
