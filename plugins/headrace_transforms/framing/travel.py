"""Where the machine is and may go. Places are machine coordinates: the numbers after homing, mm."""

from __future__ import annotations

from math import isnan

from headrace import EventKind, Job, Machine, State
from headrace_transforms.telling.refusing import refusal
from headrace_transforms.telling.wording import mm

NEAR = 1e-6
"""Lengths (mm) that differ by less are the same: far below any controller's least increment."""


def index(axis: str) -> int:
    """X is 0, Y is 1, Z is 2."""
    return "XYZ".index(axis.upper())


def require_inside(machine: Machine, axis: str, place: float, what: str, field: str) -> None:
    """JobRefused where `place` is not inside the axis' travel less the margin."""
    span = machine.axes[axis.lower()]
    low, high = span.low + machine.margin, span.high - machine.margin
    out = max(low - place, place - high)
    if out > NEAR:
        raise refusal(
            "out-of-travel",
            f"{what} would be at {axis.upper()}{mm(place)}, {mm(out)} mm outside {mm(low)} to"
            f" {mm(high)} (travel {mm(span.low)} to {mm(span.high)} less {mm(machine.margin)})",
            remedy=f"change {field} so that {axis.upper()} lies from {mm(low)} to {mm(high)}",
        )


def require_homed(state: State, axes: str, purpose: str) -> None:
    """JobRefused where one of the axes has not been homed."""
    lacking = [axis for axis in axes if axis not in state.homed]
    if lacking:
        raise refusal("not-homed", f"{purpose} comes before {' '.join(lacking)} is homed")


def require_homed_here(job: Job, line: int, purpose: str) -> None:
    """JobRefused where Z has not been homed in this very file, before `line`.

    Between two files the head may have been moved and Z given other numbers; a rapid move down
    by what an earlier file knew could go into the plate.
    """
    homes = job.trace.events_of(EventKind.HOME)
    if not any(event.line < line and "Z" in _axes(event.value) for event in homes):
        raise refusal("not-homed", f"{purpose} comes before Z is homed in this file")


def _axes(value: object) -> tuple[str, ...]:
    return value if isinstance(value, tuple) else ()


def shown(state: State, axis: str, place: float) -> float | None:
    """What a machine coordinate reads in the numbers in force; None where that is not known."""
    number = place - state.offset[index(axis)]
    return None if isnan(number) else number


def way_to(job: Job, state: State, places: dict[str, float]) -> dict[str, float] | None:
    """The numbers that lead to machine coordinates: themselves where the machine knows moves in
    machine coordinates, else what they read in the numbers in force; None where not known."""
    if job.machine.machine_moves:
        return places
    numbers: dict[str, float] = {}
    for axis, place in places.items():
        number = shown(state, axis, place)
        if number is None:
            return None
        numbers[axis] = number
    return numbers
