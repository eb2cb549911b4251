"""How a blade that trails its axis swivels while the axis pulls it along lines and arcs.

The tip T lies d behind the axis C, against the blade's direction: it moves along the blade alone,
as the wheel of a trailer does. So the blade turns by sin(lag) / d for each mm of the axis's way,
where the lag is the angle from the blade to that way; on a way of curvature c the lag changes by
c - sin(lag) / d a mm. By t = tan(lag / 2) that is t' = c/2 - t/d + c/2 t^2, a Riccati equation with
constant coefficients, whose solution is a linear fraction of where it begins (textbook). On a line
(c = 0) the tip draws a tractrix; on an arc with lag = arcsin(d c) it draws an arc about the same
centre; on an arc about the tip itself it stands.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, pi, remainder, sin

import numpy as np
import numpy.typing as npt

from headrace.language.trace import CCW, CW
from headrace.proof.path import Bools, Floats, Path

Longs = npt.NDArray[np.int64]

_PUSHED = -0.05
"""A blade whose lag has a cosine below this is pushed backwards: nobody knows where it goes. What a
swivel's rounded numbers may push is less (sin 3 degrees)."""
_WIDEST = 0.5
"""Between two tips the blade turns by so much at the most (rad)."""
_SHORTEST = 1e-9
"""A part of a way that is not divided any further."""


@dataclass(frozen=True, slots=True, eq=False)
class Pulls:
    """Ways of the axis in X and Y, one behind the other (k): `starts`, `ends` and `centres` (2, k;
    mm), and how far each turns about its centre (rad, positive from +X to +Y), 0 where it is
    straight."""

    starts: Floats
    ends: Floats
    centres: Floats
    turns: Floats

    @classmethod
    def of(cls, path: Path, rows: Longs) -> Pulls:
        """Some straight moves and arcs of X and Y."""
        starts, ends = (
            np.array([side[axis][rows] for axis in (0, 1)]) for side in (path.starts, path.ends)
        )
        kind, arc = path.kind[rows], path.arc[:3, rows]
        bent = (kind == CW) | (kind == CCW)
        turns = np.where(bent, np.where(kind == CW, -arc[2], arc[2]), 0.0)
        return cls(starts, ends, np.where(bent, arc[:2], 0.0), turns)

    def led(self, offset: float, blade: float) -> Led:
        """What they make of a blade that trails by `offset` (mm) and points to `blade` (rad) before
        the first of them."""
        (x, y), (x_end, y_end) = self.starts - self.centres, self.ends - self.centres
        first, last = np.hypot(x, y), np.hypot(x_end, y_end)  # rounded numbers make them differ
        bent, arc = self.turns != 0, (first + last) / 2 * self.turns
        ways = np.where(bent, np.hypot(arc, last - first), np.hypot(x_end - x, y_end - y))
        with np.errstate(divide="ignore", invalid="ignore"):
            curvatures = np.where(bent, self.turns / ways, 0.0)
        begins = np.arctan2(y, x) + np.arctan2(arc, last - first)
        begins = np.where(bent, begins, np.arctan2(y_end - y, x_end - x))
        flows = _flow(curvatures, offset, ways).T.tolist()
        lags, points = np.zeros((2, len(begins))), [blade]
        for at, (begin, turn) in enumerate(zip(begins.tolist(), self.turns.tolist(), strict=True)):
            begun = remainder(begin - points[-1], 2 * pi) if begin == begin else begin
            slows, bends, keeps = flows[at]
            top, below = sin(begun / 2), cos(begun / 2)
            lags[0, at] = begun
            lags[1, at] = 2 * atan2(slows * top + bends * below, keeps * below - bends * top)
            points.append(begin + turn - float(lags[1, at]))
        return Led(self, offset, lags, np.array(points), begins, curvatures, ways)


@dataclass(frozen=True, slots=True, eq=False)
class Tips:
    """Tips (n) on the way of some pulls: the `owner` of each, when the axis has gone a `part` (0 to
    1) of its way, `places` (2, n; mm), the blade's direction from tip to axis and its lag (rad)."""

    owner: Longs
    part: Floats
    places: Floats
    blade: Floats
    lag: Floats

    def where(self, keep: Bools | Longs) -> Tips:
        """Some of them."""
        return Tips(
            self.owner[keep], self.part[keep], self.places[:, keep], self.blade[keep],
            self.lag[keep],
        )  # fmt: skip

    @classmethod
    def joined(cls, several: list[Tips]) -> Tips:
        """All of them, by their owners and parts."""
        owner, part, blade, lags = (
            np.concatenate(columns)
            for columns in zip(*((t.owner, t.part, t.blade, t.lag) for t in several), strict=True)
        )
        places = np.concatenate([tips.places for tips in several], axis=1)
        return cls(owner, part, places, blade, lags).where(np.lexsort((part, owner)))


