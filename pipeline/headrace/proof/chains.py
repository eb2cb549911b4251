"""One move against several: an arc and its chords, a long line and the short ones it stands for.

Everything is measured by true distance between the curves, in order along them: a chain that goes
back and forth, or the other way round, is no re-expression of the move.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from headrace.language.modal import PLANES
from headrace.language.trace import CCW, CW, LINE
from headrace.proof.path import Path

Floats = npt.NDArray[np.float64]

_MOST = 1 << 16
"""So many chords of one move are looked at, at the most."""
_BETWEEN = np.linspace(0.0, 1.0, 9)[1:-1]
"""Where along a chord its height across the plane is compared with the helix."""


@dataclass(frozen=True, slots=True)
class Chain:
    """How many moves the one stands for, and how far apart the curves are at most (mm)."""

    count: int
    deviation: float


def chain(single: Path, at: int, other: Path, begun: int, within: float) -> Chain | None:
    """The moves of `other` from `begun` on that together are move `at` of `single`, or None.

    All are straight, or all are arcs about one centre; X Y Z only.
    """
    if single.kind[at] in (CW, CCW) and other.kind[begun] != LINE:
        return _split_arc(single, at, other, begun, within)
    if other.kind[begun] != LINE:
        return None
    size = 64
    while True:
        stop = min(begun + size, len(other))
        found = _chords(single, at, other, begun, stop, within)
        if found is not None or stop == len(other) or size >= _MOST:
            return found
        if other.kind[stop - 1] != LINE:
            return None
        size *= 8


def _chords(
    single: Path, at: int, other: Path, begun: int, stop: int, within: float
) -> Chain | None:
    """Straight moves `begun` to `stop` of `other` tried as chords of a move."""
    lines = other.kind[begun:stop] == LINE
    count = int(np.argmin(lines)) if not lines.all() else len(lines)
    points = _vertices(other, begun, begun + count)
    if single.kind[at] == LINE:
        progress, away = _along_line(single, at, points)
    elif single.kind[at] in (CW, CCW):
        progress, away = _along_arc(single, at, points)
    else:
        return None
    slack = max(within, 1e-6)
    end = np.array([single.ends[axis][at] for axis in range(3)])
    left = np.linalg.norm(points - end, axis=1)
    late = progress >= 1 - 1e-6 - _share(single, at, slack)
    done = np.flatnonzero((left <= slack)[1:] & late[1:]) + 1
    if not len(done):
        return None
    # several may be near enough where moves are shorter than the tolerance: the nearest ends it
    row = done[: int(np.argmin(np.append(np.diff(done) == 1, False))) + 1]
    last = int(row[np.argmin(left[row])])
    steps = np.diff(progress[: last + 1])
    back = _share(single, at, slack)
    if (steps < -back).any() or not (away[: last + 1] <= slack).all():
        return None
    deviation = float(away[: last + 1].max())
    if single.kind[at] in (CW, CCW):
        deviation = max(deviation, _sagitta(single, at, points[: last + 1], progress[: last + 1]))
    return Chain(last, deviation) if deviation <= slack else None


def _vertices(path: Path, begun: int, stop: int) -> Floats:
    """Where the moves begin, and where the last one ends (k + 1, 3)."""
    first = [path.starts[axis][begun : begun + 1] for axis in range(3)]
    rest = [path.ends[axis][begun:stop] for axis in range(3)]
    return np.column_stack([np.concatenate(pair) for pair in zip(first, rest, strict=True)])


def _share(path: Path, at: int, length: float) -> float:
    """The part of a move's way that a length is, at most 1."""
    return min(1.0, length / max(_length(path, at), 1e-12)) if length else 0.0


def _length(path: Path, at: int) -> float:
    start, end = (
        np.array([columns[axis][at] for axis in range(3)]) for columns in (path.starts, path.ends)
    )
    if path.kind[at] == LINE:
        return float(np.linalg.norm(end - start))
    u, v, w = PLANES[int(path.arc[3, at])]
    radius = np.hypot(start[u] - path.arc[0, at], start[v] - path.arc[1, at])
    return float(np.hypot(radius * path.arc[2, at], end[w] - start[w]))


def _along_line(path: Path, at: int, points: Floats) -> tuple[Floats, Floats]:
    """How far along a line points lie (0 to 1), and how far from it (mm)."""
    start, end = (
        np.array([columns[axis][at] for axis in range(3)]) for columns in (path.starts, path.ends)
    )
    way = end - start
    length = float(way @ way)
    progress = (points - start) @ way / length if length else np.ones(len(points))
    foot = start + np.clip(progress, 0, 1)[:, None] * way
    return progress, np.linalg.norm(points - foot, axis=1)


