"""Where in a program a mode holds: units, distances, what F means."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from headrace import Job
from headrace_transforms.telling.refusing import refusal

Bools = npt.NDArray[np.bool_]
Lines = npt.NDArray[np.integer[Any]]


@dataclass(frozen=True, slots=True, eq=False)
class Mode:
    """A mode with two ways. `lines` (k, ascending) state it; `on` (k + 1) is how it stands from
    the beginning, and from each of these lines on."""

    lines: npt.NDArray[np.int64]
    on: Bools

    @classmethod
    def of(cls, job: Job, stop: int, codes: tuple[float, float], on: bool) -> Mode:
        """The mode that the first of two G codes turns on and the second off, up to a line; `on`
        is how it stands at the beginning."""
        lines, numbers = job.program.codes()
        meant = (lines < stop) & np.isin(numbers, codes)
        return cls(lines[meant], np.concatenate([[on], numbers[meant] == codes[0]]))

    @property
    def lasting(self) -> bool | None:
        """How it stands throughout; None where it changes."""
        return bool(self.on[0]) if (self.on == self.on[0]).all() else None

    def at(self, lines: Lines) -> Bools:
        """How it stands on each of some lines (n), what the line itself says included."""
        if (once := self.lasting) is not None:
            return np.broadcast_to(np.bool_(once), len(lines))
        on: Bools = self.on[np.searchsorted(self.lines, lines, "right")]
        return on


def require_codes(job: Job, stop: int) -> None:
    """No G word before a line that is worked out while the job runs: any mode may be behind it."""
    lines, numbers = job.program.codes()
    worked_out = lines[np.isnan(numbers) & (lines < stop)]
    if len(worked_out):
        raise refusal(
            "numbers-not-plain",
            "a G word is worked out while the job runs",
            place=job.program.place(int(worked_out[0])),
        )
