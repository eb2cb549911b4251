"""Coming near: the first move sideways, and rapids into the sheet.

What is still uncut needs the stock, which is not followed here. So a rapid below the top of the
sheet is taken to meet wood, unless it goes down again where the job has just cut as deep.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import isnan

import numpy as np

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language.trace import CCW, RAPID
from headrace.rehearsal.lengths import NEAR, mm
from headrace.rehearsal.space.boxes import distance
from headrace.rehearsal.space.clamps import Part, enters, own_speeds, parts
from headrace.rehearsal.space.extents import Floats
from headrace.rehearsal.space.lanes import Bools, Lanes, ends_of, way
from headrace.rehearsal.space.stretches import Rows, Stretch

_AT_ONCE = 4096
_MOST = 64
"""So many rapids in the sheet are looked at."""


def approach_findings(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """A first move sideways among clamps, and the first rapids into the sheet and close above."""
    yield from _first_sideways(job, space)
    yield from _rapid_into_sheet(job, space)
    yield from _low_sideways(job, space)
    if job.setup.clamps is None:
        yield from _diving(space)


# --- the first move sideways ------------------------------------------------------------------


def _first_sideways(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    placed: dict[int, float] = {}
    for stretch in space:
        row = _sideways(stretch, placed)
        if row is not None:
            known = [_known(stretch, axis, row, placed) for axis in range(3)]
            if known[2] and not (known[0] and known[1]):
                yield from _from_anywhere(job, space, stretch, row)
            return
        placed = dict(stretch.block.setting.placed)


def _sideways(stretch: Stretch, placed: dict[int, float]) -> int | None:
    """The first move that goes to another place along X or Y, homing and probes left out.
    `placed` are the axes that stood at a place in machine coordinates before."""
    block = stretch.block
    now = dict(block.setting.placed)
    for begun in range(0, len(block), _AT_ONCE):
        rows = slice(begun, begun + _AT_ONCE)
        moved = np.zeros(len(block.kind[rows]), np.bool_)
        for axis in (0, 1):
            if axis in now:
                moved[:1] |= begun == 0 and placed.get(axis) != now[axis]
                continue
            ends = block.ends[axis][rows]
            first = block.start[axis] if begun == 0 else block.ends[axis][begun - 1]
            starts = np.concatenate([[first], ends[:-1]])
            moved |= (ends != starts) & ~np.isnan(ends)
        found = np.flatnonzero(moved & (block.kind[rows] <= CCW))
        if len(found):
            return begun + int(found[0])
    return None


def _known(stretch: Stretch, axis: int, row: int, placed: dict[int, float]) -> bool:
    """Whether it is known where a move begins along an axis."""
    if row:
        return not isnan(stretch.numbers(axis)[row - 1])
    return axis in placed or not isnan(stretch.block.start[axis])


def _from_anywhere(
    job: Job, space: Sequence[Stretch], stretch: Stretch, row: int
) -> Iterator[Finding]:
    """The height is known, and not over which place: the head may stand where the last file left
    it, at the parking place or where this job ends."""
    frame, setup = stretch.frame, job.setup
    start, end = ends_of(stretch, np.array([row]))
    if frame.tip is None or isnan(start[0, 2]):
        return
    height = float(start[0, 2] + frame.tip.least)
    safe = setup.safe_height
    if not setup.clamps or (safe is not None and height >= safe - NEAR):
        return
    origins = list(_origins(job, space))
    for clamp in setup.clamps:
        for part in parts(stretch):
            top = clamp.top - part.above
            if start[0, 2] >= top - NEAR:
                continue
            if not origins or any(
                len(enters(_lanes_from(job, place, start, end), clamp, part.radius, top))
                for place in origins
            ):
                yield _unlifted(stretch, row, height, part, clamp.name, clamp.top)
                return


def _unlifted(
    stretch: Stretch, row: int, height: float, part: Part, name: str, top: float
) -> Finding:
    what = (
        f"goes sideways {mm(height)} mm above the sheet from wherever the head stands, and"
        f" {part.name} may go through the clamp `{name}`, which is {top:g} high"
    )
    safe = stretch.job.setup.safe_height
    lift = mm(top + 0.5 if safe is None else safe)
    remedy = f"lift to {lift} mm before it, go sideways there and then down"
    return Finding.of("sideways-among-clamps", what, stretch.place(row), remedy=remedy)


def _origins(job: Job, space: Sequence[Stretch]) -> Iterator[tuple[float, float]]:
    """Places where the head may stand when the file begins, from the sheet's corner."""
    park, corner = job.machine.park, job.setup.sheet.corner
    if corner is None or "x" not in park or "y" not in park:
        return
    yield park["x"] - corner[0], park["y"] - corner[1]
    if space[-1].end.on_sheet:
        yield space[-1].end.x, space[-1].end.y


