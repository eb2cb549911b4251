"""What a job cuts, as areas by depth: for jobs whose cuts lie closer together than can be drawn.

A grid of cells that are hardly seen on paper holds the deepest step that a bit comes to in each;
a bit covers every cell that it touches. Each step is drawn as the area that is at least so deep,
one over the other.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from headrace.picture.depths import FIRST
from headrace.picture.outlines import Outlines, outlines
from headrace.picture.plane import Plane
from headrace.picture.sampling import Pieces, samples
from headrace.picture.strokes import Strokes
from headrace.picture.way import Bools, Leg, Rows

Grid = npt.NDArray[np.uint8]

CELL = 0.2
"""A cell is so wide on paper (mm)."""
SMOOTH = 0.75
"""Outlines stray so far (cells), so that no steps are seen."""
_TOUCHED = 0.75
"""A bit covers cells whose middles are this much (cells) further away than it is wide."""
_MOST = 12_000_000
"""Lines are looked at in so many places at most."""
_BROAD = 5.0
"""How crowded it is is looked at in cells so many times as wide as lines may be near."""


def covered(strokes: Strokes, close: Bools, legs: Sequence[Leg], plane: Plane, cell: float,
            reach: float) -> tuple[Grid, Grid]:  # fmt: skip
    """The deepest step in each cell (rows, columns; from the window's lower left corner), from 1;
    0 where nothing is cut. `close` are pieces around which it is so deep as far as `reach` (mm),
    around others as far as the bit is wide. The second grid is that of the bit's width around
    all. `cell` is the width of cells (mm)."""
    shape = _size(plane, 1, cell), _size(plane, 0, cell)
    deepest, whole = np.zeros(shape, np.uint8), np.zeros(shape, np.uint8)
    first, last = strokes.pieces()
    cuts = strokes.code[last] >= FIRST
    leads = strokes.row[last]
    for leg in legs:
        half = (leg.width or 0.0) / 2
        for mine, around in ((close, reach), (~close, half)):
            rows = np.flatnonzero(cuts & mine & (leads >= leg.first) & (leads < leg.stop))
            if len(rows):
                grid = _sampled(strokes, first[rows], last[rows], plane, cell, shape)
                wide = _grown(grid, half / cell + _TOUCHED)
                np.maximum(whole, wide, out=whole)
                near = wide if around == half else _grown(grid, around / cell + _TOUCHED)
                np.maximum(deepest, near, out=deepest)
    return deepest, whole


def cell_for(strokes: Strokes, wide: float) -> float:
    """The width of cells (mm): `wide`, or more where the lines are too long for that."""
    first, last = strokes.pieces()
    cuts = strokes.code[last] >= FIRST
    length = Pieces.of(strokes.u, strokes.v, first[cuts], last[cuts]).longest.sum()
    return max(wide, float(length) / _MOST)


def _size(plane: Plane, axis: int, cell: float) -> int:
    return int(np.ceil((plane.high[axis] - plane.low[axis]) / cell))


def areas(grid: Grid, steps: int) -> list[Outlines]:
    """The outlines of what is at least so deep, step by step."""
    return [outlines(grid >= step, SMOOTH) for step in range(1, steps + 1)]


def _sampled(strokes: Strokes, first: Rows, last: Rows, plane: Plane, cell: float,
             shape: tuple[int, int]) -> Grid:  # fmt: skip
    """The cells that pieces pass, each with the step of the deepest."""
    steps = strokes.code[last] - np.uint8(FIRST - 1)
    order = np.argsort(steps, kind="stable")
    first, last, steps = first[order], last[order], steps[order]
    u, v = (strokes.u - plane.low[0]) / cell, (strokes.v - plane.low[1]) / cell
    pieces = Pieces.of(u, v, first, last)
    grid = np.zeros(shape, np.uint8)
    for piece, column, row in samples(pieces, np.ceil(pieces.longest).astype(np.int64) + 1):
        inside = (column >= 0) & (column < shape[1]) & (row >= 0) & (row < shape[0])
        # steps rise: of several marks in a cell the last, which is the deepest, stays
        grid[row[inside], column[inside]] = steps[piece[inside]]
    return grid


def _grown(grid: Grid, radius: float) -> Grid:
    """Each cell with the most that is within a radius (cells)."""
    reach = int(radius)
    rows = grid.shape[0]
    found = np.zeros_like(grid)
    wider: dict[int, Grid] = {}
    for off in range(reach + 1):
        half = int(np.sqrt(radius * radius - off * off))
        if half not in wider:
            wider[half] = _widened(grid, half)
        row = wider[half]
        np.maximum(found[off:], row[: rows - off], out=found[off:])
        np.maximum(found[: rows - off], row[off:], out=found[: rows - off])
    return found


def _widened(grid: Grid, half: int) -> Grid:
    """Each cell with the most of `half` cells on both sides in its row."""
    if not half:
        return grid
    padded = np.pad(grid, ((0, 0), (half, half)))
    span, wide = 1, 2 * half + 1
    while span * 2 <= wide:
        padded = np.maximum(padded[:, :-span], padded[:, span:])
        span *= 2
    rest = wide - span
    return np.maximum(padded[:, : grid.shape[1]], padded[:, rest : rest + grid.shape[1]])


def crowded(strokes: Strokes, plane: Plane, apart: float) -> Bools:
    """Which pieces (as `Strokes.pieces` counts them) lie for the most part where lines are closer
    to one another than `apart` mm on paper."""
    first, last = strokes.pieces()
    cell = _BROAD * apart * plane.scale
    columns, rows = _size(plane, 0, cell) + 2, _size(plane, 1, cell) + 2
    u, v = (strokes.u - plane.low[0]) / cell + 1, (strokes.v - plane.low[1]) / cell + 1
    pieces = Pieces.of(u, v, first, last)
    counts = np.ceil(2 * pieces.longest).astype(np.int64) + 1
    share = np.hypot(pieces.du, pieces.dv) / counts
    drawn = np.zeros(rows * columns)
    for piece, column, row in samples(pieces, counts, inset=True):
        place = np.clip(row, 0, rows - 1) * columns + np.clip(column, 0, columns - 1)
        drawn += np.bincount(place, share[piece], rows * columns)
    full = drawn > _BROAD
    inside = np.zeros(len(first))
    for piece, column, row in samples(pieces, counts, inset=True):
        place = np.clip(row, 0, rows - 1) * columns + np.clip(column, 0, columns - 1)
        inside += np.bincount(piece, full[place], len(first))
    most: Bools = inside * 2 > counts
    return most
