"""Work offset systems: where a job selects them, and how far apart their zeros lie."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
import numpy.typing as npt

from headrace import Job, needed
from headrace_transforms.numbers.modes import Lines

Longs = npt.NDArray[np.int64]
Shift = tuple[Decimal, Decimal, Decimal]

SYSTEMS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")
"""The words in the order of their numbers, from 1 (RS274/NGC 3.5.13)."""
CODES = {float(word[1:]): number for number, word in enumerate(SYSTEMS, 1)}
PLANES = {17.0: 17, 18.0: 18, 19.0: 19}
_NOWHERE: Shift = (Decimal(0), Decimal(0), Decimal(0))


@dataclass(frozen=True, slots=True, eq=False)
class Selected:
    """What G codes of one kind select: `lines` (k, ascending) say it; `numbers` (k + 1) is what is
    selected at the beginning, and from each of these lines on."""

    lines: Longs
    numbers: Longs

    @classmethod
    def of(cls, job: Job, stop: int, codes: Mapping[float, int], first: int) -> Selected:
        """What the lines before `stop` select."""
        lines, numbers = job.program.codes()
        meant = (lines < stop) & np.isin(numbers, list(codes))
        chosen = [codes[number] for number in numbers[meant].tolist()]
        return cls(lines[meant], np.array([first, *chosen], np.int64))

    def at(self, lines: Lines) -> Longs:
        """What is selected on each of some lines (n), what the line itself says included."""
        found: Longs = self.numbers[np.searchsorted(self.lines, lines, "right")]
        return found


def systems_of(job: Job, stop: int) -> Selected:
    """The systems that a job selects, by their numbers."""
    return Selected.of(job, stop, CODES, job.start.system)


def zero_of(job: Job, system: int) -> Shift:
    """Where the zero of a system lies from that of the first one (mm).

    Raises JobRefused where the set-up does not say it.
    """
    word = SYSTEMS[system - 1]
    first = (job.machine.work_zero.systems or SYSTEMS)[0]
    given = job.setup.offsets.get(word)
    if word == first and given is None:
        return _NOWHERE
    x, y, z = needed(given, f"setup.offsets.{word}", "work-offset")
    return Decimal(str(x)), Decimal(str(y)), Decimal(str(z))


def way_between(job: Job, system: int, target: int) -> Shift:
    """What is added to the numbers of one system to say the same places in another one (mm)."""
    if system == target:
        return _NOWHERE
    x, y, z = (a - b for a, b in zip(zero_of(job, system), zero_of(job, target), strict=True))
    return x, y, z
