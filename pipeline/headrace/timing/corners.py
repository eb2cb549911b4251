"""How fast a corner may be taken: the squares of speeds (mm2/s2) from the directions before and
behind it.

Directions are unit vectors (3, n). With psi the angle by which the way turns,
the difference of both is 2 sin(psi/2) long, from which all that is needed follows without an angle.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from headrace.machine import Corners

Floats = npt.NDArray[np.float64]


def corner_speeds(
    rule: Corners,
    before: Floats,
    behind: Floats,
    along: Floats,
    accelerations: Floats,
) -> Floats:
    """The squares of the speeds at which corners may be taken (n, mm2/s2); infinite where the way
    goes straight on.

    `along` is the acceleration (n, mm/s2) that both moves at a corner can give, `accelerations` is
    that of each axis (3). By `deviation` an arc touches both ways and comes as near to the corner
    as that: its radius is d cos(psi/2) / (1 - cos(psi/2)), from geometry, and the square of the
    speed on it a R. It pulls toward the inside of the corner, so what the axes can give that way
    counts as well. By `step` the speed is the step by 2 sin(psi/2), from geometry.
    """
    turn = behind - before
    square: Floats = np.einsum("ij,ij->j", turn, turn)
    with np.errstate(divide="ignore", invalid="ignore"):
        if rule.step is not None:
            speeds: Floats = (rule.step / 60.0) ** 2 / square
            return speeds
        if rule.deviation is None:
            return np.zeros_like(square)
        sine = 0.25 * square
        cosine = np.sqrt(np.maximum(1.0 - sine, 0.0))
        speeds = rule.deviation * cosine * (1.0 + cosine) / sine
        speeds *= np.minimum(along, _inward(turn, square, accelerations))
    speeds[square == 0.0] = np.inf
    return speeds


def _inward(turn: Floats, square: Floats, accelerations: Floats) -> Floats:
    """The acceleration that the axes can give toward the inside of corners (n, mm/s2)."""
    one, other, third = np.abs(turn) * (1.0 / accelerations)[:, None]
    slowest = np.maximum(np.maximum(one, other), third)
    inward: Floats = np.sqrt(square) / slowest
    return inward
