"""The moves of a file, looked up by their numbers (from 0)."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from functools import cached_property

import numpy as np

from headrace.job import Job
from headrace.language.trace import Setting
from headrace.rehearsal.space.stretches import Rows, Stretch
from headrace.sheet.cuts import Cuts


class Moves:
    """All moves of a job, in the stretches that `cuts` are of."""

    def __init__(self, job: Job, cuts: Sequence[Cuts]) -> None:
        self.job = job
        self.cuts = cuts
        self._begun = [part.begun for part in cuts]
        self._count = len(job.trace)

    def __len__(self) -> int:
        return self._count

    def at(self, move: int) -> tuple[Stretch, int] | None:
        """The stretch of a move and its row there; None where there is no such move."""
        if not 0 <= move < len(self):
            return None
        part = self.cuts[bisect_right(self._begun, move) - 1]
        return part.stretch, move - part.begun

    def between(self, first: int, last: int) -> list[tuple[Cuts, slice]]:
        """The moves from `first` to before `last`: stretches, and their rows in each."""
        if first >= last:
            return []
        low = max(bisect_right(self._begun, first) - 1, 0)
        high = bisect_right(self._begun, last - 1)
        return [(part, part.part(first, last)) for part in self.cuts[low:high]]

    def cut(self, first: int, last: int) -> tuple[int, int] | None:
        """The first and the last move that cuts among those from `first` to before `last`."""
        low, high = np.searchsorted(self._cutting, (first, last))
        return None if low == high else (int(self._cutting[low]), int(self._cutting[high - 1]))

    def line(self, move: int) -> int:
        """The line of a move (from 0)."""
        return int(self.job.trace.line[move])

    def setting(self, move: int) -> Setting | None:
        """What holds at a move; None where there is no such move."""
        if not 0 <= move < len(self):
            return None
        return self.job.trace.blocks[int(np.searchsorted(self._ends, move, "right"))].setting

    @cached_property
    def _cutting(self) -> Rows:
        masks = [part.cuts for part in self.cuts]
        return np.flatnonzero(np.concatenate(masks)) if masks else np.zeros(0, np.int64)

    @cached_property
    def _ends(self) -> Rows:
        return np.cumsum([len(block) for block in self.job.trace.blocks])
