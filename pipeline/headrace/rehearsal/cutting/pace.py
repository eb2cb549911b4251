"""How many lines a second: short moves at a high feed need more than a controller may read.

The time of a move is its length by its feed, as if it never slowed down. A rapid takes what its
slowest axis needs; what is not known takes a second. Pauses and dwells part what is before them
from what is behind.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import floor

import numpy as np

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language import EventKind
from headrace.language.trace import CCW, LINE, RAPID
from headrace.machine import unknown
from headrace.rehearsal.cutting.numbers import line_number
from headrace.rehearsal.space.extents import Floats, outermost
from headrace.rehearsal.space.stretches import Rows, Stretch

_USUAL = 200
"""Lines a second that are worth a question where the machine file does not tell: common
practice."""

_PARTS = 32
"""A second is looked at in so many parts, before it is looked at move by move."""
_SECOND = 1.0 + 1e-9
_LONG = 10.0
"""What parts two moves for certain (s)."""

_HALTS = (EventKind.STOP, EventKind.TOOL, EventKind.END)


@dataclass(frozen=True, slots=True)
class _Densest:
    """The most lines in a second, the moves of the first and the last of them, and the highest feed
    (mm/min) at which no second would have too many."""

    lines: int
    first: tuple[Stretch, int]
    last: tuple[Stretch, int]
    slower: float


def pace_findings(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """The densest second, where it has more lines than the controller carries out."""
    rate = job.machine.line_rate
    found = _densest(job, space, _USUAL if rate is None else rate)
    if found is None:
        return
    stretch, row = found.first
    place = stretch.place(row)
    if rate is None:
        question = f"whether the controller keeps up with {found.lines} lines in a second"
        yield unknown("machine.line.rate", question, place, severity=Severity.NOTE)
        return
    last = line_number(job, found.last[0].line(found.last[1]))
    what = (
        f"the second from here to line {last} has {found.lines} lines, and this controller carries"
        f" out {rate:g}"
    )
    slower = floor(found.slower + 1e-6)
    remedy = (
        f"F{slower:g} or less goes smoothly here; or let CAM write fewer points: a coarser"
        " tolerance, or arcs"
        if slower and not stretch.block.setting.inverse_time
        else None
    )
    yield Finding.of("lines-too-quick", what, place, remedy=remedy)


def _densest(job: Job, space: Sequence[Stretch], rate: float) -> _Densest | None:
    """The densest second, if it has more lines than the `rate`."""
    found: list[_Densest] = []
    begun = np.cumsum([0, *(len(stretch) for stretch in space)])
    for low, high in _suspects(job, space, floor(rate) + 1):
        waits = _waits(job, int(begun[low]), int(begun[high]))
        found += _densest_of(space[low:high], waits, rate)
    if not found:
        return None
    worst = max(found, key=lambda one: one.lines)
    return replace(worst, slower=min(one.slower for one in found))


def _suspects(job: Job, space: Sequence[Stretch], lines: int) -> list[tuple[int, int]]:
    """The runs of stretches (from, to) that may have so many lines in a second.

    The moves are taken in parts: any so many moves hold, besides a beginning and an end, so many
    `whole` ones. Each takes at least the straight way between its ends at the highest speed there.
    """
    part = max(1, lines // _PARTS)
    whole = -(-(lines - 2 * (part - 1)) // part)
    least = [_least_times(job, stretch, part) for stretch in space]
    counts = [len(times) for times in least]
    if sum(counts) < whole:
        return []
    total = np.concatenate([[0.0], np.cumsum(np.concatenate(least))])
    owners = np.repeat(np.arange(len(space)), counts)
    quick = np.flatnonzero(total[whole:] - total[:-whole] <= _SECOND + 1e-6)
    if not len(quick):
        return []
    marked = np.zeros(len(space) + 1, np.int64)
    np.add.at(marked, owners[np.maximum(quick - 1, 0)], 1)
    np.add.at(marked, owners[np.minimum(quick + whole, len(owners) - 1)] + 1, -1)
    inside = np.concatenate([[False], np.cumsum(marked) > 0])
    edges = np.flatnonzero(inside[1:] != inside[:-1])
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def _least_times(job: Job, stretch: Stretch, part: int) -> Floats:
    """The least that each `part` moves of a stretch may take (s)."""
    block = stretch.block
    count = -(-len(block) // part)
    fastest = outermost(block.feed, True)
    if block.setting.inverse_time or fastest is None or not fastest[0] > 0:
        return np.zeros(count)
    speed = fastest[0]
    if (block.kind == RAPID).any():
        speed = max(speed, float(np.linalg.norm([job.machine.axes[a].rapid for a in "xyz"])))
    square = np.zeros(count)
    for axis in range(3):
        ends = block.ends[axis]
        if ends.strides != (0,):
            places = np.empty(count + 1)
            places[0], places[-1] = block.start[axis], ends[-1]
            places[1:count] = ends[part - 1 : -1 : part]
            ways = places[1:] - places[:-1]
            ways *= ways
            square += ways
    square[np.isnan(square)] = 0.0
    return np.sqrt(square) * (60.0 / speed)


def _waits(job: Job, low: int, high: int) -> Floats:
    """What passes before each of the moves `low` to `high`, besides moving (s)."""
    waits = np.zeros(high - low)
    for event in job.trace.events_of(EventKind.DWELL, *_HALTS):
        if low <= event.moves < high:
            waits[event.moves - low] += event.value if isinstance(event.value, float) else _LONG
    return waits


def _densest_of(run: Sequence[Stretch], waits: Floats, rate: float) -> Iterator[_Densest]:
    """The densest second of stretches in a row, if it has more lines than the `rate`."""
    times = np.concatenate([_times(stretch) for stretch in run])
    done = np.cumsum(times + waits)
    numbers = np.concatenate([stretch.block.line for stretch in run])
    first = np.flatnonzero(np.diff(numbers, prepend=-1))
    begins = done[first] - times[first]
    ends = np.append(done[first[1:] - 1], done[-1])
    more = floor(rate) + 1
    passed = ends[more - 1 :] - begins[: max(len(begins) - more + 1, 0)]
    quick = np.flatnonzero(passed <= _SECOND)
    if not len(quick):
        return
    behind = np.searchsorted(ends, begins + _SECOND, "right")
    lines = behind - np.arange(len(first))
    at = int(lines.argmax())
    bounds = np.cumsum([0, *(len(stretch) for stretch in run)])
    rows = [_located(run, bounds, int(row)) for row in (first[at], first[behind[at] - 1])]

    # what a line too many for a second takes at feed may be stretched, what else it takes may not
    feeds = np.concatenate([_at_feed(stretch) for stretch in run])
    starts = np.append(first, len(numbers))
    low, high = starts[quick], starts[quick + more]
    totals = [
        np.append(0.0, np.cumsum(values)) for values in (feeds, np.where(feeds > 0, times, 0.0))
    ]
    way, at_feed = (total[high] - total[low] for total in totals)
    slower = way * 60.0 / (more / rate - (passed[quick] - at_feed))
    yield _Densest(int(lines[at]), rows[0], rows[1], float(slower.min()))


def _at_feed(stretch: Stretch) -> Floats:
    """How far each move goes at feed (n, mm)."""
    feeds = (stretch.block.kind >= LINE) & (stretch.block.kind <= CCW)
    return np.where(feeds, np.nan_to_num(stretch.lengths), 0.0)


def _located(run: Sequence[Stretch], bounds: Rows, row: int) -> tuple[Stretch, int]:
    which = int(np.searchsorted(bounds, row, "right")) - 1
    return run[which], row - int(bounds[which])


def _times(stretch: Stretch) -> Floats:
    """How long each move takes (n, s)."""
    block = stretch.block
    with np.errstate(invalid="ignore", divide="ignore"):
        if block.setting.inverse_time:
            times = 60.0 / block.feed
        else:
            times = stretch.lengths * 60.0 / block.feed
    rapid = block.kind == RAPID
    if rapid.any():
        axes = stretch.job.machine.axes
        slowest = np.zeros(len(block))
        for axis, name in enumerate("xyz"):
            way = np.abs(np.diff(block.ends[axis], prepend=block.start[axis]))
            slowest = np.maximum(slowest, way * 60.0 / axes[name].rapid)
        times = np.where(rapid, slowest, times)
    times = np.where(np.isfinite(times), times, 1.0)
    return np.where(block.kind > CCW, _LONG, times)
