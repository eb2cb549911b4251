"""How deep: through the sheet or not, into the spoilboard, and whether the bit is long enough.

Heights hold over the whole span of sheet and bit. What a rapid meets in wood that is not cut yet
needs the stock, and is not judged here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from headrace.findings import Finding, Place, Severity
from headrace.job import Job
from headrace.language.state import NAN
from headrace.machine import Span, unknown
from headrace.rehearsal.lengths import NEAR, mm
from headrace.rehearsal.space.extents import Furthest
from headrace.rehearsal.space.stretches import Rows, Stretch, by_tool

_INTO_BED = 2.0
"""How far a cut may go below the thickest sheet (mm) where the set-up does not say. Common practice
is some tenths, for drills about their point."""
_FLAT = 1e-3
_LEVEL = 0.05
_THROUGH = 0.5
"""Through cuts of a job that is zeroed on the bed go at most this far below it (mm)."""

_Depth = tuple[float, Stretch, int]


def depth_findings(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """What is too deep, not deep enough, or cut from the wrong face."""
    cuts = [stretch for stretch in space if stretch.lowest_cut is not None]
    if cuts and job.setup.sheet.thickness is None:
        question = "how deep the job goes into sheet and spoilboard"
        yield unknown("setup.sheet.thickness", question)
    wrong = list(_wrong_face(job, space))
    yield from wrong
    if not wrong:
        yield from _into_bed(job, space)
        yield from _skin(job, space)
    yield from _bit(job, space)


def _least(
    space: Sequence[Stretch],
    lowest: Callable[[Stretch], Furthest | None],
    above: Callable[[Stretch], Span | None],
) -> _Depth | None:
    """The least that a height may be: what is `lowest` in each stretch, and what is to be added."""
    found = [
        (reached[0] + add.least, stretch, reached[1])
        for stretch in space
        for reached, add in [(lowest(stretch), above(stretch))]
        if reached is not None and add is not None
    ]
    return min(found, key=lambda depth: depth[0], default=None)


def _into_bed(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    found = _least(space, lambda stretch: stretch.lowest, lambda stretch: stretch.frame.floor)
    if found is None:
        return
    least, stretch, row = found
    floor = stretch.frame.floor
    assert floor is not None
    most = least + floor.most - floor.least
    number = stretch.lowest
    assert number is not None
    board, over = job.machine.spoilboard, job.setup.sheet.overcut
    if board is not None and least <= -board + NEAR:
        what = (
            f"Z{mm(number[0])} goes up to {mm(-least)} mm into the spoilboard, which is"
            f" {mm(board)} thick: the bit reaches the bed under it"
        )
        remedy = f"go at least {mm(-least - board + (over or 0.5))} mm less deep"
        yield Finding.of("bed-struck", what, stretch.place(row), remedy=remedy)
        return
    if most >= -(_INTO_BED if over is None else over) - NEAR:
        return
    what = f"Z{mm(number[0])} goes {mm(-most)} mm deeper than the thickest sheet"
    if over is not None:
        what += f", {mm(-most - over)} more than the overcut"
    yield Finding.of("below-sheet", what, stretch.place(row))
    if board is None:
        question = "whether the bit reaches the bed under the spoilboard"
        yield unknown("machine.spoilboard", question, stretch.place(row))


def _skin(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """Cuts that go through a thin sheet and not through a thick one."""
    found = _least(space, lambda stretch: stretch.lowest_cut, lambda stretch: stretch.frame.floor)
    if found is None:
        return
    least, stretch, row = found
    floor, thickness = stretch.frame.floor, job.setup.sheet.thickness
    assert floor is not None
    most = least + floor.most - floor.least
    if thickness is None or not least <= NEAR < most - NEAR:
        return
    lowest = stretch.lowest_cut
    assert lowest is not None
    what = (
        f"the deepest cut, Z{mm(lowest[0])}, goes through a sheet of {thickness.least:g}, but"
        f" leaves a skin of {mm(most)} mm at {thickness.most:g}"
    )
    remedy = (
        f"if it is meant to go through, cut {mm(most + (job.setup.sheet.overcut or 0.2))} mm"
        " deeper, or measure this very sheet"
    )
    yield Finding.of("skin-left", what, stretch.place(row), remedy=remedy)


def _wrong_face(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """A job zeroed on the bed where the set-up says the top, or the other way round.

    Level cuts tell: from the top they lie below zero, from the bed above it, but for some tenths
    where they go through.
    """
    sheet = job.setup.sheet
    cuts = [(stretch, stretch.lowest_cut) for stretch in space if stretch.lowest_cut is not None]
    lowest = min((low[0] for _, low in cuts if low is not None), default=NAN)
    if not (lowest < -_THROUGH if sheet.zero == "bed" else lowest >= -_THROUGH):
        return
    levels = [(stretch, _levels(stretch)) for stretch, _ in cuts]
    heights = np.concatenate([stretch.numbers(2)[rows] for stretch, rows in levels])
    above = heights > _LEVEL
    low, high = float(heights.min()), float(heights.max())
    if sheet.zero == "bed":
        if not above.any():
            what = (
                f"all cuts lie below Z0, down to Z{mm(lowest)}, and Z0 is the bed: the job seems"
                " to be zeroed on the top of the sheet"
            )
            yield Finding.of("zero-on-other-face", what, _first(levels))
    elif above.sum() * 2 > len(above):
        thickness = sheet.thickness
        certain = low > _LEVEL and thickness is not None and low <= thickness.most
        what = (
            f"the cuts lie from Z{mm(low)} to Z{mm(high)}, and Z0 is the top of the sheet: "
            + ("they cut air" if low > _LEVEL and not certain else "the job seems to be zeroed on")
            + ("" if low > _LEVEL and not certain else " the bed")
        )
        severity = Severity.REFUSE if certain else Severity.WARN
        yield Finding.of("zero-on-other-face", what, _first(levels), severity=severity)


def _first(levels: Sequence[tuple[Stretch, Rows]]) -> Place:
    stretch, rows = levels[0]
    return stretch.place(int(rows[0]))


def _levels(stretch: Stretch) -> Rows:
    """The level cuts of the job's own at a known height; where none is level, all of them."""
    numbers = stretch.numbers(2)
    begun = np.concatenate([[stretch.block.start[2]], numbers[:-1]])
    cuts = stretch.own_cuts & ~np.isnan(numbers)
    level = cuts & (np.abs(numbers - begun) < _FLAT)
    return np.flatnonzero(level if level.any() else cuts)


