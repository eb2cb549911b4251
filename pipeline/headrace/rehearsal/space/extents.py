"""How far moves go along an axis, arcs at their bulge included."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import isnan
from typing import Any

import numpy as np
import numpy.typing as npt

from headrace.language import Block
from headrace.language.modal import PLANES
from headrace.language.trace import CW

Floats = npt.NDArray[np.float64]
Furthest = tuple[float, int]

_QUARTER = np.pi / 2


@dataclass(frozen=True, eq=False)
class Spokes:
    """From the centre of each arc of a block (k) to where it begins: `u` and `v` along the plane's
    first and second axis, and their length; `ways` are 1 for arcs against the clock, else -1.
    `around` is from where to where the whole circles go along either axis (k each)."""

    u: Floats
    v: Floats
    length: Floats
    ways: Floats
    around: tuple[tuple[Floats, Floats], tuple[Floats, Floats]]

    @classmethod
    def of(cls, block: Block) -> Spokes | None:
        """None where there are no arcs."""
        arcs = block.arcs
        if arcs is None:
            return None
        first, second, _ = PLANES[block.setting.plane]
        u = before(block, first, arcs.rows) - arcs.centre_u
        v = before(block, second, arcs.rows) - arcs.centre_v
        length = np.hypot(u, v)
        ways = np.where(block.kind[arcs.rows] == CW, -1.0, 1.0)
        along_u = arcs.centre_u - length, arcs.centre_u + length
        along_v = arcs.centre_v - length, arcs.centre_v + length
        return cls(u, v, length, ways, (along_u, along_v))

    @cached_property
    def begun(self) -> Floats:
        """The angle at which each arc begins (k, rad)."""
        angle: Floats = np.arctan2(self.v, self.u)
        return angle


def furthest(block: Block, axis: int, up: bool, spokes: Spokes | None = None) -> Furthest | None:
    """The highest (`up`) or lowest place of a block along an axis (mm, in the numbers in force),
    and the row of the move; None where no place is known. `spokes` are those of the block, where
    they are there already."""
    reached = outermost(block.ends[axis], up)
    beyond = bulge(block, axis, up, reached, spokes or Spokes.of(block))
    return reached if beyond is None else beyond


def outermost(values: Floats, up: bool) -> Furthest | None:
    """The highest or lowest of some values (n) and its row; NaN counts as not known."""
    if not len(values):
        return None
    if values.strides == (0,):
        return None if isnan(values[0]) else (float(values[0]), 0)
    at = int(values.argmax() if up else values.argmin())
    if isnan(values[at]):
        known = ~np.isnan(values)
        if not known.any():
            return None
        at = int(np.nanargmax(values) if up else np.nanargmin(values))
    return float(values[at]), at


def bulge(
    block: Block, axis: int, up: bool, ends: Furthest | None, spokes: Spokes | None
) -> Furthest | None:
    """Where an arc goes further between its ends than any move does at its end."""
    arcs = block.arcs
    first, _, across = PLANES[block.setting.plane]
    if arcs is None or spokes is None or axis == across:
        return None
    crests = spokes.around[0 if axis == first else 1][up]
    crest = (0.0 if axis == first else _QUARTER) + (0.0 if up else np.pi)
    best = outermost(crests, up)
    if best is None or (ends is not None and not (best[0] > ends[0] if up else best[0] < ends[0])):
        return None
    likely = np.array([best[1]])
    if not _over(spokes, likely, arcs.turn, crest)[0]:
        # the circle that goes furthest is not cut there: look at all that could
        bound = ends[0] if ends is not None else (-np.inf if up else np.inf)
        likely = np.flatnonzero(crests > bound if up else crests < bound)
        likely = likely[_over(spokes, likely, arcs.turn, crest)]
    found = outermost(crests[likely], up)
    return None if found is None else (found[0], int(arcs.rows[likely[found[1]]]))


def _over(
    spokes: Spokes, which: npt.NDArray[np.int64], turns: Floats, angle: float
) -> npt.NDArray[np.bool_]:
    """Which of the arcs numbered `which` pass an angle."""
    begun = np.arctan2(spokes.v[which], spokes.u[which])
    return passes(begun, spokes.ways[which], turns[which], angle)


def passes(begun: Floats, ways: Floats, turns: Floats, angle: float) -> npt.NDArray[np.bool_]:
    """Which arcs pass an angle: `begun` (n) is where they begin (rad), `ways` (n) 1 for those
    against the clock and -1 for the others, `turns` (n) how far they turn (rad, positive)."""
    passed: npt.NDArray[np.bool_] = np.mod((angle - begun) * ways, 2 * np.pi) <= turns
    return passed


def before(block: Block, axis: int, rows: npt.NDArray[np.integer[Any]]) -> Floats:
    """Where the moves in `rows` (ascending) begin along an axis, in the numbers in force."""
    if len(rows) and rows[0] and rows[-1] - rows[0] == len(rows) - 1:
        return block.ends[axis][rows[0] - 1 : rows[-1]]
    begun: Floats = block.ends[axis][np.maximum(rows - 1, 0)]
    if len(rows) and rows[0] == 0:
        begun = begun.copy()
        begun[0] = block.start[axis]
    return begun
