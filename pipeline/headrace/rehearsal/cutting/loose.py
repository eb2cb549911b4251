"""Parts that come loose: cuts in a piece that is cut free all round, and tabs that hold nothing.

Judged for the thinnest sheet of the set-up: what is through there may come loose. Where the sheet's
thickness is not given, `space` says so. A piece with a clamp on it is held.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from headrace.findings import Finding
from headrace.job import Job
from headrace.machine import unknown
from headrace.rehearsal.cutting.inside import gap, inside
from headrace.rehearsal.cutting.loops import Loop, Pieces, Way, loops
from headrace.rehearsal.cutting.numbers import line_number
from headrace.rehearsal.lengths import NEAR, mm
from headrace.rehearsal.space.stretches import Rows, Stretch

_MOST = 64
"""So many cuts inside a loop are looked at together."""

_LOOPS = 500
"""So many loops with later cuts in their box are looked at: more are the rounds of pockets."""

_AHEAD = 1024
"""Of a loop that goes on without leaving the sheet, so many moves are looked at."""

_KERF = 0.05
"""What begins nearer to the loop than this stays in the way that is cut (mm)."""

_SPARE = 0.5
"""How much higher than the sheets differ a tab should be (mm): common practice."""


def loose_findings(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """The first cut in a loose piece, and the first loop whose tabs are too thin."""
    thickness = job.setup.sheet.thickness
    if thickness is None or not any(_goes_through(stretch) for stretch in space):
        return
    way = Way(space)
    spread = thickness.most - thickness.least
    thin: Finding | None = None
    cut: Finding | None = None
    looked_at = 0
    for loop in loops(way, min(stretch.tool.diameter or 0.0 for stretch in space)):
        width = way.located(loop.first)[0].tool.diameter or 0.0
        if not all(
            high - low > width + NEAR for low, high in zip(loop.low, loop.high, strict=True)
        ):
            continue  # another bit than the narrowest one
        if thin is None and loop.rises and loop.tab <= spread + NEAR:
            thin = _thin_tab(job, way, loop, spread)
        if cut is None and loop.tab <= NEAR and looked_at < _LOOPS:
            later = _boxed(way, loop, width)
            if len(later):
                looked_at += 1
                cut = _cut_inside(job, way, loop, later)
    yield from (finding for finding in (thin, cut) if finding is not None)


def _goes_through(stretch: Stretch) -> bool:
    lowest, floor = stretch.lowest_cut, stretch.frame.floor
    return lowest is not None and floor is not None and lowest[0] + floor.least <= NEAR


def _thin_tab(job: Job, way: Way, loop: Loop, spread: float) -> Finding:
    thickness = job.setup.sheet.thickness
    assert thickness is not None
    stretch, row = way.located(loop.first + int(way.floor[loop.first : loop.last + 1].argmax()))
    number = float(stretch.numbers(2)[row])
    left = f"{mm(loop.tab)} mm" if loop.tab > NEAR else "nothing"
    what = (
        f"the highest tab of {_lines(job, way, loop)}, at Z{mm(number)}, leaves {left} in a sheet"
        f" of {thickness.least:g}"
    )
    if loop.tab > NEAR:
        what += f", and the sheets differ by {mm(spread)}"
    better = number + spread + _SPARE - loop.tab
    return Finding.of(
        "tab-thin", what, stretch.place(row), remedy=f"let the tabs end at Z{mm(better)} or higher"
    )


def _cut_inside(job: Job, way: Way, loop: Loop, later: Rows) -> Finding | None:
    """The first cut in the piece inside a loop, of those behind it in its box."""
    pieces = way.pieces(loop.rows)
    bit = way.located(loop.first)[0]
    diameter = bit.tool.diameter
    later = _first_inside(way, loop, pieces, later, diameter or 0.0)
    if not len(later) or _clamped(job, pieces):
        return None
    stretch, row = way.located(int(later[0]))
    where = _lines(job, way, loop)
    if diameter is None:
        question = f"whether what this cuts inside {where} still holds"
        return unknown(bit.field("diameter"), question, stretch.place(row))
    later = later[~(gap(way.starts(later), *way.pieces(_before(way, loop))) < diameter / 2)]
    if not len(later):
        return None
    stretch, row = way.located(int(later[0]))
    what = f"a cut begins inside {where}, where the sheet is cut through all round"
    return Finding.of("cut-in-loose-part", what, stretch.place(row))


def _first_inside(way: Way, loop: Loop, pieces: Pieces, later: Rows, width: float) -> Rows:
    """The first of some moves that begin inside, and not in the way that the loop has cut. What
    goes on from it nearer than the bit is wide may only lead out."""
    for at in range(0, len(later), _MOST):
        rows = later[at : at + _MOST]
        starts = way.starts(rows)
        goes_on = way.run[rows] == way.run[loop.last]
        hits = inside(starts, *pieces)
        hits[hits] = gap(starts[hits], *pieces) > np.where(goes_on, max(width, _KERF), _KERF)[hits]
        if hits.any():
            return rows[hits]
    return later[:0]


def _boxed(way: Way, loop: Loop, width: float) -> Rows:
    """The moves behind a loop that enter the sheet in its box, and those that go on from it there,
    further inside than the bit is wide."""
    low, high = np.array(loop.low), np.array(loop.high)
    first, last = np.searchsorted(way.entered[:, 0], (low[0], high[0]))
    entered = way.entered[first:last]
    behind = way.entries[first:last] > loop.last
    entries = way.entries[first:last][behind & ((entered > low) & (entered < high)).all(axis=1)]
    run = way.run[loop.last : loop.last + 1 + _AHEAD]
    goes_on = way.places[loop.last : loop.last + int(np.searchsorted(run, run[0], "right")) - 1]
    deep = ((goes_on > low + width) & (goes_on < high - width)).all(axis=1)
    return np.sort(np.append(entries, np.flatnonzero(deep) + loop.last + 1))


def _before(way: Way, loop: Loop) -> Rows:
    """The cuts through the sheet in the box of a loop before it: what they cleared is gone."""
    rows = np.flatnonzero(way.through[: loop.first])
    low, high = way.box
    return rows[((low[rows] > loop.low) & (high[rows] < loop.high)).all(axis=1)]


def _clamped(job: Job, pieces: Pieces) -> bool:
    """Whether a clamp stands on the piece inside."""
    corners = [
        (x, y)
        for clamp in job.setup.clamps or ()
        for x in (clamp.low[0], clamp.high[0])
        for y in (clamp.low[1], clamp.high[1])
    ]
    return bool(corners) and bool(inside(np.array(corners, np.float64), *pieces).any())


def _lines(job: Job, way: Way, loop: Loop) -> str:
    first, last = (
        line_number(job, stretch.line(row))
        for stretch, row in (way.located(loop.first), way.located(loop.last))
    )
    return f"the loop of line {first}" if first == last else f"the loop of lines {first} to {last}"