@dataclass(frozen=True, slots=True, eq=False)
class Led:
    """Pulls (k) that have led a blade: its `lags` where each begins and ends (2, k; rad), where it
    `points` to before each and behind the last (k + 1; rad); of their ways the direction where
    each begins (rad), the curvature (1/mm) and the length (mm)."""

    pulls: Pulls
    offset: float
    lags: Floats
    points: Floats
    begins: Floats
    curvatures: Floats
    ways: Floats

    def tips(self, grain: float) -> tuple[Tips, Bools]:
        """The tips' ways: of each pull so many points that the chords between them are nearer to it
        than `grain` (mm); and in which pulls (k) the blade is pushed, or nobody knows about it."""
        every = np.arange(len(self.ways))
        first, last = self._at(every, np.zeros(len(every))), self._at(every, np.ones(len(every)))
        found = [first, last]
        pushed: Bools = np.logical_not((np.cos(self.lags) >= _PUSHED).all(axis=0))
        first, last = first.where(~pushed), last.where(~pushed)
        while len(first.owner):
            divided = ~self._plain(first, last, grain) & ~pushed[first.owner]
            first, last = first.where(divided), last.where(divided)
            middle = self._at(first.owner, (first.part + last.part) / 2)
            pushed[middle.owner[np.cos(middle.lag) < _PUSHED]] = True
            found.append(middle)
            first, last = Tips.joined([first, middle]), Tips.joined([middle, last])
        return Tips.joined(found), pushed

    def _plain(self, first: Tips, last: Tips, grain: float) -> Bools:
        """Between which tips one chord is near enough (n)."""
        turned, gone = np.abs(last.blade - first.blade), last.part - first.part
        to_and_fro = first.lag * last.lag < 0
        swung = np.maximum(turned, gone * self.ways[first.owner] / self.offset)
        turned = np.where(to_and_fro, swung, turned)
        sag = np.hypot(*(last.places - first.places)) / 2 * np.tan(turned / 2)
        plain: Bools = ((turned <= _WIDEST) & (sag <= grain)) | (gone < _SHORTEST)
        return plain

    def _at(self, owner: Longs, part: Floats) -> Tips:
        """Tips when the axis has gone these parts."""
        pulls, turn = self.pulls, self.pulls.turns[owner] * part
        behind = lag(
            self.lags[0, owner], self.curvatures[owner], self.offset, part * self.ways[owner]
        )
        blade = self.begins[owner] + turn - behind
        start, end, centre = (side[:, owner] for side in (pulls.starts, pulls.ends, pulls.centres))
        first, last = np.hypot(*(start - centre)), np.hypot(*(end - centre))
        angle = np.arctan2(*(start - centre)[::-1]) + turn
        around = (first + (last - first) * part) * np.array([np.cos(angle), np.sin(angle)])
        axis = np.where(turn != 0, centre + around, start + (end - start) * part)
        axis = np.where(part == 1.0, end, axis)
        return Tips(owner, part, axis - self.offset * np.array([np.cos(blade), np.sin(blade)]),
                    blade, behind)  # fmt: skip


def lag(begun: Floats, curvature: Floats, offset: float, way: Floats) -> Floats:
    """The lags (rad) behind ways (mm) of these curvatures (1/mm), where they were `begun` before.

    >>> round(float(lag(1.0, 0.0, 0.5, 1.0)), 6)  # 2 atan(tan(1/2) exp(-1 / 0.5)), the tractrix
    0.147599
    """
    slows, bends, keeps = _flow(curvature, offset, way)
    top, below = np.sin(begun / 2), np.cos(begun / 2)
    behind: Floats = 2 * np.arctan2(slows * top + bends * below, keeps * below - bends * top)
    return behind


def _flow(curvature: Floats, offset: float, way: Floats) -> Floats:
    """The linear fraction that leads t = tan(lag / 2) along ways (3, k): (a t + b) / (d - b t)."""
    pull = 1.0 / offset
    square = (pull * pull - curvature * curvature) / 4
    rate = np.sqrt(np.abs(square))
    with np.errstate(divide="ignore", invalid="ignore"):
        still = np.exp(-2 * rate * way)
        stays = np.where(square > 0, (1 + still) / 2, np.cos(rate * way))
        grows = np.where(square > 0, (1 - still) / (2 * rate), np.sin(rate * way) / rate)
    grows = np.where(rate == 0, way, grows)
    return np.array(
        [stays - grows * pull / 2, grows * curvature / 2, stays + grows * pull / 2], np.float64
    )
