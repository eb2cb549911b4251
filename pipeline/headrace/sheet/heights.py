"""Heights in words: a Z number, and from what it counts where that is not the job's own zero."""

from __future__ import annotations

from headrace.rehearsal.lengths import NEAR, mm
from headrace.rehearsal.space.stretches import Stretch


def height_text(stretch: Stretch, number: float) -> str:
    """A height. Where the number counts from a place on the machine, as before a touch, the same
    height in machine coordinates stands with it: it is none above the sheet."""
    text, setting = f"Z{mm(number)}", stretch.block.setting
    if any(axis == 2 for axis, _ in setting.placed):
        return f"{text} of the machine"
    add = stretch.frame.machine[2]
    if not counted(stretch) or add is None:
        return text
    place = f"Z{mm(number + add.least)}"
    return f"{text} of the machine" if place == text else f"{text} ({place} of the machine)"


def aim_text(stretch: Stretch, number: float) -> str:
    """How far down a touch may go; on the way there the job's own zero is told too."""
    own = own_zero(stretch)
    return height_text(stretch, number) + (f" from {own}" if own else "")


def counted(stretch: Stretch) -> bool:
    """Whether Z numbers count from a known place on the machine, and not from a touch."""
    offset = stretch.block.setting.offset[2]
    return offset == offset  # NaN: not known


def own_zero(stretch: Stretch) -> str:
    """Where the job's own Z0 is meant to lie, if the numbers of a stretch count from there; else
    nothing."""
    if counted(stretch) or any(axis == 2 for axis, _ in stretch.block.setting.placed):
        return ""
    frame, sheet = stretch.frame, stretch.job.setup.sheet
    above = frame.floor if sheet.zero == "bed" else frame.tip
    if above is None or abs(above.least) > NEAR or abs(above.most) > NEAR:
        return ""
    return "the bed" if sheet.zero == "bed" else "the sheet's top"
