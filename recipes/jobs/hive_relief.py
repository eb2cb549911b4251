"""Write a long job on demand: a honeycomb relief for a hive lid, cut in a raster.

    python recipes/jobs/hive_relief.py OUT --lines 200000

The file has exactly the asked number of lines (at least 18) and is always the same for the same
number. Lengths are mm, zero is the sheet's corner, Z0 its top; the relief is 480 x 400 and at most
4 deep, for a 6 mm ball-nose cutter. More lines mean a finer raster, not a larger relief.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator
from pathlib import Path

LEFT, RIGHT = 50.0, 530.0
FRONT, BACK = 50.0, 450.0
DEEPEST = 4.0
CELL = 24.0
"""Width of one cell of the comb, over the flats."""
WALL = 2.0
"""Half the width of the slope between the top of a wall and the floor of a cell."""
FEED, PLUNGE = 2400, 600

HEAD = (
    "(HIVE LID, HONEYCOMB RELIEF)",
    "(BALL NOSE 6, RASTER ALONG X)",
    "(ZERO LOWER LEFT CORNER, TOP OF SHEET)",
    "G17 G21 G40 G49 G80 G90 G94",
    "S18000 M3",
    "G4 P3",
    "G0 Z5.000",
)
FOOT = ("G0 Z5.000", "X0.000 Y0.000", "M5", "M30")
LEAST = len(HEAD) + len(FOOT) + 7
"""The fewest lines that still make a raster: head, approach, two rows of two points, foot."""


def wall_distance(x: float, y: float) -> float:
    """The distance from a point to the nearest cell wall, from 0 to `CELL` / 2 (mm).

    Cells are regular hexagons with two flats parallel to Y. The centre of the nearest cell is the
    nearer one of two interleaved rectangular grids; the distance to the wall follows from the
    three directions across the flats.
    """
    tall = CELL * math.sqrt(3.0)
    half = CELL / 2.0
    ax = x - CELL * round(x / CELL)
    ay = y - tall * round(y / tall)
    bx = (x - half) - CELL * round((x - half) / CELL)
    by = (y - tall / 2.0) - tall * round((y - tall / 2.0) / tall)
    if ax * ax + ay * ay > bx * bx + by * by:
        ax, ay = bx, by
    ax, ay = abs(ax), abs(ay)
    across = max(ax, 0.5 * ax + 0.5 * math.sqrt(3.0) * ay)
    return half - across


def depth(x: float, y: float) -> float:
    """The height of the relief at a point: 0 on the walls, down to `-DEEPEST` in the cells (mm)."""
    away = wall_distance(x, y)
    edge = min(x - LEFT, RIGHT - x, y - FRONT, BACK - y)
    slope = min(1.0, away / (2.0 * WALL)) * min(1.0, max(0.0, edge) / 8.0)
    smooth = slope * slope * (3.0 - 2.0 * slope)
    bulge = 0.15 * math.cos(math.pi * min(1.0, 2.0 * away / CELL))
    # rounded here, and a zero without sign, so that no "-0.000" is written
    return round(-DEEPEST * smooth * (0.85 - bulge), 3) + 0.0


def layout(points: int) -> tuple[int, int]:
    """Rows, and points of a row, that `points` are enough for; the ratio follows the relief."""
    rows = max(2, round(math.sqrt(points * (BACK - FRONT) / (RIGHT - LEFT) / 4.0)))
    return rows, max(2, points // rows)


def relief(lines: int) -> Iterator[str]:
    """The lines of the job, without line ends; exactly `lines` of them.

    Raises ValueError for fewer than `LEAST`.
    """
    if lines < LEAST:
        raise ValueError(f"a relief takes at least {LEAST} lines, not {lines}")
    yield from HEAD
    points = lines - len(HEAD) - len(FOOT) - 3
    rows, across = layout(points)
    spare = points - rows * across
    yield f"X{LEFT:.3f} Y{FRONT:.3f}"
    yield "Z1.000"
    yield f"G1 Z{depth(LEFT, FRONT):.3f} F{PLUNGE}"
    for row in range(rows):
        y = FRONT + (BACK - FRONT) * row / (rows - 1)
        # what is left over goes into the first rows, one point each
        count = across + spare // rows + (row < spare % rows)
        step = (RIGHT - LEFT) / (count - 1)
        feed = f" F{FEED}"
        for number in range(count):
            x = RIGHT - step * number if row % 2 else LEFT + step * number
            yield f"X{x:.3f} Y{y:.3f} Z{depth(x, y):.3f}{feed}"
            feed = ""
    yield from FOOT


def main() -> None:
    """Write the job to the file named on the command line."""
    parser = argparse.ArgumentParser(description="Write a honeycomb relief as a long raster job.")
    parser.add_argument("out", type=Path, help="the job file to write")
    parser.add_argument("--lines", type=int, default=200_000, help="lines to write (200000)")
    given = parser.parse_args()
    if given.lines < LEAST:
        parser.error(f"--lines must be at least {LEAST}")
    with given.out.open("w", encoding="ascii", newline="\n") as file:
        file.writelines(f"{line}\n" for line in relief(given.lines))


if __name__ == "__main__":
    main()
