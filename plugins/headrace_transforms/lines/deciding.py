"""Words for modes that decide something: without them another mode would hold."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from headrace import Job
from headrace_transforms.numbers.systems import CODES
from headrace_transforms.paths.reach import end_of

_GROUPS: tuple[tuple[float, ...], ...] = (
    (17, 18, 19),
    (20, 21),
    tuple(CODES),
    (90, 91),
    (90.1, 91.1),
    (93, 94),
    (98, 99),
)
"""Modes of which one holds at a time (RS274/NGC table 4). G80 is none of these: the next motion
is always said anew behind it."""
_LENGTHS = (43, 49)


@dataclass(frozen=True, slots=True)
class Deciding:
    """A word on a line (from 0) that ends another mode, which the line `since` has stated; both
    None where nothing before it states one."""

    line: int
    word: str
    ends: str | None = None
    since: int | None = None


def deciding(job: Job, words: frozenset[str]) -> Iterator[Deciding]:
    """Those of some words of the job itself, such as G17, that say what does not hold anyway. Not
    told where lines are called, so that their order is not that of what happens."""
    if job.trace.calls.calls:
        return
    lines, codes = job.program.codes()
    before_end = lines < end_of(job)
    # with G43 goes every length
    for group in _GROUPS if "G43" in words else (*_GROUPS, _LENGTHS):
        if words.isdisjoint(map(_name, group)):
            continue
        holds, since = _at_start(job, group), None
        meant = np.flatnonzero(np.isin(codes, group) & before_end)
        for line, word in zip(lines[meant].tolist(), map(_name, codes[meant]), strict=True):
            if word != holds and word in words and job.program[line].origin is not None:
                yield Deciding(line, word, None if since is None else holds, since)
            holds, since = word, line


def _name(code: float) -> str:
    return f"G{code:g}"


def _at_start(job: Job, group: tuple[float, ...]) -> str | None:
    """Which mode of a group holds when the job begins; None where that is not known."""
    start = job.start
    holds = {
        float(start.plane),
        {"mm": 21.0, "inch": 20.0}.get(start.units or ""),
        91.0 if start.incremental else 90.0,
        90.1 if start.absolute_centres else 91.1,
        93.0 if start.inverse_time else 94.0,
        99.0 if start.return_to_r else 98.0,
        43.0 if start.length else 49.0,
    }
    if 12 in start.stated:
        holds |= {code for code, system in CODES.items() if system == start.system}
    return next((_name(code) for code in group if code in holds), None)
