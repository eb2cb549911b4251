"""The state of the machine and of the language between two lines (sections 2.1 and 3.2)."""

from __future__ import annotations

import copy
from dataclasses import dataclass, field

AXES = "xyzabc"
PARAMETER_BASE = {"probe": 5061, "G28": 5161, "G30": 5181, "G92": 5211, "system": 5220}
ZERO: tuple[float, ...] = (0.0,) * 6


def origin_base(system: int) -> int:
    """Parameter of the X origin of system 1..9 (table 2)."""
    return 5221 + 20 * (system - 1)


@dataclass(slots=True)
class State:
    """Lengths are mm and angles degrees, whatever the units in force.

    Two exceptions, because the report says that unit words do not rescale them (3.5.7): `feed`
    is the F number as it was written, and `parameters` hold numbers as they were written.
    `origins` do stay where they physically are when the units change (section 4.3.3.3).
    """

    machine: tuple[float, ...] = ZERO
    motion: str = "G80"
    plane: int = 17
    distance: int = 90
    feed_mode: int = 94
    units: int = 21
    system: int = 1
    path: str = "G64"
    retract: int = 98
    absolute_centres: bool = False
    feed: float = 0.0
    speed: float = 0.0
    spindle: str = "off"
    mist: bool = False
    flood: bool = False
    overrides: bool = True
    selected: int = 0
    tool: int = 0
    length: float = 0.0
    axis_offsets: tuple[float, ...] = ZERO
    origins: dict[int, tuple[float, ...]] = field(
        default_factory=lambda: dict.fromkeys(range(1, 10), ZERO)
    )
    parameters: dict[int, float] = field(default_factory=lambda: {5220: 1.0})
    # Sticky numbers of the cycle in force, as written, and the plane they were meant for.
    sticky: dict[str, float] = field(default_factory=dict)
    sticky_plane: int = 0

    def copy(self) -> State:
        twin = copy.copy(self)
        twin.origins = dict(self.origins)
        twin.parameters = dict(self.parameters)
        twin.sticky = dict(self.sticky)
        return twin

    @property
    def scale(self) -> float:
        """Millimetres in one unit of length."""
        return 25.4 if self.units == 20 else 1.0

    def measure(self, axis: int, number: float) -> float:
        """A number written for axis 0..5, in mm or degrees."""
        return number * self.scale if axis < 3 else number

    def written(self, axis: int, size: float) -> float:
        """The other way round: mm or degrees to the number that would be written."""
        return size / self.scale if axis < 3 else size

    @property
    def shift(self) -> tuple[float, ...]:
        """Machine coordinates less program coordinates (section 3.2.2)."""
        lengths = (0.0, 0.0, self.length, 0.0, 0.0, 0.0)
        return tuple(
            self.origins[self.system][i] + self.axis_offsets[i] + lengths[i] for i in range(6)
        )

    @property
    def program(self) -> tuple[float, ...]:
        """The current point as the program reads it."""
        return tuple(m - s for m, s in zip(self.machine, self.shift, strict=True))

    def stored(self, base: int) -> tuple[float, ...]:
        """Six parameters from `base` on, in mm and degrees by the units in force."""
        return tuple(self.measure(i, self.parameters.get(base + i, 0.0)) for i in range(6))
