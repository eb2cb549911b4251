"""How long a card file takes, in s, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ToolTime:
    """Planned seconds of motion with one bit (None: the one in the collet, which no job names)."""

    tool: int | None
    seconds: float


@dataclass(frozen=True, slots=True)
class Times:
    """`naive` is every move at its full feed. The rest is planned: `cutting`, `rapids`, `probing`
    and `homing` are motion, `waiting` are dwells. `low` to `high` is the band around their sum,
    pauses left out; None where accelerations are not described, as the four are then not known
    better than `naive`. `pauses` and `tool_changes` are counted: how long a person takes nobody
    knows. `calibrated` tells that a timed run of this machine narrows the band. `unknown` are
    moves whose length or speed is not known; they are not in any of the sums.
    """

    naive: float
    cutting: float
    rapids: float
    probing: float
    homing: float
    waiting: float
    low: float | None
    high: float | None
    calibrated: bool
    pauses: int
    tool_changes: int
    tools: tuple[ToolTime, ...]
    unknown: int = 0

    @property
    def planned(self) -> float:
        """All of it but for the pauses (s)."""
        return self.cutting + self.rapids + self.probing + self.homing + self.waiting
