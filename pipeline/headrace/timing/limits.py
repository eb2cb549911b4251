"""What bounds each move: its feed, its axes, the bend of an arc, and the lines that a controller
reads in a second."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headrace.language import Trace
from headrace.language.trace import RAPID, Ints
from headrace.machine import Machine
from headrace.timing.moves import Floats, Moves

_AT_ONCE = 1 << 14
_EVENED_OUT = 0.1
"""What is read in so many seconds lies ready: short lines among long ones hold up nothing (common
practice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Limits:
    """Of each move (m) the speed that is asked for (`wanted`: its feed, or of a rapid what its
    axes can do), the most that the machine can do (`speed`), both mm/s, and the `acceleration`
    along it (mm/s2); NaN where that is not known."""

    wanted: Floats
    speed: Floats
    acceleration: Floats


def limits_of(moves: Moves, trace: Trace, machine: Machine) -> Limits:
    """The limits of all moves. Probes and homing have none here: they are no part of a way.

    An axis i goes at most its F_i and gains at most a_i, so along the direction u no more than the
    least of F_i / |u_i| and a_i / |u_i|. On an arc u turns, so the slower axis of its plane counts
    for both; and to stay on it takes v^2 / R toward its centre.
    """
    axes = [machine.axes[name] for name in "xyz"]
    gains = np.array([axis.acceleration or np.inf for axis in axes])
    feeds, rapids = (
        np.array(each) / 60.0 for each in ([a.feed for a in axes], [a.rapid for a in axes])
    )
    wanted = _feeds(moves, trace)
    rapid = trace.kind == RAPID
    if machine.rapid_feed == "own":
        wanted[rapid] = np.inf
    speed, acceleration = np.empty_like(wanted), np.empty_like(wanted)
    for start in range(0, len(moves), _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        share = np.abs(moves.begins[:, part])
        speed[part] = _least(feeds, share)
        acceleration[part] = _least(gains, share)
        fast = rapid[part]
        if fast.any():
            speed[part][fast] = _least(rapids, share[:, fast])
    np.minimum(wanted, speed, out=wanted, where=rapid)
    _on_arcs(moves, feeds, gains, speed, acceleration)
    np.minimum(speed, wanted, out=speed)
    return Limits(wanted, speed, acceleration)


def _feeds(moves: Moves, trace: Trace) -> Floats:
    """The feed of each move (m, mm/s); NaN where there is none."""
    feeds = trace.feed / 60.0
    at = 0
    for block in trace.blocks:
        if block.setting.inverse_time:
            feeds[at : at + len(block)] *= moves.length[at : at + len(block)]
        at += len(block)
    feeds[~(feeds > 0)] = np.nan
    return feeds


def _least(limits: Floats, share: Floats) -> Floats:
    """What limits of the axes (3) allow along directions, of which the axes have a `share` (3, n)
    each."""
    one, other, third = share * (1.0 / limits)[:, None]
    slowest = np.maximum(np.maximum(one, other), third)
    least: Floats = 1.0 / slowest
    return least


def _on_arcs(
    moves: Moves, feeds: Floats, gains: Floats, speed: Floats, acceleration: Floats
) -> None:
    """The limits of arcs, written into those of all moves."""
    arcs = moves.arcs
    first, second, across = arcs.axes
    sideways = np.minimum(gains[first], gains[second])
    for limits, found in ((feeds, speed), (gains, acceleration)):
        flat = np.minimum(limits[first], limits[second]) / arcs.level
        found[arcs.rows] = np.minimum(flat, limits[across] / np.abs(arcs.rise))
    speed[arcs.rows] = np.minimum(speed[arcs.rows], np.sqrt(sideways * arcs.radius) / arcs.level)


def by_lines(length: Floats, line: Ints, rate: float) -> Floats:
    """The speed (n, mm/s) at which moves of such lengths (n, mm), each by its line (n), need no
    more than `rate` lines in a second: the mean way of a line from here on, so many times a second.
    """
    begins = np.ones(len(line), np.bool_)
    np.not_equal(line[1:], line[:-1], out=begins[1:])
    first = np.flatnonzero(begins)
    single = len(first) == len(line)
    ways = length if single else np.add.reduceat(length, first)
    count = max(1, min(len(ways), round(rate * _EVENED_OUT)))
    sums = np.concatenate([[0.0], np.cumsum(ways)])
    means = (sums[count:] - sums[:-count]) / count
    speeds = np.concatenate([means, np.full(count - 1, means[-1])]) * rate
    return speeds if single else np.repeat(speeds, np.diff(first, append=len(length)))
