"""How far the arcs of a job bulge: exact, where chords fall short by thousandths."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from headrace.rehearsal.lengths import NEAR
from headrace.rehearsal.space.extents import before, passes
from headrace.rehearsal.space.stretches import Stretch

Area = tuple[tuple[float, float], tuple[float, float]]
"""The lower and the upper corner of a box (mm, from the sheet's corner)."""

_FLAT = 17
"""The plane of X and Y."""
_QUARTER = np.pi / 2


def crests(space: Sequence[Stretch]) -> Iterator[Area]:
    """For each stretch with flat arcs below the sheet's top the box around their outermost places,
    the bit's width included; infinite, the wrong way round, where an arc has none of a side."""
    for stretch in space:
        block, spokes, arcs = stretch.block, stretch.spokes, stretch.block.arcs
        x, y = stretch.frame.sheet
        if arcs is None or spokes is None or block.setting.plane != _FLAT or x is None or y is None:
            continue
        add = np.nan if stretch.frame.tip is None else stretch.frame.tip.least
        low = np.fmin(block.ends[2][arcs.rows], before(block, 2, arcs.rows)) + add
        cuts = ~(low >= -NEAR)
        half = (stretch.tool.diameter or 0.0) / 2
        corners = []
        for up, sign in ((False, -1.0), (True, 1.0)):
            reached = []
            for axis, more in ((0, x), (1, y)):
                angle = axis * _QUARTER + (0.0 if up else np.pi)
                there = cuts & passes(spokes.begun, spokes.ways, arcs.turn, angle)
                places = spokes.around[axis][up][there] * sign
                reached.append((float(places.max(initial=-np.inf)) + half) * sign + more)
            corners.append((reached[0], reached[1]))
        yield corners[0], corners[1]
