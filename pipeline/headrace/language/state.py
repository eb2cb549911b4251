"""The state that an interpreter carries from line to line."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from headrace.language.modal import ACTIVE_SYSTEM, AXES, CANCEL

NAN = float("nan")


def _unknown() -> list[float]:
    return [NAN] * len(AXES)


@dataclass(slots=True)
class State:
    """Everything that outlives a line. Lengths in mm; NaN stands for unknown. `feed` and
    `parameters` are numbers as they were written: unit words do not rescale them (3.5.7).

    `position` is the controlled point in the numbers in force, `machine` in machine coordinates,
    both X Y Z A B C; `offset` is what lies between (machine = position + offset). `motion` is a
    G code times ten, `plane` 17 to 19, `system` a work offset system from 1 to 9. `placed` are the
    axes that were last sent to a place in machine coordinates, and these. `length` is the index of
    the tool length in force (G43), whose value nobody knows here, or None.
    """

    position: list[float] = field(default_factory=_unknown)
    machine: list[float] = field(default_factory=_unknown)
    origins: list[list[float]] = field(default_factory=lambda: [_unknown() for _ in range(9)])
    shift: list[float] = field(default_factory=_unknown)
    system: int = 1
    motion: int | None = None
    plane: int = 17
    units: str | None = None
    incremental: bool = False
    absolute_centres: bool = False
    inverse_time: bool = False
    feed: float | None = None
    speed: float | None = None
    spindle: str | None = None
    tool: int | None = None
    selected: int | None = None
    length: int | None = None
    mist: bool = False
    flood: bool = False
    outputs: dict[int, bool] = field(default_factory=dict)
    overrides: bool = True
    return_to_r: bool = False
    homed: set[str] = field(default_factory=set)
    parameters: dict[int, float] = field(default_factory=lambda: {ACTIVE_SYSTEM: 1.0})
    sticky: dict[str, float] = field(default_factory=dict)
    cycle: int | None = None
    placed: dict[int, float] = field(default_factory=dict)
    confirmed: set[str] = field(default_factory=set)
    stated: set[int] = field(default_factory=set)
    ended: bool = False

    @classmethod
    def at_zero(cls) -> State:
        """All offsets zero, standing at the origin: the start of the standard's transcript."""
        zeros = [0.0] * len(AXES)
        return cls(
            position=list(zeros),
            machine=list(zeros),
            origins=[list(zeros) for _ in range(9)],
            shift=list(zeros),
            motion=CANCEL,
            units="mm",
            spindle="off",
        )

    def copy(self) -> State:
        """A state of its own: whatever is done to it, this one stays."""
        return replace(
            self,
            position=list(self.position),
            machine=list(self.machine),
            origins=[list(origin) for origin in self.origins],
            shift=list(self.shift),
            outputs=dict(self.outputs),
            homed=set(self.homed),
            parameters=dict(self.parameters),
            sticky=dict(self.sticky),
            placed=dict(self.placed),
            confirmed=set(self.confirmed),
            stated=set(self.stated),
        )

    @property
    def factor(self) -> float:
        """Millimetres in one unit of length; unknown units count as mm."""
        return 25.4 if self.units == "inch" else 1.0

    def forget_cycle(self) -> None:
        """A cycle has ended: its numbers no longer stick."""
        self.cycle = None
        self.sticky.clear()

    def store(self, first: int, values: list[float]) -> None:
        """Keep lengths and angles of the axes in parameters from `first` on, as written."""
        for axis, value in enumerate(values):
            self.parameters[first + axis] = value / self.factor if axis < 3 else value

    def stored(self, first: int) -> list[float]:
        """The axes' lengths and angles kept in parameters from `first` on; 0 where never set."""
        values = [self.parameters.get(first + axis, 0.0) for axis in range(len(AXES))]
        return [value * self.factor if axis < 3 else value for axis, value in enumerate(values)]

    @property
    def offset(self) -> list[float]:
        """What the work offset system, the shift and the tool's length add to a position."""
        origin = self.origins[self.system - 1]
        offset = [o + s for o, s in zip(origin, self.shift, strict=True)]
        offset[2] += self.longer(2)
        return offset

    def longer(self, axis: int) -> float:
        """What the tool's length adds along an axis: nothing, or something that is not known."""
        return 0.0 if axis != 2 or self.length is None else NAN

    def moved(self, axis: int, value: float) -> None:
        """Stand at `value` in the numbers in force."""
        self.placed.pop(axis, None)
        self.position[axis] = value
        self.machine[axis] = value + self.offset[axis]

    def moved_machine(self, axis: int, value: float) -> None:
        """Stand at `value` in machine coordinates."""
        self.placed[axis] = value
        self.machine[axis] = value
        self.position[axis] = value - self.offset[axis]

    def renumbered(self) -> None:
        """Offsets have changed: the machine stands still, the numbers do not."""
        offset = self.offset
        self.position = [m - o for m, o in zip(self.machine, offset, strict=True)]

    def select(self, system: int) -> None:
        """Another work offset system. How far its origin lies from the last one's is enough to
        know the new numbers, where the machine's own are not known (behind a touch)."""
        was, here = self.origins[self.system - 1], list(self.position)
        self.system = system
        self.renumbered()
        for axis, (old, new) in enumerate(zip(was, self.origins[system - 1], strict=True)):
            if self.position[axis] != self.position[axis]:
                self.position[axis] = here[axis] + old - new
