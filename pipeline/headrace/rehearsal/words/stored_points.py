"""Ways to the stored points of G28 and G30, which lead by the place that the line names."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

import numpy as np

from headrace.findings import Finding
from headrace.job import Job
from headrace.language.modal import AXES, HOMES
from headrace.program import Line
from headrace.rehearsal.lengths import mm

_MOST = 1000
"""So many of these lines are looked at."""
_POINTS = 10
"""For so many it is looked up where the stored point lies."""


def stored_point_findings(job: Job) -> Iterator[Finding]:
    """The first way that dives, and else the first that goes sideways. Harmless are a way straight
    up, and one by increments of 0; but where the stored point lies must be known."""
    lines, codes = job.program.codes()
    points = [code for code in (28, 30) if code * 10 != job.dialect.homing]
    sideways = hidden = None
    for count, at in enumerate(lines[np.isin(codes, points)][:_MOST].tolist()):
        line = job.program[at]
        row = int(np.searchsorted(job.trace.line, at))
        if row == len(job.trace) or job.trace.line[row] != at:
            continue
        ways = {axis: _way(job, line, row, axis) for axis in range(3) if line.has(AXES[axis])}
        word = next(w.code for w in line.words if w.code in ("G28", "G30"))
        if 2 in ways and not ways[2] >= 0:
            end = float(job.trace.ends(2)[row])
            where = "" if isnan(end) else f" to Z{mm(end)}"
            what = f"{word} first dives{where} at rapid speed"
            yield Finding.of("home-dives", what, job.program.place(at))
            return
        if hidden is None and count < _POINTS and _unknown_point(job, word, at):
            what = f"{word} goes to a stored point, and no line says where that is"
            hidden = Finding.of("stored-point-unknown", what, job.program.place(at))
        if sideways is None and any(way != 0 for axis, way in ways.items() if axis < 2):
            what = f"{word} with axis words first goes to that point at rapid speed"
            sideways = Finding.of("home-by-way", what, job.program.place(at))
    for finding in (sideways, hidden):
        if finding is not None:
            yield finding


def _unknown_point(job: Job, word: str, line: int) -> bool:
    """Whether the program has not set the point (parameters of RS274/NGC table 2)."""
    first = HOMES[280 if word == "G28" else 300]
    known = job.state_at(line).parameters
    return not {first, first + 1, first + 2} <= known.keys()


def _way(job: Job, line: Line, row: int, axis: int) -> float:
    """How far (mm) the way to the named place goes along an axis; NaN where it is not known."""
    start, end = float(job.trace.starts(axis)[row]), float(job.trace.ends(axis)[row])
    number = line.get(AXES[axis])
    if isnan(start) and isnan(end) and number is not None:
        return float(number)  # by increments, from an unknown place: the sign is what counts
    return end - start
