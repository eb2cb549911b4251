"""One move, for those who look at moves one by one."""

from __future__ import annotations

from typing import NamedTuple

Place = tuple[float, float, float]


class Move(NamedTuple):
    """A move of line `line` (from 0): `rapid`, `line`, `cw`, `ccw`, `probe` or `home`.

    `start` and `end` are X, Y and Z in the numbers in force (mm), NaN where not known; `feed` is
    the one in force (mm/min, with G93 1/min), NaN where there is none. Of an arc, `centre` is its
    centre in the two axes of its `plane` (17, 18 or 19; mm) and `turn` the angle that it goes round
    (rad, positive).
    """

    line: int
    kind: str
    start: Place
    end: Place
    feed: float
    plane: int
    centre: tuple[float, float] | None = None
    turn: float = 0.0

    @property
    def cuts(self) -> bool:
        """Whether it is a cutting move: straight at feed, or an arc."""
        return self.kind in ("line", "cw", "ccw")
