"""The feed that cuts rely on without saying it: F stays in force until another one comes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from headrace import Job, number_text
from headrace_transforms.lines.slashes import left_out, undecided
from headrace_transforms.numbers.modes import Bools, Mode
from headrace_transforms.paths.rapids import HOME, RAPID, Longs
from headrace_transforms.telling.refusing import refusal

_EXACT = 15
"""Places behind the point, at the most, that numbers are read with."""


@dataclass(frozen=True, slots=True, eq=False)
class ModalFeed:
    """`stated` are the lines, ascending, that say an F which stays in force; `optional` those of
    which nothing says whether they run."""

    job: Job
    stated: Longs
    optional: Longs

    @classmethod
    def of(cls, job: Job) -> ModalFeed:
        """All F words but those that count moves a minute (RS274/NGC 3.5.19)."""
        inverse = Mode.of(job, len(job.program), (93.0, 94.0), job.start.inverse_time)
        stated = job.program.lines_with("F")
        runs = ~np.isin(stated, left_out(job))
        return cls(job, stated[~inverse.at(stated) & runs], undecided(job))

    def lost(self, row: Longs, line: Longs) -> Iterator[tuple[int, str]]:
        """The cuts that would go at the F of some rapids (their moves and lines, n each,
        ascending): each cut's line with its own F, as it was stated.

        Raises JobRefused where that is not known for certain.
        """
        for cut in self._relying(row).tolist():
            rapid = int(line[np.searchsorted(line, cut) - 1])
            at = int(np.searchsorted(self.stated, cut, "right")) - 1
            stated = int(self.stated[at]) if at >= 0 else -1
            if stated == cut or (stated > rapid and stated not in self.optional):
                continue
            yield cut, self._feed(stated, cut)

    def _relying(self, row: Longs) -> Longs:
        """The lines of the cuts that come next behind some rapids (n moves); where such a line
        may not run, those of the next cuts as well."""
        trace = self.job.trace
        cuts = np.flatnonzero((trace.kind != RAPID) & (trace.kind != HOME) & ~self._timed())
        after = np.searchsorted(cuts, row)
        found = np.unique(after[after < len(cuts)])
        lines = trace.line[cuts[found]].astype(np.int64)
        for at in found[np.isin(lines, self.optional)].tolist():
            behind = trace.line[cuts[at:]].astype(np.int64)
            firm = int(np.argmin(np.append(np.isin(behind, self.optional), False)))
            lines = np.concatenate([lines, behind[: firm + 1]])
        return np.unique(lines)

    def _timed(self) -> Bools:
        """Which moves say themselves how long they take (m)."""
        blocks = self.job.trace.blocks
        if not any(block.setting.inverse_time for block in blocks):
            return np.zeros(1, bool)
        sizes = [len(block) for block in blocks]
        return np.repeat([block.setting.inverse_time for block in blocks], sizes)

    def _feed(self, stated: int, cut: int) -> str:
        """The F that a line states, for a cut further down."""
        if stated < 0:
            return number_text(self.job.start.feed or 0.0, _EXACT)
        place = self.job.program.place(stated)
        if stated in self.optional:
            what = f"the feed of line {cut + 1} is this one, or another one"
            raise refusal("switch-decides", what, place=place)
        number = self.job.program[stated].get("F")
        if number is None:
            what = f"the feed of line {cut + 1} is worked out here"
            raise refusal("numbers-not-plain", what, place=place)
        return number_text(number, _EXACT)
