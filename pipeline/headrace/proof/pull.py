"""How a blade that trails its axis swivels while the axis pulls it along a line or an arc.

The tip T lies d behind the axis C, against the blade's direction: it moves along the blade alone,
as the wheel of a trailer does. So the blade turns by sin(lag) / d for each mm of the axis's way,
where the lag is the angle from the blade to that way; on a way of curvature c the lag changes by
c - sin(lag) / d a mm. By t = tan(lag / 2) that is t' = c/2 - t/d + c/2 t^2, a Riccati equation with
constant coefficients, whose solution is a linear fraction of where it begins (textbook). On a line
(c = 0) the tip draws a tractrix; on an arc with lag = arcsin(d c) it draws an arc about the same
centre; on an arc about the tip itself it stands.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import atan2, cos, exp, hypot, inf, pi, remainder, sin, sqrt, tan

Point = tuple[float, float]

_PUSHED = -0.05
"""A blade whose lag has a cosine below this is pushed backwards: nobody knows where it goes. What a
swivel's rounded numbers may push is less (sin 3 degrees)."""
_WIDEST = 0.5
"""Between two tips the blade turns by so much at the most (rad)."""


@dataclass(frozen=True, slots=True)
class Tip:
    """Where the tip is when the axis has gone a part (0 to 1) of its way: X, Y (mm), the blade's
    direction from tip to axis and its lag (rad)."""

    part: float
    x: float
    y: float
    blade: float
    lag: float


@dataclass(frozen=True, slots=True)
class Pull:
    """A way of the axis in X and Y: from `start` to `end` (mm), straight, or about `centre` by
    `turn` (rad, positive from +X to +Y)."""

    start: Point
    end: Point
    centre: Point = (inf, inf)
    turn: float = 0.0

    def tips(self, offset: float, blade: float, grain: float) -> list[Tip] | None:
        """The tip's way, from a blade that points to `blade` (rad): so many points that the chords
        between them are nearer to it than `grain` (mm). None where the blade is pushed."""
        found: list[Tip] = []
        for tip in self._found(offset, blade, grain):
            if cos(tip.lag) < _PUSHED:
                return None
            found.append(tip)
        return found

    def _found(self, offset: float, blade: float, grain: float) -> Iterator[Tip]:
        curvature, way = self._curvature, self.length
        begun = remainder(self.direction(0.0) - blade, 2 * pi)

        def at(part: float) -> Tip:
            behind = lag(begun, curvature, offset, part * way)
            points = self.direction(part) - behind
            x, y = self.place(part)
            return Tip(part, x - offset * cos(points), y - offset * sin(points), points, behind)

        last, ahead = at(0.0), [at(1.0)]
        yield last
        while ahead:
            this = ahead[-1]
            turned = abs(this.blade - last.blade)
            if this.lag * last.lag < 0:  # it may have turned to and fro
                turned = max(turned, (this.part - last.part) * way / offset)
            chord = hypot(this.x - last.x, this.y - last.y)
            near = turned <= _WIDEST and chord / 2 * tan(turned / 2) <= grain
            if near or this.part - last.part < 1e-9:
                last = ahead.pop()
                yield last
            else:
                ahead.append(at((last.part + this.part) / 2))
                if cos(ahead[-1].lag) < _PUSHED:
                    yield ahead[-1]
                    return

    @property
    def _radii(self) -> Point:
        """The radius where it begins and where it ends: rounded numbers make them differ."""
        x, y = self.centre
        first, last = ((place[0] - x, place[1] - y) for place in (self.start, self.end))
        return hypot(*first), hypot(*last)

    @property
    def length(self) -> float:
        """How long the way is (mm)."""
        if not self.turn:
            return hypot(self.end[0] - self.start[0], self.end[1] - self.start[1])
        first, last = self._radii
        return hypot((first + last) / 2 * self.turn, last - first)

    @property
    def _curvature(self) -> float:
        return self.turn / self.length

    def place(self, part: float) -> Point:
        """Where the axis is."""
        if part == 1.0:
            return self.end
        (x, y), (x_end, y_end) = self.start, self.end
        if not self.turn:
            return x + (x_end - x) * part, y + (y_end - y) * part
        first, last = self._radii
        radius, angle = first + (last - first) * part, self._angle(part)
        return self.centre[0] + radius * cos(angle), self.centre[1] + radius * sin(angle)

    def direction(self, part: float) -> float:
        """Where the axis goes to (rad), without a jump along the way."""
        if not self.turn:
            return atan2(self.end[1] - self.start[1], self.end[0] - self.start[0])
        first, last = self._radii
        return self._angle(part) + atan2((first + last) / 2 * self.turn, last - first)

    def _angle(self, part: float) -> float:
        x, y = self.centre
        return atan2(self.start[1] - y, self.start[0] - x) + self.turn * part


def lag(begun: float, curvature: float, offset: float, way: float) -> float:
    """The lag (rad) behind a `way` (mm) of this curvature (1/mm), where it was `begun` before.

    >>> round(lag(1.0, 0.0, 0.5, 1.0), 6)  # 2 atan(tan(1/2) exp(-1 / 0.5)), the tractrix
    0.14768
    """
    pull = 1.0 / offset
    square = (pull * pull - curvature * curvature) / 4
    if square > 0:
        rate = sqrt(square)
        still = exp(-2 * rate * way)
        stays, grows = (1 + still) / 2, (1 - still) / (2 * rate)
    elif square < 0:
        rate = sqrt(-square)
        stays, grows = cos(rate * way), sin(rate * way) / rate
    else:
        stays, grows = 1.0, way
    top, below = sin(begun / 2), cos(begun / 2)
    return 2 * atan2(
        stays * top + grows * (curvature * below - pull * top) / 2,
        stays * below + grows * (pull * below - curvature * top) / 2,
    )
