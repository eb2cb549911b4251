"""Pecks (Q of G83, RS274/NGC 3.5.16.4) that stay as many when numbers are rounded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from headrace import EventKind, Job
from headrace_transforms.numbers.figure_rules import places_text
from headrace_transforms.numbers.modes import Mode
from headrace_transforms.numbers.section import Section
from headrace_transforms.numbers.style import MM_IN_INCH, Floats, Style, on_grid
from headrace_transforms.paths.arcs import ACROSS
from headrace_transforms.telling.refusing import refusal

Longs = npt.NDArray[np.int64]

_DRIFT = 0.36
"""By so many last places the deepest peck may be off, with R off by half a place besides: together
no more than half of the diagonal by which any place may stray."""
_REACHED = 1e-9
"""A hole is done where so much (mm) or less is left."""
_NOISE = 1e-6
"""Last places that are noise of the arithmetic."""


@dataclass(frozen=True, slots=True, eq=False)
class Pecked:
    """Lines of pecked holes (k): `high` and `low` are how R and the bottom of each are said (mm),
    `step` is the last place there (mm)."""

    line: Longs
    high: Floats
    low: Floats
    step: Floats

    @classmethod
    def of(cls, job: Job, style: Style, inch: Mode) -> Pecked:
        """All of a job."""
        trace = job.trace
        found = [event for event in trace.events_of(EventKind.CYCLE) if event.value == "G83"]
        line = np.array([event.line for event in found], np.int64)
        first = np.array([event.moves for event in found], np.int64)
        if not len(line):
            return cls(line, *(np.zeros(0) for _ in range(3)))
        feeds = np.flatnonzero(trace.kind != 0)
        down = feeds[np.searchsorted(feeds, first)]
        last = feeds[np.searchsorted(feeds, np.searchsorted(trace.line, line, "right")) - 1]
        begun = np.cumsum([0, *(len(block) for block in trace.blocks)])
        planes = np.array([ACROSS[block.setting.plane] for block in trace.blocks])
        axis = planes[np.searchsorted(begun, down, "right") - 1]
        high, low = np.zeros(len(line)), np.zeros(len(line))
        for each in np.unique(axis):
            here = axis == each
            high[here] = trace.starts(int(each))[down[here]]
            low[here] = trace.ends(int(each))[last[here]]
        inches = style.inch(line, inch)
        step = np.where(inches, MM_IN_INCH, 1.0) * 10.0**-style.places
        return cls(line, high, low, step)

    def limits(self, size: Floats) -> tuple[Longs, Floats, Floats]:
        """How many pecks of some sizes (k, mm) each hole takes, and from which size on and below
        which one (k each, mm) it takes as many between rounded heights."""
        count = np.maximum(np.ceil((self.high - self.low - _REACHED) / size), 1)
        deep = (on_grid(self.high / self.step) - on_grid(self.low / self.step)) * self.step
        most = np.divide(deep, count - 1, out=np.full(len(deep), np.inf), where=count > 1)
        return count.astype(np.int64), deep / count, most


def put_pecks(job: Job, style: Style, inch: Mode, sections: Sequence[Section]) -> None:
    """Pecks with so many places that each hole takes as many as before, and what is rounded in each
    does not add up. JobRefused where there are not enough places."""
    every = [(section, section.words("Q")) for section in sections]
    stated = np.concatenate([section.numerals.line[at] for section, at in every])
    if not len(stated) or all(section.exact.all() for section in sections):
        return
    size = np.concatenate([section.steps(at, style.places) for section, at in every])
    step = np.where(style.inch(stated, inch), MM_IN_INCH, 1.0) * 10.0**-style.places
    pecked = Pecked.of(job, style, inch)
    which = np.searchsorted(stated, pecked.line, "right") - 1
    count, least, most = pecked.limits((size * step)[which])
    counts, low, high = (
        np.zeros(len(size), np.int64),
        np.zeros(len(size)),
        np.full(len(size), np.inf),
    )
    np.maximum.at(counts, which, count)
    np.maximum.at(low, which, least / step[which])
    np.minimum.at(high, which, most / step[which])
    number, more = _fitting(size, counts, low, high, style.most - style.places)
    lost = (number == 0) & (counts > 0)
    if lost.any():
        raise refusal(
            "rounding-breaks-cycle",
            f"rounded to {places_text(style.most)}, holes of this peck (Q) would take more or fewer"
            " of them, or what each is off would add up",
            place=job.program.place(int(stated[np.argmax(lost)])),
        )
    begun = 0
    for section, at in every:
        part = slice(begun, begun + len(at))
        begun += len(at)
        now = section.number[0][at] * 10.0 ** (style.places - section.number[1][at])
        other = (counts[part] > 0) & (np.abs(now - number[part] / 10.0 ** more[part]) > _NOISE)
        scale = (style.places + more[part][other]).astype(np.int8)
        section.put(at[other], (number[part][other], scale))


def _fitting(
    size: Floats, count: Longs, low: Floats, high: Floats, most: int
) -> tuple[Longs, Longs]:
    """The numbers nearest to some sizes with the fewest further places, at least `low` and below
    `high` (q each, last places), and how many these are; 0 where none fits."""
    found, places = np.zeros(len(size), np.int64), np.zeros(len(size), np.int64)
    for more in range(most + 1):
        tens = 10.0**more
        least, below = np.ceil(low * tens - _NOISE), np.ceil(high * tens - _NOISE)
        number = np.clip(on_grid(size * tens), least, below - 1)
        off = np.abs(number / tens - size) * (count - 1)
        fits = (found == 0) & (number >= least) & (number > 0) & (off <= _DRIFT + _NOISE)
        found[fits], places[fits] = number[fits].astype(np.int64), more
    return found, places