def _bit(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """Whether flute and stick-out of each bit are long enough for its deepest cut."""
    for stretches in by_tool(space):
        yield from _flute(stretches)
    for stretches in by_tool(space):
        found = _nut(job, stretches)
        if found is not None:
            yield found
            return


def _flute(space: Sequence[Stretch]) -> Iterator[Finding]:
    found = _least(space, lambda stretch: stretch.lowest_cut, lambda stretch: stretch.frame.tip)
    if found is None or found[0] >= -NEAR:
        return
    depth, stretch, row = -found[0], found[1], found[2]
    flute = stretch.tool.flute
    if flute is None:
        question = f"whether the bit cuts as far up as {mm(depth)} mm"
        field = stretch.field("flute")
        yield unknown(field, question, stretch.place(row), severity=Severity.NOTE)
    elif depth > flute + NEAR:
        what = f"{mm(depth)} mm deep, and the bit cuts only {mm(flute)} mm up"
        yield Finding.of("flute-short", what, stretch.place(row))


def _nut(job: Job, space: Sequence[Stretch]) -> Finding | None:
    """The lowest place of what turns above the bit, where that is below the sheet's top."""
    shoe = job.machine.shoe
    hang = 0.0 if shoe is None else shoe.below_collet
    found = _least(space, lambda stretch: stretch.lowest, lambda stretch: stretch.frame.collet)
    if found is None:
        return None
    height, stretch, row = found
    stick_out = stretch.tool.stick_out
    for part, below in (("the collet nut", 0.0), ("the extraction shoe", hang)):
        if height - below < -NEAR:
            short = below - height
            lowest = stretch.lowest
            assert lowest is not None
            what = f"at Z{mm(lowest[0])} {part} is {mm(short)} mm below the top of the sheet"
            if stick_out is not None and stick_out.least < stick_out.most:
                what += f", if the bit stands out {stick_out.least:g}"
            remedy = f"cut {mm(short)} mm less deep, or let the bit stand out that much more"
            return Finding.of("nut-in-sheet", what, stretch.place(row), remedy=remedy)
    return None
