"""The way of a job as its machine can follow it: all moves but probes and homing, planned."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from headrace.job import Job
from headrace.language import EventKind, Trace
from headrace.language.trace import RAPID
from headrace.machine import Machine
from headrace.timing.corners import corner_speeds
from headrace.timing.limits import Limits, by_lines
from headrace.timing.moves import Flags, Floats, Moves, Rows
from headrace.timing.planner import from_rest, planned

_AT_ONCE = 1 << 14
_STANDING = frozenset(EventKind) - {
    EventKind.MESSAGE,
    EventKind.ASKS,
    EventKind.OVERRIDES,
    EventKind.CORNERS,
    EventKind.UNITS,
    EventKind.CYCLE,
}
"""What happens while the machine stands: motion before it ends, and begins anew behind it."""


def way_times(job: Job, moves: Moves, limits: Limits, going: Flags) -> Floats:
    """How long each of the moves takes that are `going` (as many, s): no probes, no homing, and
    each of a length that is known and greater than zero. What lies between them stops the way,
    unless it goes nowhere."""
    trace, machine = job.trace, job.machine
    if not going.any():
        return np.zeros(0)
    rows: Rows | slice = slice(None) if going.all() else np.flatnonzero(going)
    length, speed = moves.length[rows], limits.speed[rows]
    if machine.line_rate is not None:
        speed = np.minimum(speed, by_lines(length, trace.line[rows], machine.line_rate))
    before = np.concatenate([[0], np.cumsum(going)])
    corners = _corners(moves, limits, machine, rows)
    _keep_to_path(corners, trace, machine, before)
    corners[before[_stops(trace, going, moves)]] = 0.0
    alone = np.zeros(0, np.int64)
    if machine.rapids == "each-axis":
        alone = np.flatnonzero(trace.kind[rows] == RAPID)
        corners[alone] = corners[alone + 1] = 0.0
    times = planned(length, speed, limits.acceleration[rows], corners, machine.look_ahead)
    if len(alone):
        times[alone] = _each_axis(moves.begins[:, rows][:, alone] * length[alone], machine)
    return times


def _corners(moves: Moves, limits: Limits, machine: Machine, rows: Rows | slice) -> Floats:
    """The squares of the speeds at the junctions (n + 1, mm2/s2), 0 at both ends."""
    rule = machine.corners
    assert rule is not None
    begins, ends = moves.begins[:, rows], moves.ends[:, rows]
    gain = limits.acceleration[rows]
    gains = np.array([machine.axes[name].acceleration or 0.0 for name in "xyz"])
    found = np.zeros(len(gain) + 1)
    for start in range(1, len(gain), _AT_ONCE):
        stop = min(start + _AT_ONCE, len(gain))
        along = np.minimum(gain[start - 1 : stop - 1], gain[start:stop])
        before, behind = ends[:, start - 1 : stop - 1], begins[:, start:stop]
        found[start:stop] = corner_speeds(rule, before, behind, along, gains)
    return found


def _stops(trace: Trace, going: Flags, moves: Moves) -> Rows:
    """The junctions of the program at which the machine stands."""
    events = [event.moves for event in trace.events if event.kind in _STANDING]
    apart = np.flatnonzero(~going & ~(moves.length == 0.0))
    return np.concatenate([[0, len(going)], events, apart]).astype(np.int64)


def _keep_to_path(corners: Floats, trace: Trace, machine: Machine, before: Rows) -> None:
    """Where the job asks for it, no corner is cut (G61) and every move ends at rest (G61.1):
    RS274/NGC 3.5.14. `before` is how many moves of the way come before each junction."""
    assert machine.corners is not None
    for mode, first, last in _modes(trace):
        part = corners[before[first] + 1 : before[last] + 1]
        if mode == "G61.1":
            part[:] = 0.0
        elif mode == "G61" and machine.corners.deviation is not None:
            part[np.isfinite(part)] = 0.0


def _modes(trace: Trace) -> Iterator[tuple[object, int, int]]:
    """The words for path control, each with the moves (from, to) for which it holds."""
    words = list(trace.events_of(EventKind.CORNERS))
    ends = [event.moves for event in words[1:]] + [len(trace)]
    for event, end in zip(words, ends, strict=False):  # one end too many where there are none
        yield event.value, event.moves, end


def _each_axis(ways: Floats, machine: Machine) -> Floats:
    """How long rapids take (n, s) on which each axis goes its way (3, n, mm) by itself."""
    longest = np.zeros(ways.shape[1])
    for way, name in zip(np.abs(ways), "xyz", strict=True):
        axis = machine.axes[name]
        assert axis.acceleration is not None
        np.maximum(longest, from_rest(way, axis.rapid / 60.0, axis.acceleration), out=longest)
    return longest
