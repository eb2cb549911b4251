"""Plain moves by the thousand: what the follower does line by line, in columns.

Numbers are read by NumPy's text reader, and all else follows from them by filling forward.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from headrace.proof.second.follower import (
    CCW,
    CW,
    FULL,
    LETTERS,
    NAN,
    PLANES,
    RAPID,
    SHORT,
    Conditions,
    Follower,
)

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_SPACED = bytes(32 if 65 <= code <= 90 else code for code in range(256))
_MEANT = np.zeros(256, bool)
_MEANT[list(b"GXYZABCIJKRF")] = True


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """Moves (m) of some plain lines: `row` is the line of each, from the first; `starts`, `ends`,
    `placed` and `by` have six columns (m, 6); `arc` (m, 4) is NaN where a move is no arc."""

    row: Ints
    kind: npt.NDArray[np.uint8]
    starts: Floats
    ends: Floats
    feed: Floats
    placed: Floats
    arc: Floats
    conditions: Conditions
    by: Floats


def follow(follower: Follower, lines: bytes) -> Stretch | None:
    """Lead a follower through bare plain lines; None, and nothing done, where they are not certain
    or the follower stands where they must be taken one by one."""
    if follower.ended or follower.conditions.inverse_time:
        return None
    words = _words(lines)
    if words is None:
        return None
    count, line, letter, value = words
    codes = _filled(line, value, letter == ord("G"), count, NAN if follower.code is None else
                    follower.code / 10)  # fmt: skip
    axes = [letter == name[0] for name in LETTERS]
    moving = np.zeros(count, bool)
    moving[line[np.logical_or.reduce(axes)]] = True
    rows = np.flatnonzero(moving)
    kind = codes[rows]
    if not np.isin(kind, (0.0, 1.0, 2.0, 3.0)).all():
        return None
    ends = np.empty((len(rows), 6))
    placed = np.empty((len(rows), 6))
    by = np.full((len(rows), 6), np.nan)
    for axis, here in enumerate(axes):
        scale = follower.factor if axis < 3 else 1.0
        if follower.incremental:
            steps = np.zeros(count)
            steps[line[here]] = value[here] * scale
            ends[:, axis] = (follower.at[axis] + np.cumsum(steps))[rows]
            stated = np.full(count, np.nan)
            stated[line[here]] = value[here] * scale
            by[:, axis] = stated[rows]
        else:
            ends[:, axis] = _filled(line, value * scale, here, count, follower.at[axis])[rows]
        named = line[here]
        first = int(named[0]) if len(named) else count
        placed[:, axis] = np.where(rows < first, follower.placed[axis], np.nan)
    starts = np.vstack([np.array([follower.at]), ends[:-1]]) if len(rows) else ends
    feeds = _filled(line, value, letter == ord("F"), count, follower.feed)
    feed = feeds[rows] * follower.factor
    turning = (starts[:, :3] == ends[:, :3]).all(axis=1) & (starts[:, 3:] != ends[:, 3:]).any(
        axis=1
    )
    feed[turning] /= follower.factor
    feed[kind == RAPID] = np.nan
    kinds = kind.astype(np.uint8)
    arc = _arcs(follower, (line, letter, value), rows, kinds, starts, ends)
    if len(rows):
        follower.at = ends[-1].tolist()
        follower.placed = placed[-1].tolist()
    follower.feed = float(feeds[-1])
    follower.code = None if np.isnan(codes[-1]) else round(codes[-1] * 10)
    follower.begun = True
    return Stretch(rows, kinds, starts, ends, feed, placed, arc, follower.conditions, by)


def _words(lines: bytes) -> tuple[int, Ints, npt.NDArray[np.uint8], Floats] | None:
    """The number of lines, and for each word its line, letter and value; None where there is
    anything but letters of plain moves, each with one number."""
    codes = np.frombuffer(lines, np.uint8)
    at = np.flatnonzero(codes >= 65)
    ends = np.flatnonzero(codes == 10)
    signs = np.flatnonzero((codes == 43) | (codes == 45))
    if len(signs) and not (signs[0] > 0 and (codes[signs - 1] >= 65).all()):
        return None
    digit = codes[at + 1]
    if not (((digit >= 48) & (digit <= 57)) | ((digit >= 43) & (digit <= 46))).all():
        return None
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            value = np.fromstring(lines.translate(_SPACED), np.float64, sep=" ")
        except (DeprecationWarning, ValueError):
            return None
    letter = codes[at]
    if len(value) != len(at) or not _MEANT[letter].all():
        return None
    motions = value[letter == ord("G")]
    if not np.isin(motions, (0.0, 1.0, 2.0, 3.0)).all():
        return None
    return len(ends), np.searchsorted(ends, at), letter, value


def _filled(
    line: Ints, value: Floats, here: npt.NDArray[np.bool_], count: int, before: float
) -> Floats:
    """A number on every line: as last stated, `before` up to the first."""
    stated = np.zeros(count, np.int64)
    stated[line[here]] = np.arange(1, int(here.sum()) + 1)
    np.maximum.accumulate(stated, out=stated)
    filled: Floats = np.concatenate([[before], value[here]])[stated]
    return filled


def _arcs(
    follower: Follower,
    words: tuple[Ints, npt.NDArray[np.uint8], Floats],
    rows: Ints,
    kind: npt.NDArray[np.uint8],
    starts: Floats,
    ends: Floats,
) -> Floats:
    """Centre, turn and plane of the arcs (m, 4), as the follower has them."""
    arc = np.full((len(rows), 4), np.nan)
    among = np.flatnonzero((kind == CW) | (kind == CCW))
    if not len(among):
        return arc
    line, letter, value = words
    count = int(rows[-1]) + 1

    def stated(name: int) -> Floats:
        column = np.full(count, np.nan)
        here = (letter == name) & (line < count)
        column[line[here]] = value[here] * follower.factor
        return column[rows[among]]

    u, v, _ = PLANES[follower.plane]
    clockwise = kind[among] == CW
    start, stop = starts[among][:, [u, v]], ends[among][:, [u, v]]
    radius = stated(ord("R"))
    shift = np.nan_to_num(np.column_stack([stated(b"IJK"[u]), stated(b"IJK"[v])]))
    centre = shift if follower.absolute_centres else start + shift
    way = stop - start
    first, last = (
        np.arctan2(place[:, 1] - centre[:, 1], place[:, 0] - centre[:, 0])
        for place in (start, stop)
    )
    turn = np.mod(np.where(clockwise, first - last, last - first), 2 * np.pi)
    chord = np.hypot(way[:, 0], way[:, 1])
    turn[(turn == 0) | (chord < FULL)] = 2 * np.pi
    by_radius = ~np.isnan(radius)
    if by_radius.any():
        half = chord / 2
        height = np.sqrt(np.maximum(radius**2 - half**2, 0))
        height[half - np.abs(radius) > SHORT] = NAN
        side = np.where((radius > 0) != clockwise, height, -height)
        with np.errstate(invalid="ignore", divide="ignore"):
            normal = np.column_stack([-way[:, 1], way[:, 0]]) / chord[:, None]
        round_it = (start + stop) / 2 + side[:, None] * normal
        short = 2 * np.arctan2(half, height)
        centre = np.where(by_radius[:, None], round_it, centre)
        turn = np.where(by_radius, np.where(radius > 0, short, 2 * np.pi - short), turn)
    arc[among, :2] = centre
    arc[among, 2] = turn
    arc[among, 3] = follower.plane
    return arc
