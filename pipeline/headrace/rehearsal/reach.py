"""Does everything stay inside the machine's travel, and out of its bed?

Along an axis whose machine coordinates are known the travel is compared directly. Behind a touch
the height of Z zero, the top of the sheet, is known within the span that sheet and bit allow; what
is judged then holds for the whole span.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

from headrace.errors import JobRefused
from headrace.findings import Finding
from headrace.job import Job
from headrace.language import Block, EventKind
from headrace.machine import Heights
from headrace.program import number_text
from headrace.rehearsal.extents import furthest

_NEAR = 1e-6
_INTO_BED = 2.0
"""Through cuts go a little into the spoilboard; deeper than this (mm, below the thickest sheet) the
operator is told. Common practice is some tenths, for drills about their point."""


def reach_findings(job: Job) -> Iterator[Finding]:
    """The first target outside along each axis, and the first that goes deep into the bed."""
    for axis, name in enumerate("XYZ"):
        span = job.machine.axes.get(name.lower())
        if span is None:
            continue
        for block in job.trace.blocks:
            offset = block.setting.offset[axis]
            if isnan(offset):
                continue
            found = _outside(job, block, axis, span.low - offset, span.high - offset)
            if found is not None:
                yield found
                break
    yield from _behind_the_touch(job)


def _outside(job: Job, block: Block, axis: int, low: float, high: float) -> Finding | None:
    """The place of a block that lies furthest out of `low` to `high`, in the numbers in force."""
    name = "XYZ"[axis]
    for up, limit in ((True, high), (False, low)):
        reached = furthest(block, axis, up)
        if reached is None:
            continue
        place, row = reached
        out = place - limit if up else limit - place
        if out > _NEAR:
            what = (
                f"{name}{_mm(place)} lies {_mm(out)} mm outside the travel, which here is"
                f" {name}{_mm(low)} to {name}{_mm(high)}"
            )
            return Finding.of("target-outside", what, job.program.place(int(block.line[row])))
    return None


def _behind_the_touch(job: Job) -> Iterator[Finding]:
    touched = max((event.moves for event in job.trace.events_of(EventKind.PROBE)), default=None)
    if touched is None:
        return
    try:
        heights = Heights.of(job.machine, job.setup, "judging the heights")
    except JobRefused:
        return  # nothing tells where the sheet is
    thickness = job.setup.sheet.thickness
    assert thickness is not None
    low = heights.surface.most - job.machine.axes["z"].travel
    deep = -(thickness.most + _INTO_BED)
    begun = 0
    told = False
    for block in job.trace.blocks:
        begun += len(block)
        if begun <= touched or not isnan(block.setting.offset[2]):
            continue
        found = _outside(job, block, 2, low, heights.surface.least)
        if found is not None:
            yield found
            return
        reached = furthest(block, 2, up=False)
        if reached is not None and reached[0] < deep and not told:
            told = True
            into = -reached[0] - thickness.most
            what = f"Z{_mm(reached[0])} goes {_mm(into)} mm deeper than the thickest sheet"
            line = int(block.line[reached[1]])
            yield Finding.of("below-sheet", what, job.program.place(line))


def _mm(length: float) -> str:
    return number_text(length, 3)
