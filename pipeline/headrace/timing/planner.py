"""How fast a controller goes through moves that follow one another, and how long each takes.

Arrays in, arrays out: n moves, n + 1 junctions, the first before the first move and the last
behind the last one. Lengths in mm, speeds in mm/s, accelerations in mm/s2, times in s. Speeds at
junctions are carried as their squares (mm2/s2): on a way L, acceleration a adds 2 a L to a square,
so what can be reached from junction to junction is a sum, and the pass over all of them a running
minimum:

    w[k] = min(c[k], w[k+1] + g[k])  =  min over j >= k of (c[j] + G[j])  -  G[k]

with c the squares of the limits, g = 2 a L and G its running sum. The sums are taken over a few
thousand moves at a time, so that nothing is lost in them.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_AT_ONCE = 4096


def planned(
    length: Floats,
    limit: Floats,
    acceleration: Floats,
    corner: Floats,
    ahead: int | None = None,
) -> Floats:
    """How long each move takes (n, s): speed rises and falls at `acceleration` (n) between 0 and
    `limit` (n), and at the junctions is at most the root of `corner` (n + 1, mm2/s2), which must
    be 0 at both ends. `ahead` is how many moves behind the one that is carried out the controller
    knows (None: all of them). Lengths, limits and accelerations are greater than zero."""
    gain = 2.0 * acceleration * length
    most = np.empty_like(corner)
    most[0] = most[-1] = 0.0
    np.minimum(limit[:-1], limit[1:], out=most[1:-1])
    most *= most
    np.minimum(most, corner, out=most)
    return durations(length, limit, acceleration, junctions(gain, most, ahead))


def junctions(gain: Floats, most: Floats, ahead: int | None = None) -> Floats:
    """The squares of the speeds at the junctions (n + 1), from what may be gained on each move
    (n) and the most that is allowed at each junction (n + 1, zero at both ends); all mm2/s2."""
    # what gains more than any junction allows is as good as one that gains just that
    gain = np.minimum(gain, most.max(initial=0.0))
    speeds = most.copy()
    _brake(speeds, gain, ahead)
    _gather(speeds, gain)
    return speeds


def _brake(speeds: Floats, gain: Floats, ahead: int | None) -> None:
    """Backward: never faster than can be braked in time for all that follows, and before the end
    of the last move that is known."""
    for start in reversed(range(0, len(gain), _AT_ONCE)):
        stop = min(start + _AT_ONCE, len(gain))
        here = speeds[start : stop + 1]
        total = _sums(gain[start:stop])
        lowest = np.minimum.accumulate((here + total)[::-1])[::-1]
        np.minimum(here, lowest - total, out=here)
        if ahead is not None:
            # what lies behind those that are known: the run is planned to end there
            known = min(stop + ahead, len(gain))
            further = _sums(gain[start:known])
            bound = min(stop - start, known - start - ahead + 1)
            if bound > 0:
                least = further[ahead : ahead + bound] - further[:bound]
                np.minimum(here[:bound], least, out=here[:bound])
        np.maximum(here, 0.0, out=here)


def _gather(speeds: Floats, gain: Floats) -> None:
    """Forward: never faster than can be gained since the last slow place."""
    for start in range(0, len(gain), _AT_ONCE):
        stop = min(start + _AT_ONCE, len(gain))
        here = speeds[start : stop + 1]
        total = _sums(gain[start:stop])
        lowest = np.minimum.accumulate(here - total)
        np.minimum(here, lowest + total, out=here)
        np.maximum(here, 0.0, out=here)


def _sums(values: Floats) -> Floats:
    """The sums of the first 0, 1, ... n values (n + 1)."""
    sums = np.empty(len(values) + 1)
    sums[0] = 0.0
    np.cumsum(values, out=sums[1:])
    return sums


def durations(length: Floats, limit: Floats, acceleration: Floats, junction: Floats) -> Floats:
    """How long each move takes (n, s) that begins and ends at the speeds whose squares are
    `junction` (n + 1): up to its limit, or as far up as the way allows, and down again.

    Elementary mechanics: the square of the peak is half of 2 a L plus both squares at the ends; the
    rest of the way is gone at the peak.
    """
    found = np.empty_like(length)
    for start in range(0, len(length), _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        squares = junction[start : start + _AT_ONCE + 1]
        speeds = np.sqrt(squares)
        both, twice = squares[:-1] + squares[1:], 2.0 * acceleration[part]
        peak = 0.5 * (twice * length[part] + both)
        np.minimum(peak, limit[part] ** 2, out=peak)
        np.maximum(peak, np.maximum(squares[:-1], squares[1:]), out=peak)
        level = length[part] - (2.0 * peak - both) / twice
        np.maximum(level, 0.0, out=level)
        speed = np.sqrt(peak)
        ramps = 2.0 * (2.0 * speed - speeds[:-1] - speeds[1:]) / twice
        found[part] = ramps + level / speed
    return found


def from_rest(ways: Floats, limit: float, acceleration: float) -> Floats:
    """How long single moves take (n, s) that begin and end at rest; 0 for no way at all."""
    short = 2.0 * np.sqrt(ways / acceleration)
    long = ways / limit + limit / acceleration
    found: Floats = np.where(ways < limit * limit / acceleration, short, long)
    return np.where(ways > 0.0, found, 0.0)
