"""Scales that a person can work with on paper."""

from __future__ import annotations

import math

_STEPS = (1.0, 2.0, 2.5, 5.0)
"""Scales are these times powers of ten: 1:1, 1:2, 1:2.5, 1:5, 1:10 and so on, and 2:1, 4:1, 5:1 and
so on the other way (ISO 5455, with 1:2.5 and its like added)."""


def scale_for(size: tuple[float, float], room: tuple[float, float]) -> float:
    """How many mm are 1 mm on paper in the largest picture of `size` (mm) that fits into `room`
    (mm of paper)."""
    need = max(size[0] / room[0], size[1] / room[1]) * (1 - 1e-9)
    power = math.floor(math.log10(need))
    scales = (step * 10.0**tens for tens in (power, power + 1) for step in _STEPS)
    return next(scale for scale in scales if scale >= need)


def scale_text(scale: float) -> str:
    """`1:5`, `2:1`."""
    return f"1:{scale:g}" if scale >= 1 else f"{1 / scale:g}:1"


def bar_length(scale: float, longest: float) -> float:
    """A round length (mm) for the scale bar: at most `longest` mm on paper."""
    most = longest * scale * (1 + 1e-9)
    power = 10.0 ** math.floor(math.log10(most))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= most)
