"""Speeds that a job states or a recipe gives, inside the range of the spindle (rev/min)."""

from __future__ import annotations

from headrace import Job, Place, Spindle, number_text
from headrace_transforms.framing.spindle_words import SpindleWords
from headrace_transforms.telling.refusing import refusal
from headrace_transforms.telling.wording import mm

_EXPORT = "export the job with a speed"
"""The step's own `speed` is only for starts that state none."""


def stated_speed(job: Job, words: SpindleWords, at_rest: bool, place: Place) -> float | None:
    """The speed that a line states (rev/min); None where it states none, or 0 for one at rest.

    A relay that switches on the only speed there is does not look at it: that one is the speed.
    Raises JobRefused where it is out of the range, or worked out by the controller.
    """
    spindle = job.machine.spindle
    if words.speed is None:
        return None
    if spindle.control == "relay" and spindle.slowest == spindle.fastest:
        return None if at_rest else spindle.fastest
    if words.speed.value is None:
        raise refusal("speed-unknown", "this line works its speed out", place=place)
    value = job.dialect.speed(float(words.speed.value))
    if value != 0 or not at_rest:
        require_in_range(spindle, value, f"S{number_text(words.speed.value)}", _EXPORT, place)
    return value or None


def default_speed(
    spindle: Spindle, default: float | None, where: str, place: Place | None
) -> float:
    """The speed of a start that states none: the recipe's, else the only one there is."""
    if default is not None:
        require_in_range(
            spindle, default, f"`speed: {mm(default)}` of the step", "give a `speed`", place
        )
        return default
    if spindle.slowest == spindle.fastest:
        return spindle.fastest
    what = f"{where} starts the spindle at no stated speed"
    raise refusal("speed-unknown", what, place=place)


def require_in_range(
    spindle: Spindle, speed: float, what: str, remedy: str, place: Place | None
) -> None:
    """JobRefused where the spindle has no such speed; the range is put behind the remedy."""
    low, high = spindle.slowest, spindle.fastest
    if not low <= speed <= high:
        span = f"{mm(low)} to {mm(high)}" if low != high else mm(low)
        only = " only" if low == high else ""
        raise refusal(
            "speed-out-of-range",
            f"{what} is not a speed of this spindle: {span}{only}",
            remedy=f"{remedy} of {span}",
            place=place,
        )
