"""Where the plate is touched: at the place that the set-up gives it, or somewhere else."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from itertools import accumulate
from math import hypot, isnan

import numpy as np

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import EventKind
from headrace.machine import Clamp
from headrace.rehearsal.lengths import NEAR, mm
from headrace.rehearsal.space.clamps import Part, strikes
from headrace.rehearsal.space.lanes import ends_of
from headrace.rehearsal.space.stretches import Stretch

_BESIDE = 10.0
"""Half (mm) of a small touch plate: common practice. Further from its middle the bit misses it."""
_MOST = 100
"""So many touches are looked at."""


def touching_findings(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """The first touch where no plate can lie, and else the first away from the plate's place."""
    begun = [0, *accumulate(len(stretch) for stretch in space)]
    away: Finding | None = None
    for event in list(job.trace.events_of(EventKind.PROBE))[:_MOST]:
        if not isinstance(event.value, dict) or set(event.value) != {2}:
            continue
        which = bisect_right(begun, event.moves - 1) - 1
        stretch, row = space[which], event.moves - 1 - begun[which]
        if None in stretch.frame.sheet:
            continue
        x, y, _ = ends_of(stretch, np.array([row]))[1][0]
        if isnan(x) or isnan(y):
            continue
        where = f"a touch at X{mm(x)} Y{mm(y)} from the sheet's corner"
        if bad := _no_place(job, x, y):
            what = f"{where}, which is {bad}"
            yield Finding.of("touch-misplaced", what, stretch.place(row))
            return
        if away is None and _cut_away(space[: which + 1], row, x, y):
            what = f"{where}, where the job has cut before"
            away = Finding.of("plate-on-cut", what, stretch.place(row))
        plate = job.setup.plate.at
        if plate is None or away is not None:
            continue
        gap = hypot(x - plate[0], y - plate[1])
        if gap > _BESIDE:
            what = (
                f"{where}, {mm(gap)} mm from the plate, whose place is"
                f" X{mm(plate[0])} Y{mm(plate[1])}"
            )
            away = Finding.of("touch-beside-plate", what, stretch.place(row))
    if away is not None:
        yield away


def _cut_away(space: Sequence[Stretch], row: int, x: float, y: float) -> bool:
    """Whether a cut into the sheet, before a move of the last stretch, came so near to a place that
    a small plate there lies over it."""
    plate = Clamp("plate", (x - _BESIDE, y - _BESIDE), (x + _BESIDE, y + _BESIDE), -NEAR)
    for stretch in space:
        tip, low = stretch.frame.tip, stretch.lowest_cut
        if tip is None or low is None:
            continue
        bit = Part("the bit", (stretch.tool.diameter or 0.0) / 2, tip.least)
        rows = strikes(stretch, plate, bit, None)
        rows = rows[rows < row] if stretch is space[-1] else rows
        if stretch.own_cuts[rows].any():
            return True
    return False


def _no_place(job: Job, x: float, y: float) -> str | None:
    """Why no plate lies on the sheet there; None where one may."""
    for clamp in job.setup.clamps or ():
        if clamp.low[0] < x < clamp.high[0] and clamp.low[1] < y < clamp.high[1]:
            return f"in the clamp `{clamp.name}`"
    size = job.setup.sheet.size
    if job.setup.sheet.zero == "bed" or size is None:
        return None
    if not (0 <= x <= size[0] and 0 <= y <= size[1]):
        return f"off the sheet of {mm(size[0])} by {mm(size[1])}"
    return None
