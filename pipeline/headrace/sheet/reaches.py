"""How far a file goes along each axis: on the sheet, and on the machine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from headrace.job import Job
from headrace.language import Block
from headrace.language.state import NAN
from headrace.language.trace import CCW, CW, HOME, ArcColumns
from headrace.machine import Setup, Span
from headrace.rehearsal.lengths import NEAR
from headrace.rehearsal.space.extents import Furthest, Spokes, bulge, outermost
from headrace.rehearsal.space.lanes import Bools, ends_of
from headrace.rehearsal.space.stretches import Stretch
from headrace.sheet.cuts import Cuts
from headrace.sheet.facts import Reach
from headrace.sheet.spans import clean, joined, spanned

_UP = 2


def reaches(job: Job, cuts: Sequence[Cuts]) -> tuple[Reach, ...]:
    """X, Y and Z."""
    return tuple(_reach(job, cuts, axis) for axis in range(3))


def _reach(job: Job, cuts: Sequence[Cuts], axis: int) -> Reach:
    travel = job.machine.axes["xyz"[axis]]
    ways = [(part.stretch, way) for part in cuts if (way := _way(part.stretch, axis)) is not None]
    machine = _together([_from(way, stretch.frame.machine[axis]) for stretch, way in ways])
    spare = None
    if machine is not None:
        spare = clean(min(machine.least - travel.low, travel.high - machine.most))
    return Reach(
        axis="XYZ"[axis],
        cuts=_together([_cut(part, axis) for part in cuts if part.cuts.any()]),
        moves=_together([_from(way, _added(stretch, axis)) for stretch, way in ways]),
        stock=_stock(job.setup, axis),
        machine=machine,
        travel=Span(travel.low, travel.high),
        spare=spare,
    )


def _together(spans: Sequence[Span | None]) -> Span | None:
    """What several spans reach over; None where one is not known, for that might go further."""
    return None if any(span is None for span in spans) else joined(spans)


def _stock(setup: Setup, axis: int) -> Span | None:
    if axis == _UP and setup.blank is not None:
        return Span(-setup.blank.diameter, 0.0)
    if axis == _UP:
        thickness = setup.sheet.thickness
        return None if thickness is None else Span(-thickness.most, 0.0)
    size = setup.sheet.size
    return None if size is None else Span(0.0, size[axis])


def _added(stretch: Stretch, axis: int) -> Span | None:
    """What leads from a number to a place from the sheet's corner, or above its top."""
    if axis == _UP:
        return stretch.frame.tip
    add = stretch.frame.sheet[axis]
    return None if add is None else Span.of(add)


def _from(way: Span, add: Span | None) -> Span | None:
    """From where to where a way goes in other numbers, over all that may vary."""
    return None if add is None else spanned(((way + add).least, (way + add).most))


def _way(stretch: Stretch, axis: int) -> Span | None:
    """From the lowest to the highest number to which an axis goes; homing is left out, and standing
    where that has left it."""
    ends = [stretch.furthest(axis, False), stretch.furthest(axis, True)]
    goes = None
    for up, reached in enumerate(ends):
        if reached is not None and not _goes(stretch, axis, reached[1], reached[1] + 1)[0]:
            goes = _goes(stretch, axis, 0, len(stretch)) if goes is None else goes
            ends[up] = _among(stretch, axis, bool(up), goes)
    return spanned(reached[0] for reached in ends if reached is not None)


def _among(stretch: Stretch, axis: int, up: bool, goes: Bools) -> Furthest | None:
    reached = outermost(np.where(goes, stretch.numbers(axis), NAN), up)
    return bulge(stretch.block, axis, up, reached, stretch.spokes) or reached


def _goes(stretch: Stretch, axis: int, first: int, stop: int) -> Bools:
    """In which of some moves in a row an axis goes anywhere."""
    kind, numbers = stretch.block.kind[first:stop], stretch.numbers(axis)
    ways = np.diff(numbers[first:stop], prepend=numbers[max(first - 1, 0)])
    if first == 0:
        start, end = ends_of(stretch, np.zeros(1, np.int64))
        ways[0] = (end - start)[0, axis]
    goes: Bools = (kind != HOME) & (~(np.abs(ways) <= NEAR) | (kind == CW) | (kind == CCW))
    return goes


def _cut(part: Cuts, axis: int) -> Span | None:
    """How far the cuts of a stretch go, from the sheet's corner or its top."""
    add = _added(part.stretch, axis)
    if add is None:
        return None
    low, high = _furthest_cut(part, axis, False), _furthest_cut(part, axis, True)
    begun = [outermost(part.starts[:, axis], up) for up in (False, True)]
    more = add.most if axis == _UP else 0.0
    starts = spanned(reached[0] + more for reached in begun if reached is not None)
    found = joined((starts, spanned((low + add.least, high + add.most))))
    if axis != _UP or found is None:
        return found
    return Span(min(found.least, 0.0), min(found.most, 0.0))  # what lies above the sheet is air


def _furthest_cut(part: Cuts, axis: int, up: bool) -> float:
    """The highest or lowest number to which a cut goes, arcs at their bulge; NaN where none."""
    stretch, numbers = part.stretch, part.stretch.numbers(axis)
    reached = stretch.furthest(axis, up)
    if reached is not None and part.cuts[reached[1]]:
        return reached[0]
    block = _cut_arcs(stretch.block, part.cuts)
    reached = outermost(np.where(part.cuts, numbers, NAN), up)
    reached = bulge(block, axis, up, reached, Spokes.of(block)) or reached
    return NAN if reached is None else reached[0]


def _cut_arcs(block: Block, cuts: Bools) -> Block:
    """The same block with those of its arcs that cut."""
    arcs = block.arcs
    if arcs is None or cuts[arcs.rows].all():
        return block
    which = cuts[arcs.rows]
    if not which.any():
        return replace(block, arcs=None)
    columns = ArcColumns(
        arcs.rows[which], arcs.centre_u[which], arcs.centre_v[which], arcs.turn[which]
    )
    return replace(block, arcs=columns)
