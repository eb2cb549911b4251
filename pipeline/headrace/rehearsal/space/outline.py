"""The box around a job's cuts against the sheet: zero at another corner, or another unit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language.state import NAN
from headrace.machine import unknown
from headrace.rehearsal.lengths import NEAR, mm
from headrace.rehearsal.space.extents import bulge, outermost
from headrace.rehearsal.space.stretches import Stretch

_MM = 25.4
_SIDES = (("left", "right"), ("front", "back"))

_Side = tuple[float, Stretch, int]


def outline_findings(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """Cuts beside the sheet, with what is the likely reason."""
    size = job.setup.sheet.size
    if not any(stretch.lowest_cut is not None for stretch in space):
        return
    if size is None and job.setup.blank is not None:
        return  # how far cuts go along a blank is looked at where turning is
    if size is None:
        yield unknown(
            "setup.sheet.size", "whether the cuts stay on the sheet", severity=Severity.NOTE
        )
        return
    sides = {(axis, up): _most(space, axis, up, True) for axis in (0, 1) for up in (False, True)}
    if any(found and _beyond(side, found, size) > 0 for side, found in sides.items()):
        sides = {side: _most(space, *side, False) for side in sides}
    cuts = {side: found for side, found in sides.items() if found is not None}
    out = {
        side: _beyond(side, found, size) + _room(found[1])
        for side, found in cuts.items()
        if _beyond(side, found, size) > NEAR
    }
    if out:
        yield _beside(size, cuts, out)
    else:
        yield from _tiny(job, space)


def _beyond(side: tuple[int, bool], found: _Side, size: tuple[float, float]) -> float:
    """How far a whole bit goes past an edge (mm)."""
    axis, up = side
    return (found[0] - size[axis] if up else -found[0]) - _room(found[1])


def _room(stretch: Stretch) -> float:
    """How far the middle of a bit may go past an edge while it still cuts the sheet (mm)."""
    return (stretch.tool.diameter or 0.0) / 2


def _beside(
    size: tuple[float, float],
    cuts: dict[tuple[int, bool], _Side],
    out: dict[tuple[int, bool], float],
) -> Finding:
    worst = max(out, key=lambda side: out[side])
    place = cuts[worst][1].place(cuts[worst][2])
    edges = " and ".join(
        f"{mm(beyond)} mm past the {_SIDES[axis][up]} edge" for (axis, up), beyond in out.items()
    )
    what = f"the bit's middle goes {edges} of the sheet, {size[0]:g} x {size[1]:g}"
    lows = [cuts[axis, False][0] if (axis, False) in cuts else NAN for axis in (0, 1)]
    highs = [cuts[axis, True][0] if (axis, True) in cuts else NAN for axis in (0, 1)]
    lengths = [high - low for low, high in zip(lows, highs, strict=True)]
    if all(_alike(size[axis], lengths[axis] / _MM) for axis in (0, 1)):
        what += f": the cuts are {mm(lengths[0])} x {mm(lengths[1])}, about 25.4 times as large"
        remedy = "the job may be in millimetres and read as inches: see its unit word (G20, G21)"
        return Finding.of("size-implausible", what, place, remedy=remedy)
    middle = [abs(low + high) <= 0.02 * (high - low) for low, high in zip(lows, highs, strict=True)]
    if all(middle):
        what += ", and lies evenly around zero"
        remedy = (
            "put zero at the sheet's lower left corner in CAM; it seems to be in the middle now"
        )
        return Finding.of("off-sheet", what, place, remedy=remedy)
    return Finding.of("off-sheet", what, place)


def _tiny(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """Cuts that would fit the sheet if they were 25.4 times as large, and as much deeper."""
    size = job.setup.sheet.size
    assert size is not None
    thickness = job.setup.sheet.thickness
    deepest = min(
        (stretch.lowest_cut[0], at)
        for at, stretch in enumerate(space)
        if stretch.lowest_cut is not None
    )
    if thickness is not None and -deepest[0] * _MM > 1.5 * thickness.most:
        return
    # the ends of moves will do: an arc's bulge makes no job 25.4 times as large
    exact = [_most(space, axis, up, False, arcs=False) for axis in (0, 1) for up in (False, True)]
    places = [found[0] for found in exact if found is not None]
    if len(places) < 4:
        return
    lengths = [places[1] - places[0], places[3] - places[2]]
    if not all(_alike(size[axis], lengths[axis] * _MM) for axis in (0, 1)):
        return
    stretch = space[deepest[1]]
    assert stretch.lowest_cut is not None
    what = (
        f"the job is {mm(lengths[0])} x {mm(lengths[1])} mm; 25.4 times as large it would fill"
        f" the sheet of {size[0]:g} x {size[1]:g}"
    )
    remedy = "it may be in inches and read as millimetres: see its unit word (G20, G21)"
    place = stretch.place(stretch.lowest_cut[1])
    yield Finding.of("size-implausible", what, place, remedy=remedy)


def _alike(sheet: float, length: float) -> bool:
    """Whether a job of this length is likely meant for a sheet of that."""
    return 0.6 * sheet <= length <= 1.02 * sheet


def _most(
    space: Sequence[Stretch], axis: int, up: bool, all_moves: bool, arcs: bool = True
) -> _Side | None:
    """How far the job goes along an axis, from the sheet's corner: with every move of a stretch
    that cuts, or with its own cuts only; these with or without what arcs bulge."""
    found: list[_Side] = []
    for stretch in space:
        add = stretch.frame.sheet[axis]
        if add is None or stretch.lowest_cut is None:
            continue
        reached = stretch.furthest(axis, up)
        if not all_moves:
            numbers = np.where(stretch.own_cuts, stretch.numbers(axis), NAN)
            reached = outermost(numbers, up)
            if arcs:
                reached = bulge(stretch.block, axis, up, reached, stretch.spokes) or reached
        if reached is not None:
            found.append((reached[0] + add, stretch, reached[1]))
    sign = 1 if up else -1
    return max(found, key=lambda side: side[0] * sign - _room(side[1]), default=None)
