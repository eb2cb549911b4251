"""The ways that moves take, in straight pieces: lines, arcs in short chords, and rapids on which
each axis may run at its own speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from headrace.language.modal import PLANES
from headrace.language.trace import CW, LINE, RAPID
from headrace.rehearsal.space.extents import Floats
from headrace.rehearsal.space.stretches import Rows, Stretch

SAG = 0.005
"""How far a chord may stray from its arc (mm), where nobody says otherwise."""
_MOST_CHORDS = 720

Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Lanes:
    """Straight pieces (m): `row` is the move that each belongs to, `start` and `end` (m, 3) are
    X and Y from the sheet's corner and Z as a number of the stretch's frame."""

    row: Rows
    start: Floats
    end: Floats


def lanes(stretch: Stretch, rows: Rows, speeds: Sequence[float] | None, sag: float = SAG) -> Lanes:
    """The ways of the moves in `rows` (ascending). With `speeds` (X Y Z, mm/min) rapids are taken
    both straight and with each axis at its own speed. Chords stray from their arcs by `sag` (mm) at
    the most. What is not known is NaN."""
    start, end = ends_of(stretch, rows)
    kind = stretch.block.kind[rows]
    straight = kind <= LINE
    parts = [Lanes(rows[straight], start[straight], end[straight])]
    if speeds is not None:
        crooked = kind == RAPID
        parts.append(_own_speeds(rows[crooked], start[crooked], end[crooked], np.array(speeds)))
    arcs = stretch.block.arcs
    if arcs is not None:
        _, mine, which = np.intersect1d(rows, arcs.rows, assume_unique=True, return_indices=True)
        if len(mine):
            parts.append(_chords(stretch, which, start[mine], end[mine], sag))
    parts = [part for part in parts if len(part.row)] or parts[:1]
    if len(parts) == 1:
        return parts[0]
    row = np.concatenate([part.row for part in parts])
    order = np.argsort(row, kind="stable")
    return Lanes(
        row[order],
        np.concatenate([part.start for part in parts])[order],
        np.concatenate([part.end for part in parts])[order],
    )


def ends_of(stretch: Stretch, rows: Rows) -> tuple[Floats, Floats]:
    """Where the moves in `rows` begin and end (k, 3): X and Y from the sheet's corner (as numbers,
    where that is not described), Z as a number of the stretch's frame; NaN where not known."""
    starts, ends = np.empty((len(rows), 3)), np.empty((len(rows), 3))
    for axis in range(3):
        add = (*stretch.frame.sheet, 0.0)[axis] or 0.0
        values = stretch.numbers(axis)
        ends[:, axis] = values[rows] + add
        starts[:, axis] = values[np.maximum(rows - 1, 0)] + add
    if len(rows) and rows[0] == 0:
        starts[0] = stretch.begun
    return starts, ends


def way(rows: Rows, start: Floats, end: Floats, speeds: Sequence[float] | None) -> Lanes:
    """The ways of rapids (k, 3), straight and, with `speeds`, with each axis at its own speed."""
    straight = Lanes(rows, start, end)
    if speeds is None:
        return straight
    crooked = _own_speeds(rows, start, end, np.array(speeds))
    return Lanes(
        np.concatenate([rows, crooked.row]),
        np.concatenate([start, crooked.start]),
        np.concatenate([end, crooked.end]),
    )


def _own_speeds(rows: Rows, start: Floats, end: Floats, speeds: Floats) -> Lanes:
    """Rapids on which each axis runs at its own speed until it is there: three pieces each."""
    way = end - start
    times = np.abs(way) / speeds
    stops = np.sort(times, axis=1)
    points = [start]
    for leg in range(3):
        run = np.minimum(times, stops[:, leg : leg + 1]) * speeds
        points.append(start + np.copysign(run, way))
    return Lanes(
        np.repeat(rows, 3),
        np.stack(points[:-1], axis=1).reshape(-1, 3),
        np.stack(points[1:], axis=1).reshape(-1, 3),
    )


def _chords(stretch: Stretch, which: Rows, start: Floats, end: Floats, sag: float) -> Lanes:
    """The arcs numbered `which` among those of the block, in chords."""
    block = stretch.block
    arcs = block.arcs
    assert arcs is not None
    first, second, across = PLANES[block.setting.plane]
    lacking = [0.0 if add is None else add for add in (*stretch.frame.sheet, 0.0)]
    centre_u = arcs.centre_u[which] + lacking[first]
    centre_v = arcs.centre_v[which] + lacking[second]
    from_u, from_v = start[:, first] - centre_u, start[:, second] - centre_v
    radius = np.hypot(from_u, from_v)
    turn = arcs.turn[which]
    with np.errstate(invalid="ignore", divide="ignore"):
        step = 2 * np.arccos(np.clip(1 - sag / radius, -1.0, 1.0))
        parts = np.clip(np.nan_to_num(np.ceil(turn / step), nan=1.0), 1, _MOST_CHORDS)
    count = parts.astype(np.int64)
    arc = np.repeat(np.arange(len(which)), count)
    number = np.arange(len(arc)) - np.repeat(np.cumsum(count) - count, count)
    way = np.where(block.kind[arcs.rows[which]] == CW, -1.0, 1.0)

    def points(arc: Rows, share: Floats) -> Floats:
        angle = np.arctan2(from_v, from_u)[arc] + (way * turn)[arc] * share
        found = np.empty((len(arc), 3))
        found[:, first] = centre_u[arc] + radius[arc] * np.cos(angle)
        found[:, second] = centre_v[arc] + radius[arc] * np.sin(angle)
        found[:, across] = start[arc, across] + (end - start)[arc, across] * share
        return found

    rows = arcs.rows[which].astype(np.int64)
    begins = points(arc, number / count[arc])
    ends = np.empty_like(begins)
    ends[:-1] = begins[1:]
    ends[np.cumsum(count) - 1] = points(np.arange(len(which)), np.ones(len(which)))
    return Lanes(rows[arc], begins, ends)
