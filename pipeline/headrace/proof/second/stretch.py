"""Plain moves by the thousand: what the follower does line by line, in columns.

Numbers are added up figure by figure, and all else follows from them by filling forward.
"""

from __future__ import annotations

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
    steepness,
)

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

Letters = npt.NDArray[np.uint8]

_USUAL = b"GXYZABCIJKRF0123456789.+-\n"
_LONGEST = 16
"""Longer numbers are read one by one: they have more figures than can be added up here."""
_TENS = 10.0 ** np.arange(_LONGEST)


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """Moves (m) of some plain lines: `row` is the line of each, from the first; `starts`, `ends`,
    `placed` and `by` have a column for each axis, `placed` None along an axis that no place in
    machine coordinates is known of, `by` only where lines give increments; `arc` (4, m) is NaN
    where a move is no arc."""

    row: Ints
    kind: npt.NDArray[np.uint8]
    starts: list[Floats]
    ends: list[Floats]
    feed: Floats
    placed: list[Floats | None]
    arc: Floats
    conditions: Conditions
    by: list[Floats] | None


def follow(follower: Follower, lines: bytes) -> Stretch | None:
    """Lead a follower through bare plain lines; None, and nothing done, where they are not certain
    or the follower stands where they must be taken one by one."""
    if follower.ended or follower.inside is not None or follower.conditions.inverse_time:
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
    starts: list[Floats] = []
    ends: list[Floats] = []
    placed: list[Floats | None] = []
    by: list[Floats] = []
    for axis, here in enumerate(axes):
        at, scale = follower.at[axis], follower.factor if axis < 3 else 1.0
        before = _before(line, here, rows)
        if follower.incremental:
            steps = np.zeros(count)
            steps[line[here]] = value[here] * scale
            end = (at + np.cumsum(steps))[rows]
            stated = np.full(count, np.nan)
            stated[line[here]] = value[here] * scale
            by.append(stated[rows])
        elif before == len(rows):
            end = np.broadcast_to(np.float64(at), len(rows))
        else:
            end = _filled(line, value, here, count, NAN)[rows] * scale
            end[:before] = at
        ends.append(end)
        starts.append(end if end.strides == (0,) else np.concatenate([[at], end[:-1]]))
        place = np.where(np.arange(len(rows)) < before, follower.placed[axis], np.nan)
        placed.append(None if np.isnan(follower.placed[axis]) else place)
    feeds = _filled(line, value, letter == ord("F"), count, follower.feed)
    feed = feeds[rows] * follower.factor
    if follower.inch:
        # an axis that is nowhere in both has not turned
        still = [a == b for a, b in zip(starts[:3], ends[:3], strict=True)]
        turned = [(a != b) & ~(np.isnan(a) & np.isnan(b))
                  for a, b in zip(starts[3:], ends[3:], strict=True)]  # fmt: skip
        feed[np.logical_and.reduce(still) & np.logical_or.reduce(turned)] /= follower.factor
    feed[kind == RAPID] = np.nan
    kinds = kind.astype(np.uint8)
    arc = _arcs(follower, (line, letter, value), rows, kinds, starts, ends)
    if follower.dialect.projected_feed:
        for row in np.flatnonzero(~np.isnan(arc[2])):
            begun, reached = ([float(column[row]) for column in side] for side in (starts, ends))
            feed[row] *= steepness(begun, reached, tuple(arc[:, row]))
    if len(rows):
        follower.at = [float(column[-1]) for column in ends]
        follower.placed = [NAN if column is None else float(column[-1]) for column in placed]
    follower.feed = float(feeds[-1])
    follower.code = None if np.isnan(codes[-1]) else round(codes[-1] * 10)
    follower.begun = True
    return Stretch(rows, kinds, starts, ends, feed, placed, arc, follower.conditions, by or None)


