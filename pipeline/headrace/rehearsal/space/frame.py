"""Where numbers lie: what to add to them for a place on the machine, on the sheet, or a height.

Along an axis whose offset is known the machine's own coordinates follow. Where it is not known, as
behind a touch, the numbers are those of the job: they count from the sheet's lower left corner, and
from its top or the bed under it, but for what G92 has moved them by since. Heights hold for every
sheet and every bit that the set-up allows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isnan

from headrace.machine import Machine, Setup, Span
from headrace.rehearsal.shifts import NONE, Shift


@dataclass(frozen=True, slots=True)
class Frame:
    """What to add to a number, in mm; None where the description does not tell.

    `machine` (X Y Z) leads to machine coordinates, `sheet` (X Y) to places from the sheet's corner.
    Of a Z number `tip` gives the height of the tip above the sheet's top, `floor` that of the tip
    above the spoilboard, `collet` that of the collet's face above the sheet's top.
    """

    machine: tuple[Span | None, ...]
    sheet: tuple[float | None, float | None]
    tip: Span | None
    floor: Span | None
    collet: Span | None

    @classmethod
    def of(
        cls, machine: Machine, setup: Setup, offset: Sequence[float], shift: Shift = NONE
    ) -> Frame:
        """Where numbers with these offsets (X Y Z, NaN: not known) lie; `shift` is what to add to
        those of the job where offsets are not known."""
        corner, head = setup.sheet.corner, machine.head_of(setup.tool.number)
        places: list[Span | None] = []
        sheet: list[float | None] = []
        for axis in (0, 1):
            # where the first head stands when this one is over the sheet's corner
            beside = 0.0 if head is None else head.at[axis]
            begins = None if corner is None else corner[axis] - beside
            if isnan(offset[axis]):
                places.append(None if begins is None else Span.of(begins + shift[axis]))
                sheet.append(shift[axis])
            else:
                places.append(Span.of(offset[axis]))
                sheet.append(None if begins is None else offset[axis] - begins)
        known = not isnan(offset[2])
        heights = _of_machine if known else _of_sheet
        z, tip, floor, collet = heights(machine, setup, offset[2] if known else shift[2])
        return cls((*places, z), (sheet[0], sheet[1]), tip, floor, collet)


_Heights = tuple[Span | None, Span | None, Span | None, Span | None]


def _of_machine(machine: Machine, setup: Setup, offset: float) -> _Heights:
    """The numbers lie `offset` below machine coordinates."""
    place, bed = Span.of(offset), machine.bed_under(setup.tool.number)
    if bed is None:
        return place, None, None, None
    thickness, stick_out = setup.sheet.thickness, setup.tool.stick_out
    collet = Span.of(bed - machine.axes["z"].high + offset)
    floor = None if stick_out is None else collet - stick_out
    tip = None if floor is None or thickness is None else floor - thickness
    return place, tip, floor, None if thickness is None else collet - thickness


def _of_sheet(machine: Machine, setup: Setup, shift: float) -> _Heights:
    """The numbers are the job's, moved by `shift`: zero is the sheet's top, or the bed."""
    thickness, stick_out = setup.sheet.thickness, setup.tool.stick_out
    on_bed = setup.sheet.zero == "bed"
    if on_bed and thickness is None:
        return None, None, Span.of(shift), None
    tip = shift - thickness if on_bed and thickness is not None else Span.of(shift)
    floor = Span.of(shift) if on_bed else None if thickness is None else thickness + shift
    collet = None if stick_out is None else tip + stick_out
    place, bed = None, machine.bed_under(setup.tool.number)
    if bed is not None and stick_out is not None and floor is not None:
        # what the tip needs of the way from the collet's face down to the spoilboard
        place = stick_out + floor + (machine.axes["z"].high - bed)
    return place, tip, floor, collet
