"""Arcs in parts: chords, or arcs about the same centre."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from headrace_transforms.numbers.digits import ONE, in_billionths
from headrace_transforms.paths.arcs import (
    AXES,
    CENTRES,
    CLOCKWISE,
    PLANES,
    Arcs,
    Bools,
    Floats,
    Longs,
)
from headrace_transforms.paths.chords import repeated

Bytes = npt.NDArray[np.uint8]

CHORD, BY_CENTRE, BY_RADIUS = range(3)
"""What the parts of an arc are."""


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """What becomes of some arcs: m parts, in order.

    `owner` (m) is the arc of each, `first` (m) whether it is that arc's first, `code` (m) the
    motion code. `letters` and `values` (6, m) are the words behind it: X Y Z, two offsets of the
    centre, the radius. Values are in billionths; a letter of 0 is no word.
    """

    owner: Longs
    first: Bools
    code: Longs
    letters: Bytes
    values: Longs

    def __len__(self) -> int:
        return len(self.owner)


def parts_of(arcs: Arcs, count: Longs, form: Longs, places: int) -> Parts:
    """`arcs` in `count` (k) parts of a `form` (k), written with so many places.

    Every arc ends where it ended, with all its places. Increments are those between the places as
    they are written, so that no rounding adds up. A part that goes nowhere is left out.
    """
    owner, number = repeated(count)
    unit = arcs.factor
    begun, stop = (np.nan_to_num(arcs.in_plane(place)).T for place in (arcs.start, arcs.end))
    base = np.where(arcs.increments, begun, 0.0)
    start, end = (in_billionths((place - base) / unit) for place in (begun, stop))
    away = _spots(arcs, owner, number / count[owner]) - base[:, owner]
    written = in_billionths(away / unit[owner], places)
    last = np.cumsum(count) - 1
    written[:, last] = end
    goes = ~(_equal(written, _before(written, start, count)) | _equal(written, end[:, owner]))
    goes[last] = True
    if not goes.all():
        owner, written = owner[goes], written[:, goes]
        count = np.bincount(owner, minlength=len(arcs))
    before = _before(written, start, count)
    said = written - before * arcs.increments[owner] if arcs.increments.any() else written
    letters = np.zeros((6, len(owner)), np.uint8)
    values = np.zeros((6, len(owner)), np.int64)
    lifts = (arcs.rise != 0)[owner]
    for plane in np.unique(arcs.plane).tolist():
        here = (arcs.plane == plane)[owner]
        for which, axis in enumerate(PLANES[plane]):
            np.copyto(values[axis], said[which], where=here)
            letters[axis][here & lifts if which == 2 else here] = ord(AXES[axis])
    if (form == BY_CENTRE).any():
        from_ = before[:2] / ONE * unit[owner] + base[:2, owner]
        _say_centres(arcs, form, owner, from_, letters, values, places)
    if (form == BY_RADIUS).any():
        _say_radii(arcs, form, owner, letters, values, places, count)
    code = np.where(form == CHORD, 1, arcs.kind)[owner]
    return Parts(owner, np.diff(owner, prepend=-1) != 0, code, letters, values)


def _spots(arcs: Arcs, owner: Longs, share: Floats) -> Floats:
    """Where parts of arcs end (3, m), along the plane's axes and across it; mm."""
    flat = arcs.from_centre(arcs.start)
    first, last = arcs.radii
    way = np.where(arcs.kind == CLOCKWISE, -arcs.turn, arcs.turn)
    angle = np.arctan2(flat[:, 1], flat[:, 0])[owner] + way[owner] * share
    radius = first[owner] + (last - first)[owner] * share
    spots = np.empty((3, len(owner)))
    spots[0] = arcs.centre[owner, 0] + radius * np.cos(angle)
    spots[1] = arcs.centre[owner, 1] + radius * np.sin(angle)
    height = np.nan_to_num(arcs.in_plane(arcs.start)[:, 2])
    spots[2] = height[owner] + arcs.rise[owner] * share
    return spots


def _equal(first: Longs, second: Longs) -> Bools:
    """Which places (3, m) are the same (m)."""
    equal: Bools = np.logical_and.reduce(first == second)
    return equal


def _before(written: Longs, start: Longs, count: Longs) -> Longs:
    """Where each part begins (3, m); `start` (3, k) is where the arcs begin."""
    before = np.empty_like(written)
    before[:, 1:] = written[:, :-1]
    before[:, np.cumsum(count) - count] = start
    return before


def _say_centres(
    arcs: Arcs,
    form: Longs,
    owner: Longs,
    begun: Floats,
    letters: Bytes,
    values: Longs,
    places: int,
) -> None:
    """Put in the words of the centre where parts are arcs by their centre. `begun` (2, m) is where
    they begin (mm)."""
    rows = np.flatnonzero((form == BY_CENTRE)[owner])
    arc = owner[rows]
    away = arcs.centre[arc].T - np.where(arcs.absolute[arc], 0.0, begun[:, rows])
    # I before J before K
    axes = np.array([arcs.axes(which)[arc] for which in (0, 1)])
    swapped = axes[0] > axes[1]
    for row, other in ((0, 1), (1, 0)):
        said = np.where(swapped, away[other], away[row])
        values[3 + row, rows] = in_billionths(said / arcs.factor[arc], places)
        letters[3 + row, rows] = _codes(CENTRES)[np.where(swapped, axes[other], axes[row])]


def _say_radii(
    arcs: Arcs,
    form: Longs,
    owner: Longs,
    letters: Bytes,
    values: Longs,
    places: int,
    count: Longs,
) -> None:
    """Put in the radius where parts are arcs by it: below zero for more than half a turn."""
    rows = np.flatnonzero((form == BY_RADIUS)[owner])
    arc = owner[rows]
    first, last = arcs.radii
    radius = (first + last)[arc] / 2 / arcs.factor[arc]
    longer = arcs.turn[arc] / count[arc] > np.pi
    values[5, rows] = in_billionths(np.where(longer, -radius, radius), places)
    letters[5, rows] = ord("R")


def _codes(letters: str) -> Bytes:
    return np.frombuffer(letters.encode(), np.uint8)
