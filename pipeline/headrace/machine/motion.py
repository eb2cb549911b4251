"""How a machine moves: its axes, how they find home, corners. Lengths in mm, times in s."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from headrace.machine.length import length


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis, in the numbers that the controller shows right after homing."""

    low: float
    high: float
    home_end: str
    homed_number: float
    back_off: float
    rapid: float
    feed: float
    acceleration: float | None

    @property
    def travel(self) -> float:
        """The whole way that the axis can go, in mm."""
        return self.high - self.low

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Axis:
        low, high = data["travel"]
        return cls(
            low=float(low),
            high=float(high),
            home_end=data["home-end"],
            homed_number=float(data["homed-number"]),
            back_off=float(data.get("back-off", 0.0)),
            rapid=float(data["rapid"]),
            feed=float(data["feed"]),
            acceleration=data.get("acceleration"),
        )


@dataclass(frozen=True, slots=True)
class Rotary:
    """An axis that turns, in degrees, degrees/min and degrees/s2. Its centre line lies `along` an
    axis (`x`, `y`), `at` a place on the other one (mm), at a `height` above the spoilboard (mm).

    As its number rises, the top of a blank goes towards the `low` or the `high` numbers of that
    other axis: `top_goes`. `travel` is None where it turns on for ever. `counts` is what F counts
    of a move on which linear axes go too: `linear`, their way alone (RS274/NGC 2.1.2.5), or `all`;
    None where not described.
    """

    along: str
    at: float
    height: float
    top_goes: str
    travel: tuple[float, float] | None
    rapid: float
    feed: float
    acceleration: float | None = None
    counts: str | None = None

    @property
    def sense(self) -> int:
        """1 where the number must rise for the tip to come to higher numbers of the other axis on a
        blank, -1 where it must fall."""
        return 1 if self.top_goes == "low" else -1

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Rotary:
        travel = data["travel"]
        return cls(
            along=data["along"],
            at=float(data["at"]),
            height=float(data["height"]),
            top_goes=data["top-goes"],
            travel=None if travel == "unlimited" else (float(travel[0]), float(travel[1])),
            rapid=float(data["rapid"]),
            feed=float(data["feed"]),
            acceleration=length(data.get("acceleration")),
            counts=data.get("counts"),
        )


@dataclass(frozen=True, slots=True)
class Homing:
    """How the axes find home: by a word of the controller, or by hand at its panel."""

    by: str
    word: str | None
    axes: str
    order: tuple[tuple[str, ...], ...]
    feed: float | None = None

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Homing:
        order = data.get("order", [["z"], ["x", "y"]])
        return cls(
            by=data["by"],
            word=data.get("word"),
            axes=data.get("axes", "named"),
            order=tuple(tuple(group) for group in order),
            feed=length(data.get("feed")),
        )


@dataclass(frozen=True, slots=True)
class Corners:
    """How corners between two moves are taken, by one rule: `deviation` is how far an arc round
    the corner may stay away from it (mm), `step` how much speed may change at once (mm/min), and
    by `full_stop` the machine stands still at the end of every move."""

    deviation: float | None = None
    step: float | None = None
    full_stop: bool = False

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Corners:
        return cls(
            deviation=length(data.get("deviation")),
            step=length(data.get("speed-step")),
            full_stop=data.get("full-stop", False),
        )


@dataclass(frozen=True, slots=True)
class TimedRun:
    """A run with a watch: `planned` is what it was to take without the `factor`, `took` what it
    took (s, homing and pauses left out). No step may go by it: no card file follows from it."""

    factor: float
    planned: float
    took: float
    job: str

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> TimedRun:
        factor, planned, took = (float(data[key]) for key in ("factor", "planned", "took"))
        return cls(factor, planned, took, job=data["job"])