def _words(lines: bytes) -> tuple[int, Ints, Letters, Floats] | None:
    """The number of lines, and for each word its line, letter and value; None where there is
    anything but letters of plain moves, each with one number."""
    if lines.translate(None, _USUAL):
        return None
    codes = np.frombuffer(lines + bytes(_LONGEST), np.uint8)
    signs = np.flatnonzero((codes == 43) | (codes == 45))
    if len(signs) and not (signs[0] > 0 and (codes[signs - 1] >= 65).all()):
        return None
    marks = np.flatnonzero((codes >= 65) | (codes == 10))  # letters, and where lines end
    sort = codes[marks]
    ends = sort == 10
    begins = np.concatenate([[True], ends[:-1]])
    if (np.diff(marks, prepend=-1)[begins] > 1).any():  # something stands before the first letter
        return None
    words = np.flatnonzero(~ends)
    at = marks[words]
    letter = sort[words]
    value = _numbers(codes, at + 1, marks[words + 1] - at - 1)
    if value is None:
        return None
    motions = value[letter == ord("G")]
    if not np.isin(motions, (0.0, 1.0, 2.0, 3.0)).all():
        return None
    return int(np.count_nonzero(ends)), np.cumsum(ends)[words], letter, value


def _numbers(codes: Letters, begun: Ints, length: Ints) -> Floats | None:
    """The numbers that stand from `begun` on in so many characters (n), figure by figure; None
    where there is anything else than one of each sort: a sign, figures, a point among them."""
    if not len(begun):
        return np.zeros(0)
    sign = codes[begun]
    signed = (sign == 43) | (sign == 45)
    begun, left = begun + signed, length - signed
    longest = int(left.max())
    if longest > _LONGEST or int(left.min()) < 1:
        return None
    total = np.zeros(len(begun), np.int64)
    behind = np.zeros(len(begun), np.int64)
    points = np.zeros(len(begun), np.int8)
    for place in range(longest):
        code = codes[begun + place]
        here = place < left
        point = (code == 46) & here
        figure = here & ~point
        total = np.where(figure, total * 10 + (code - np.uint8(48)), total)
        behind += figure & (points > 0)
        points += point
    if (points > 1).any() or (left == points).any():
        return None
    value: Floats = total / _TENS[behind]
    return np.where(sign == 45, -value, value)


def _before(line: Ints, here: npt.NDArray[np.bool_], rows: Ints) -> int:
    """How many moves come before the first line that holds a letter."""
    first = int(np.argmax(here)) if here.any() else None
    return len(rows) if first is None else int(np.searchsorted(rows, line[first]))


def _filled(
    line: Ints, value: Floats, here: npt.NDArray[np.bool_], count: int, before: float
) -> Floats:
    """A number on every line: as last stated, `before` up to the first."""
    at = np.flatnonzero(here)
    if len(at) == count:
        return value[at]
    stated = np.zeros(count, np.int32)
    stated[line[at]] = np.arange(1, len(at) + 1, dtype=np.int32)
    np.maximum.accumulate(stated, out=stated)
    filled: Floats = np.concatenate([[before], value[at]])[stated]
    return filled


def _arcs(
    follower: Follower,
    words: tuple[Ints, npt.NDArray[np.uint8], Floats],
    rows: Ints,
    kind: npt.NDArray[np.uint8],
    starts: list[Floats],
    ends: list[Floats],
) -> Floats:
    """Centre, turn and plane of the arcs (4, m), as the follower has them."""
    among = np.flatnonzero((kind == CW) | (kind == CCW))
    if not len(among):
        return np.broadcast_to(np.float64(np.nan), (4, len(rows)))
    arc = np.full((4, len(rows)), np.nan)
    line, letter, value = words
    count = int(rows[-1]) + 1

    def stated(name: int) -> Floats:
        column = np.full(count, np.nan)
        here = (letter == name) & (line < count)
        column[line[here]] = value[here] * follower.factor
        return column[rows[among]]

    u, v, _ = PLANES[follower.plane]
    clockwise = kind[among] == CW
    start, stop = (np.column_stack([side[u][among], side[v][among]]) for side in (starts, ends))
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
    arc[:2, among] = centre.T
    arc[2, among] = turn
    arc[3, among] = follower.plane
    return arc
