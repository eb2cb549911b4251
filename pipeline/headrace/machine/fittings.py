"""What is fitted to the gantry: spindle, probe, extraction shoe, further heads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from headrace.machine.length import length


@dataclass(frozen=True, slots=True)
class Spindle:
    """What switches the spindle (`by-hand`, `relay`, `speed`), its range and its times. With `none`
    nothing turns: all of these are 0.

    `numbers` are pairs of an S and the speed (rev/min) that it stands for; none where S is the
    speed itself.
    """

    control: str
    slowest: float
    fastest: float
    run_up: float
    run_down: float
    reverse: bool
    dial: tuple[tuple[str, float], ...]
    numbers: tuple[tuple[float, float], ...]

    def nearest_mark(self, speed: float) -> str | None:
        """The mark whose speed is nearest to `speed` (rev/min); None where no dial is described."""
        if not self.dial:
            return None
        return min(self.dial, key=lambda mark: abs(mark[1] - speed))[0]

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Spindle:
        """From what a machine file says, validated."""
        slowest, fastest = data.get("range", (0, 0))
        return cls(
            control=data["control"],
            slowest=float(slowest),
            fastest=float(fastest),
            run_up=float(data.get("run-up", 0)),
            run_down=float(data.get("run-down", 0)),
            reverse=bool(data.get("reverse", False)),
            dial=tuple((str(mark), float(speed)) for mark, speed in data.get("dial", ())),
            numbers=tuple((float(s), float(speed)) for s, speed in data.get("numbers", ())),
        )


@dataclass(frozen=True, slots=True)
class Probe:
    """The straight probe: its word, its feeds and the numbers that it accepts.

    `lowest_target` is the least Z number, as shown, that the controller lets a probe aim at;
    `lead` is how far the clip's lead lets the head go sideways.
    """

    word: str
    quick: float
    slow: float
    lowest_target: float | None
    reaction: float
    lead: float | None

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Probe:
        lowest = data.get("lowest-target")
        return cls(
            word=data.get("word", "G38.2"),
            quick=float(data["quick"]),
            slow=float(data["slow"]),
            lowest_target=None if lowest is None else float(lowest),
            reaction=float(data.get("reaction", 0.01)),
            lead=length(data.get("lead")),
        )


@dataclass(frozen=True, slots=True)
class Shoe:
    """The extraction shoe: how wide it is, and how far its stiff part reaches below the collet."""

    diameter: float
    below_collet: float


@dataclass(frozen=True, slots=True)
class Head:
    """A further head on the same gantry. The output `down` lowers it; switched off, the first head
    is down again. `tool` is the number by which jobs call the bit in it, `at` (X, Y; mm) where its
    axis lies from that of the first head, `bed` is what the machine's is for the first head, and
    `system` the work offset system in which it works."""

    tool: int
    at: tuple[float, float]
    bed: float
    system: str
    down: str

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Head:
        """From what a machine file says, validated."""
        at = (float(data["at"][0]), float(data["at"][1]))
        return cls(data["tool"], at, float(data["bed"]), data["system"], data["down"])
