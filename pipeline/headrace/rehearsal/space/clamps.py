"""Clamps: boxes on the sheet that bit, collet nut and extraction shoe may not enter.

Each part of the tool is a cylinder that goes up from its lower end. A clamp is struck where the way
of the tool's middle comes nearer to the box than that part is wide, lower than the clamp's top.
Arcs are followed, and rapids both straight and with each axis at its own speed, unless the machine
is said to go straight.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language.modal import PLANES
from headrace.language.trace import CCW, RAPID
from headrace.machine import Clamp, Machine, unknown
from headrace.rehearsal.lengths import NEAR
from headrace.rehearsal.space.boxes import below, distance
from headrace.rehearsal.space.extents import Floats
from headrace.rehearsal.space.lanes import Lanes, ends_of, lanes
from headrace.rehearsal.space.stretches import Rows, Stretch


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the tool: how far it reaches to the side, and what its lower end's lowest height
    above the sheet's top is more than a Z number."""

    name: str
    radius: float
    above: float


def parts(stretch: Stretch) -> Iterator[Part]:
    """The parts whose size and height are described, the lowest one first."""
    machine, tool, frame = stretch.job.machine, stretch.tool, stretch.frame
    if frame.tip is not None:
        yield Part("the bit", (tool.diameter or 0.0) / 2, frame.tip.least)
    if frame.collet is None:
        return
    if machine.shoe is not None:
        above = frame.collet.least - machine.shoe.below_collet
        yield Part("the extraction shoe", machine.shoe.diameter / 2, above)
    if machine.nut is not None:
        yield Part("the collet nut", machine.nut / 2, frame.collet.least)


def own_speeds(machine: Machine) -> Sequence[float] | None:
    """The speeds of the axes in a rapid, where they may not keep to the straight line."""
    if machine.rapids == "straight":
        return None
    return [machine.axes[axis].rapid for axis in "xyz"]


