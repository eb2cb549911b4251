"""How far moves go along an axis, arcs at their bulge included."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from headrace.language import Block
from headrace.language.modal import PLANES
from headrace.language.trace import CW

Floats = npt.NDArray[np.float64]


def furthest(block: Block, axis: int, up: bool) -> tuple[float, int] | None:
    """The highest (`up`) or lowest place of a block along an axis (mm, in the numbers in force),
    and the row of the move; None where no place is known."""
    sign = 1.0 if up else -1.0
    reached = _furthest(block.ends[axis] * sign, np.arange(len(block)))
    bulge = _bulges(block, axis, up)
    if bulge is not None:
        reached = max((found for found in (reached, bulge) if found), default=None)
    return None if reached is None else (reached[0] * sign, reached[1])


def _furthest(values: Floats, rows: npt.NDArray[np.integer[Any]]) -> tuple[float, int] | None:
    known = ~np.isnan(values)
    if not known.any():
        return None
    at = int(np.argmax(np.where(known, values, -np.inf)))
    return float(values[at]), int(rows[at])


def _bulges(block: Block, axis: int, up: bool) -> tuple[float, int] | None:
    """The furthest place of arcs between their ends: where they cross the axis' direction."""
    arcs = block.arcs
    if arcs is None:
        return None
    first, second, _ = PLANES[block.setting.plane]
    if axis not in (first, second):
        return None
    centre = arcs.centre_u if axis == first else arcs.centre_v
    from_u = block.starts(first)[arcs.rows] - arcs.centre_u
    from_v = block.starts(second)[arcs.rows] - arcs.centre_v
    crest = (0.0 if axis == first else np.pi / 2) + (0.0 if up else np.pi)
    way = np.where(block.kind[arcs.rows] == CW, -1.0, 1.0)
    turned = np.mod((crest - np.arctan2(from_v, from_u)) * way, 2 * np.pi)
    radius = np.hypot(from_u, from_v)
    sign = 1.0 if up else -1.0
    reached = np.where(turned <= arcs.turn, centre * sign + radius, np.nan)
    return _furthest(reached, arcs.rows)
