"""The marks on a router's speed dial."""

from __future__ import annotations

from headrace import Spindle
from headrace_transforms.wording import mm


def nearest_mark(spindle: Spindle, speed: float) -> str | None:
    """The mark whose speed is nearest to `speed` (rev/min); None where no dial is described."""
    if not spindle.dial:
        return None
    return min(spindle.dial, key=lambda mark: abs(mark[1] - speed))[0]


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


def switching_texts(spindle: Spindle, speed: float) -> tuple[str, ...]:
    """What to ask for when the spindle is to be switched on at a speed, longest first."""
    mark = nearest_mark(spindle, speed)
    if mark is None:
        return (f"SPINDLE ON {mm(speed)}", f"ON {mm(speed)}")
    return (
        f"SPINDLE ON {mm(speed)} DIAL {mark}",
        f"ON {mm(speed)} DIAL {mark}",
        f"ON DIAL {mark}",
    )


def setting_texts(spindle: Spindle, speed: float) -> tuple[str, ...]:
    """What to ask for when a turning spindle is to change its speed, longest first."""
    mark = nearest_mark(spindle, speed)
    if mark is None:
        return (f"SPINDLE TO {mm(speed)}", f"SET {mm(speed)}")
    return (
        f"SPINDLE TO {mm(speed)} DIAL {mark}",
        f"SET {mm(speed)} DIAL {mark}",
        f"SET DIAL {mark}",
    )
