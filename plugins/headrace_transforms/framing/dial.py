"""The marks on a router's speed dial."""

from __future__ import annotations

from headrace import Spindle
from headrace_transforms.telling.wording import mm


def between_marks(spindle: Spindle, speed: float) -> tuple[str, ...]:
    """Between which marks a speed lies; nothing where it is that of a mark, or there is no dial."""
    marks = sorted(spindle.dial, key=lambda mark: mark[1])
    below = [mark for mark in marks if mark[1] < speed]
    above = [mark for mark in marks if mark[1] > speed]
    if len(below) + len(above) < len(marks) or not marks:
        return ()
    near = [f"MARK {name} AT {mm(turns)}" for name, turns in (*below[-1:], *above[:1])]
    if len(near) == 1:
        return (f"{mm(speed)} LIES BESIDE", *near)
    return (f"{mm(speed)} LIES BETWEEN", near[0], f"AND {near[1]}")