def _lanes_from(job: Job, place: tuple[float, float], start: Floats, end: Floats) -> Lanes:
    begun = np.where(np.isnan(start), [[*place, np.nan]], start)
    there = np.where(np.isnan(end), begun, end)
    return way(np.zeros(1, np.int64), begun, there, own_speeds(job.machine))


# --- rapids -----------------------------------------------------------------------------------


def _rapid_into_sheet(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """The first rapid below the top of the sheet: the first that certainly meets wood, else the
    first where the job may have cleared the way. One that leaves the last cut sideways is told of
    with what is in a wrong order at the end."""
    doubtful: Finding | None = None
    for number, stretch in enumerate(space):
        tip, low = stretch.frame.tip, stretch.lowest
        if tip is None or low is None:
            continue
        if not np.fmin(low[0] + tip.least, stretch.start.tip) < -NEAR:
            continue
        rows = np.flatnonzero(stretch.block.kind == RAPID)
        if not len(rows):
            continue
        start, end = ends_of(stretch, rows)
        before, behind = start[:, 2] + tip.least, end[:, 2] + tip.least
        sideways = (start[:, :2] != end[:, :2]).any(axis=1)
        met = np.where(sideways, np.fmin(before, behind), behind) < -NEAR
        met &= sideways | ~(behind >= before)
        straight = met & ~sideways
        if straight.any():
            met[straight] &= ~_cut_before(stretch, rows[straight], end[straight, 2])
        if met.any():
            met &= ~_beside(job, stretch, start, end)
        if not met.any():
            continue
        leaves = sideways & (before < -NEAR) & (rows > _last_cut(space, number))
        for at in np.flatnonzero(met & ~leaves)[:_MOST]:
            deepest = float(-behind[at] if not behind[at] > before[at] else -before[at])
            found = _in_sheet(stretch, int(rows[at]), deepest, bool(sideways[at]))
            ways = np.array([start[at, :2], end[at, :2]])
            if not _may_be_cleared(space[: number + 1], int(rows[at]), ways, deepest):
                yield found
                return
            remedy = "see that the job has cleared this place before, or lift over it"
            doubtful = doubtful or replace(found, severity=Severity.WARN, remedy=remedy)
    if doubtful is not None:
        yield doubtful


def _low_sideways(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """The first rapid sideways so close above where the sheet was touched that it may meet a
    place which is thicker, by what was measured."""
    sheet = job.setup.sheet
    if sheet.thickness is None or sheet.zero != "top":
        return
    proud = sheet.thickness.most - sheet.thickness.least
    for stretch in space:
        tip, low = stretch.frame.tip, stretch.lowest
        if tip is None or low is None or tip.least != tip.most or low[0] + tip.least >= proud:
            continue
        rows = np.flatnonzero(stretch.block.kind == RAPID)
        start, end = ends_of(stretch, rows)
        height = np.fmin(start[:, 2], end[:, 2]) + tip.least
        met = (start[:, :2] != end[:, :2]).any(axis=1) & (height >= -NEAR)
        met &= height < proud - NEAR
        if met.any():
            met &= ~_beside(job, stretch, start, end)
        for at in np.flatnonzero(met)[:1]:
            what = (
                f"a rapid goes sideways {mm(float(height[at]))} mm above where the sheet was"
                f" touched, and elsewhere it may be {mm(proud)} thicker"
            )
            yield Finding.of("low-sideways", what, stretch.place(int(rows[at])))
            return


def _may_be_cleared(space: Sequence[Stretch], row: int, ways: Floats, depth: float) -> bool:
    """Whether both ends (2, 2) of a rapid lie among cuts before it that went at least as deep (mm
    below the top). Whether the wood between them is gone, only a model of the stock could tell."""
    low, high = np.full(2, np.inf), np.full(2, -np.inf)
    for stretch in space:
        rows = np.flatnonzero(stretch.block.cuts)
        if stretch is space[-1]:
            rows = rows[rows < row]
        tip = stretch.frame.tip
        if tip is None or not len(rows):
            continue
        start, end = ends_of(stretch, rows)
        deep = end[:, 2] + tip.least <= -depth + NEAR
        level = deep & (start[:, 2] + tip.least <= -depth + NEAR)
        for places in (start[level, :2], end[deep, :2]):
            if len(places):
                low = np.fmin(low, np.nanmin(places, axis=0))
                high = np.fmax(high, np.nanmax(places, axis=0))
    inside: Bools = (ways >= low - NEAR) & (ways <= high + NEAR)
    return bool(inside.all())


def _last_cut(space: Sequence[Stretch], number: int) -> float:
    """The row of the last cut in a stretch; infinite where later ones cut, or none does at all:
    then nothing is left by a rapid."""
    if any(stretch.block.cuts.any() for stretch in space[number + 1 :]):
        return np.inf
    rows = np.flatnonzero(space[number].block.cuts)
    if len(rows):
        return int(rows[-1])
    return -1 if any(stretch.block.cuts.any() for stretch in space[:number]) else np.inf


def _in_sheet(stretch: Stretch, row: int, depth: float, sideways: bool) -> Finding:
    thickness = stretch.job.setup.sheet.thickness
    on_bed = stretch.job.setup.sheet.zero == "bed" and thickness is not None
    sheet = f"a sheet of {thickness.most:g}" if on_bed and thickness else "the sheet"
    how = "goes sideways" if sideways else "plunges to"
    what = f"a rapid {how} {mm(depth)} mm below the top of {sheet}"
    remedy = "lift out of the sheet before it" if sideways else "go down there at feed (G1)"
    return Finding.of("rapid-in-sheet", what, stretch.place(row), remedy=remedy)


def _cut_before(stretch: Stretch, rows: Rows, depths: Floats) -> Bools:
    """Which moves straight down go only as deep as has been cut at that place since the tool came
    there: it goes back into its own hole."""
    block = stretch.block
    numbers = stretch.numbers(2)
    came = np.zeros(len(block), np.bool_)
    for axis in (0, 1):
        ends = stretch.numbers(axis)
        came[1:] |= ends[1:] != ends[:-1]
    visit = np.cumsum(came)
    # the least so far at each visit: every visit lies lower than all before it
    apart = 1e5
    cut = np.where(block.cuts & ~np.isnan(numbers), numbers, apart / 4) - visit * apart
    least = np.minimum.accumulate(cut) + visit * apart
    reached: Bools = depths >= least[rows] - 1e-3
    return reached


def _beside(job: Job, stretch: Stretch, start: Floats, end: Floats) -> Bools:
    """Which moves are known to stay beside the sheet."""
    size, diameter = job.setup.sheet.size, stretch.tool.diameter
    if size is None or diameter is None or None in stretch.frame.sheet:
        return np.zeros(len(start), np.bool_)
    gap = distance(start[:, :2], end[:, :2], (0.0, 0.0), size)
    beside: Bools = gap >= diameter / 2
    return beside


def _diving(space: Sequence[Stretch]) -> Iterator[Finding]:
    """The first rapid that goes down and sideways at once, where clamps are not described."""
    for stretch in space:
        rows = np.flatnonzero(stretch.block.kind == RAPID)
        start, end = ends_of(stretch, rows)
        dives = (start[:, :2] != end[:, :2]).any(axis=1) & (end[:, 2] < start[:, 2] - NEAR)
        for at in np.flatnonzero(dives)[:1]:
            what = (
                f"a rapid goes down from Z{mm(float(start[at, 2]))} to Z{mm(float(end[at, 2]))}"
                " and sideways at once"
            )
            yield Finding.of("diving-rapid", what, stretch.place(int(rows[at])))
            return