def _along_arc(path: Path, at: int, points: Floats) -> tuple[Floats, Floats]:
    """How far along an arc or helix points lie (0 to 1), and how far from it (mm)."""
    u, v, w = PLANES[int(path.arc[3, at])]
    centre_u, centre_v, turn, _ = path.arc[:, at]
    start, end = (
        np.array([columns[axis][at] for axis in range(3)]) for columns in (path.starts, path.ends)
    )
    way = -1.0 if path.kind[at] == CW else 1.0
    angles = np.arctan2(points[:, v] - centre_v, points[:, u] - centre_u)
    turned = np.unwrap(angles) * way
    turned -= np.arctan2(start[v] - centre_v, start[u] - centre_u) * way
    turned -= 2 * np.pi * np.round(turned[0] / (2 * np.pi))
    progress = turned / turn
    inside = np.clip(progress, 0, 1)
    first, last = (np.hypot(p[u] - centre_u, p[v] - centre_v) for p in (start, end))
    radius = first + (last - first) * inside
    out = np.hypot(points[:, u] - centre_u, points[:, v] - centre_v) - radius
    up = points[:, w] - (start[w] + (end[w] - start[w]) * inside)
    beyond = (progress - inside) * turn * radius
    return progress, np.sqrt(out**2 + up**2 + beyond**2)


def _sagitta(path: Path, at: int, points: Floats, progress: Floats) -> float:
    """How far the chords between points lie inside the arc at most, and how far off the helix."""
    u, v, w = PLANES[int(path.arc[3, at])]
    centre = path.arc[:2, at]
    turn = path.arc[2, at]
    flat = points[:, [u, v]] - centre
    first, last = (
        float(np.hypot(columns[u][at] - centre[0], columns[v][at] - centre[1]))
        for columns in (path.starts, path.ends)
    )
    begins, ways = flat[:-1], np.diff(flat, axis=0)
    lengths = np.einsum("ij,ij->i", ways, ways)
    with np.errstate(invalid="ignore", divide="ignore"):
        foot = np.clip(-np.einsum("ij,ij->i", begins, ways) / lengths, 0, 1)
    nearest = np.linalg.norm(begins + np.nan_to_num(foot)[:, None] * ways, axis=1)
    middle = np.clip((progress[:-1] + progress[1:]) / 2, 0, 1)
    radius = first + (last - first) * middle
    inward = float(np.max(radius - nearest, initial=0.0))
    if np.ptp(points[:, w]) == 0:
        return inward
    start_w, end_w = path.starts[w][at], path.ends[w][at]
    worst = 0.0
    for part in _BETWEEN:
        spots = flat[:-1] + part * ways
        reference = np.arctan2(flat[:-1, 1], flat[:-1, 0])
        delta = np.arctan2(spots[:, 1], spots[:, 0]) - reference
        delta = np.abs((delta + np.pi) % (2 * np.pi) - np.pi)
        height = start_w + (end_w - start_w) * np.clip(progress[:-1] + delta / turn, 0, 1)
        given = points[:-1, w] + part * np.diff(points[:, w])
        worst = max(worst, float(np.max(np.abs(given - height), initial=0.0)))
    return float(np.hypot(inward, worst))


def _on_arc(path: Path, at: int, progress: float) -> Floats:
    """The place behind a part (0 to 1) of an arc or helix (3)."""
    u, v, _ = PLANES[int(path.arc[3, at])]
    start, end = (
        np.array([columns[axis][at] for axis in range(3)]) for columns in (path.starts, path.ends)
    )
    centre = path.arc[:2, at]
    first, last = (np.hypot(*(p[[u, v]] - centre)) for p in (start, end))
    angle = np.arctan2(start[v] - centre[1], start[u] - centre[0])
    angle += path.arc[2, at] * progress * (-1.0 if path.kind[at] == CW else 1.0)
    radius = first + (last - first) * progress
    place: Floats = start + (end - start) * progress
    place[u], place[v] = centre + radius * np.array([np.cos(angle), np.sin(angle)])
    return place


def _split_arc(single: Path, at: int, other: Path, begun: int, within: float) -> Chain | None:
    """Arcs about one centre, one behind the other, as one arc."""
    slack = max(within, 1e-6)
    turned, deviation = 0.0, 0.0
    for row in range(begun, len(other)):
        if other.kind[row] != single.kind[at] or other.arc[3, row] != single.arc[3, at]:
            return None
        apart = float(np.hypot(*(other.arc[:2, row] - single.arc[:2, at])))
        begins, spot = _vertices(other, row, row + 1)
        late = float(np.linalg.norm(begins - _on_arc(single, at, turned / single.arc[2, at])))
        turned += float(other.arc[2, row])
        progress = turned / float(single.arc[2, at])
        away = float(np.linalg.norm(spot - _on_arc(single, at, progress)))
        deviation = max(deviation, apart, late, away)
        if deviation > slack:
            return None
        end = np.array([single.ends[axis][at] for axis in range(3)])
        if abs(progress - 1) <= _share(single, at, 2 * slack) + 1e-6:
            return (
                Chain(row - begun + 1, deviation) if np.linalg.norm(spot - end) <= slack else None
            )
        if progress > 1:
            return None
    return None
