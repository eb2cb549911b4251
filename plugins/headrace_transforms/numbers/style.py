"""How the numbers of a job are to be written anew."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from headrace import Job
from headrace_transforms.numbers.modes import Bools, Lines, Mode

Floats = npt.NDArray[np.float64]

MM_IN_INCH = 25.4
ARC_TOLERANCE = {"mm": 0.002, "inch": 0.0002 * MM_IN_INCH}
"""By so much (mm) the radii at both ends of an arc may differ (RS274/NGC 3.5.3.2)."""


@dataclass(frozen=True, slots=True)
class Style:
    """The unit of lengths (`mm`, `inch`, or None: that of each line), how many places behind the
    point numbers have at most and may have where an arc or a peck needs it, and whether every
    length has a point."""

    unit: str | None
    places: int
    most: int
    point: bool = False

    def inch(self, lines: Lines, inch: Mode) -> Bools:
        """Which of some lines are to be in inches (n); `inch` is how they are now."""
        if self.unit is None:
            return inch.at(lines)
        return np.broadcast_to(np.bool_(self.unit == "inch"), len(lines))

    def step(self, units: Mapping[str, bool]) -> float:
        """The last place in mm, where these units are among those of the job now."""
        inches = self.unit == "inch" or (self.unit is None and units["inch"])
        return float(10.0**-self.places * (MM_IN_INCH if inches else 1.0))


def inch_mode(job: Job, stop: int) -> Mode:
    """Where the lines before `stop` count in inches."""
    return Mode.of(job, stop, (20.0, 21.0), job.start.units == "inch")


def on_grid(values: Floats) -> Floats:
    """The nearest whole numbers, halves to even, whatever the noise of the arithmetic."""
    rounded: Floats = np.rint(np.round(values, 5))
    return rounded
