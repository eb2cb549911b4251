"""The planner once more, as a plain loop: slow, and easy to see through."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import sqrt
from typing import TypeVar

Number = TypeVar("Number", bound=float)


def squares(
    gain: Sequence[Number], most: Sequence[Number], ahead: int | None = None
) -> list[Number]:
    """The squares of the speeds at the junctions, one after the other. Numbers may be fractions."""
    found = list(most)
    for at in reversed(range(len(gain))):
        found[at] = min(found[at], found[at + 1] + gain[at])
    if ahead is not None:
        for at in range(len(found)):
            if at + ahead <= len(gain):
                found[at] = min(found[at], sum(gain[at : at + ahead], start=0 * found[at]))
    for at in range(len(gain)):
        found[at + 1] = min(found[at + 1], found[at] + gain[at])
    return found


def seconds(way: float, limit: float, gain: float, begin: float, end: float) -> float:
    """How long a way takes that begins and ends at these speeds: up, along, and down again."""
    peak = min(limit, sqrt((2 * gain * way + begin**2 + end**2) / 2))
    up = (peak**2 - begin**2) / (2 * gain)
    down = (peak**2 - end**2) / (2 * gain)
    return (peak - begin) / gain + (way - up - down) / peak + (peak - end) / gain


def planned(
    length: Sequence[float],
    limit: Sequence[float],
    gain: Sequence[float],
    corner: Sequence[float],
    ahead: int | None = None,
) -> list[float]:
    """How long each move takes."""
    most = [0.0, *(min(pair) ** 2 for pair in pairwise(limit)), 0.0]
    most = [min(one, other) for one, other in zip(most, corner, strict=True)]
    gains = [2 * a * way for a, way in zip(gain, length, strict=True)]
    speeds = [sqrt(square) for square in squares(gains, most, ahead)]
    each = zip(length, limit, gain, pairwise(speeds), strict=True)
    return [seconds(way, v, a, begin, end) for way, v, a, (begin, end) in each]
