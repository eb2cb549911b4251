"""Increments (G91) that are rounded: each so that the places they lead to are rounded places, for
else what is lost in each would add up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from headrace import Job
from headrace_transforms.numbers.modes import Bools
from headrace_transforms.numbers.style import Floats, on_grid

Longs = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class KeptSteps:
    """Increments along one axis (k), in last places; `known` (k) tells which belong to a move, the
    others count as places. `repeated` are lines that take more than one step with one word."""

    known: Bools
    number: Longs
    repeated: Longs


def kept_steps(job: Job, axis: int, lines: Longs, values: Floats, grid: Floats) -> KeptSteps:
    """The increments of some lines (k, ascending), whose exact `values` (k) in last places are
    given; `grid` (k) is how many of these there are in a millimetre."""
    trace = job.trace
    moves = trace.line
    first = np.searchsorted(moves, lines)
    count = np.searchsorted(moves, lines, "right") - first
    known = count > 0
    rows = first[known]
    start, end = trace.starts(axis)[rows], trace.ends(axis)[rows]
    stored = np.isin(lines[known], job.program.lines_with("G", 28, 30))
    nowhere = np.isnan(start)
    # from an unknown place they are added up from there
    total = np.cumsum(np.where(nowhere, values[known], 0.0))
    before = np.where(nowhere, total - values[known], start * grid[known])
    behind = np.where(nowhere, total, end * grid[known])
    number = np.zeros(len(lines), np.int64)
    number[known] = (on_grid(behind) - on_grid(before)).astype(np.int64)
    repeated = lines[known][(count[known] > 1) & ~stored]
    return KeptSteps(known, number, repeated)