def clamp_findings(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """The first move through each clamp, and what is not told of clamps and tool."""
    clamps = job.setup.clamps
    if clamps is None:
        yield unknown("setup.clamps", "whether the way is clear of clamps")
        return
    if not clamps or not space:
        return
    yield from _untold(job, space)
    if all(stretch.frame.sheet[0] is None for stretch in space):
        yield unknown("setup.sheet.corner", "where the clamps are")
    for clamp in clamps:
        yield from _first_strike(job, space, clamp)


def _untold(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """What would tell how much room the tool needs; of the nut the operator is only reminded."""
    wide = next((stretch for stretch in space if stretch.tool.diameter is None), None)
    if wide is not None:
        yield unknown(wide.field("diameter"), "whether the whole bit clears the clamps")
    question = "whether the collet nut clears the clamps"
    long = next((stretch for stretch in space if stretch.tool.stick_out is None), None)
    if job.machine.nut is None:
        yield unknown("machine.nut", question, severity=Severity.NOTE)
    elif long is not None:
        yield unknown(long.field("stick-out"), question)


def _first_strike(job: Job, space: Sequence[Stretch], clamp: Clamp) -> Iterator[Finding]:
    """Where it is not known which way rapids take, a strike on the straight line is certain; one
    with each axis at its own speed is told as possible."""
    told, speeds = job.machine.rapids, own_speeds(job.machine)
    found = _strike(space, clamp, None if told is None else speeds)
    if found is None and told is None:
        found = _strike(space, clamp, speeds)
        if found is not None:
            yield _possible(_finding(*found, clamp))
        return
    if found is not None:
        yield _finding(*found, clamp)


def _strike(
    space: Sequence[Stretch], clamp: Clamp, speeds: Sequence[float] | None
) -> tuple[Stretch, int, Part] | None:
    for stretch in space:
        struck = [
            (int(row), part)
            for part in parts(stretch)
            for row in strikes(stretch, clamp, part, speeds)[:1]
        ]
        if struck:
            return stretch, *min(struck, key=lambda pair: pair[0])
    return None


def _finding(stretch: Stretch, row: int, part: Part, clamp: Clamp) -> Finding:
    what = f"{part.name} goes through the clamp `{clamp.name}`, which is {clamp.top:g} high"
    if stretch.block.kind[row] != RAPID:
        return Finding.of("clamp-struck", what, stretch.place(row))
    height = ceil((clamp.top - part.above) * 10 - NEAR) / 10 + 0.5
    start, end = ends_of(stretch, np.array([row]))
    sideways = (start[0, :2] != end[0, :2]).any()
    dives = sideways and start[0, 2] > end[0, 2] and start[0, 2] >= height - 0.5
    remedy = (
        f"go sideways at {start[0, 2]:g} mm first and then down, on two lines"
        if dives
        else f"be at {height:g} mm or higher here, or move the clamp"
    )
    return Finding.of("clamp-struck", what, stretch.place(row), remedy=remedy)


def _possible(finding: Finding) -> Finding:
    return replace(
        finding,
        severity=Severity.WARN,
        what=f"{finding.what}, if each axis runs at its own speed in a rapid",
        remedy=f"{finding.remedy}; or describe `rapids` in the machine file",
    )


def strikes(stretch: Stretch, clamp: Clamp, part: Part, speeds: Sequence[float] | None) -> Rows:
    """The moves on which a part of the tool enters a clamp, in order."""
    top = clamp.top - part.above
    rows = _near(stretch, clamp, part.radius, top)
    if not len(rows):
        return rows
    pieces = lanes(stretch, rows, speeds)
    return np.unique(pieces.row[enters(pieces, clamp, part.radius, top)])


def enters(pieces: Lanes, clamp: Clamp, radius: float, top: float) -> Rows:
    """The pieces that come nearer than `radius` to a clamp, below the Z number `top`."""
    first, last, low = below(pieces.start, pieces.end, top - NEAR)
    gap = distance(first, last, clamp.low, clamp.high)
    # a middle on the very edge of a box grown by nothing has not entered it
    inside = gap < radius - NEAR if radius else distance(first, last, *_shrunk(clamp)) <= 0
    return np.flatnonzero(low & inside)


def _shrunk(clamp: Clamp) -> tuple[tuple[float, float], tuple[float, float]]:
    (x0, y0), (x1, y1) = clamp.low, clamp.high
    return (x0 + NEAR, y0 + NEAR), (x1 - NEAR, y1 - NEAR)


def _near(stretch: Stretch, clamp: Clamp, radius: float, top: float) -> Rows:
    """The moves whose surrounding box touches the grown clamp below its top."""
    none = np.zeros(0, np.int64)
    sheet, begun = stretch.frame.sheet, stretch.begun
    low = stretch.furthest(2, False)
    if sheet[0] is None or sheet[1] is None or low is None or not _least(low[0], begun[2]) < top:
        return none
    bounds = [(clamp.low[axis] - radius, clamp.high[axis] + radius) for axis in (0, 1)]
    for axis, (least, most) in enumerate(bounds):
        add = sheet[axis] or 0.0
        left, right = stretch.furthest(axis, False), stretch.furthest(axis, True)
        if left is None or right is None or _least(left[0] + add, begun[axis]) > most:
            return none
        if -_least(-right[0] - add, -begun[axis]) < least:
            return none
    block = stretch.block
    near = block.kind <= CCW
    for axis, (least, most) in enumerate((*bounds, (-np.inf, top))):
        add = (sheet[axis] or 0.0) if axis < 2 else 0.0
        ends = stretch.numbers(axis) + add
        starts = np.concatenate([begun[axis : axis + 1], ends[:-1]])
        lows, highs = np.minimum(starts, ends), np.maximum(starts, ends)
        around = circles(stretch, axis)
        if block.arcs is not None and around is not None:
            lows[block.arcs.rows], highs[block.arcs.rows] = around[0] + add, around[1] + add
        near &= (lows <= most) & (highs >= least)
    return np.flatnonzero(near)


def _least(known: float, doubtful: float) -> float:
    """The lesser of two numbers; the first, where the second is NaN."""
    return doubtful if doubtful < known else known


def circles(stretch: Stretch, axis: int) -> tuple[Floats, Floats] | None:
    """From where to where the whole circles of a stretch's arcs go along an axis (k each), in the
    numbers in force; None for the axis across their plane."""
    first, _, across = PLANES[stretch.block.setting.plane]
    spokes = stretch.spokes
    if spokes is None or axis == across:
        return None
    return spokes.around[0 if axis == first else 1]
