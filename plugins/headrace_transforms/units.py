"""One unit of length for the whole job."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from headrace import Edit, Facet, Job, transform
from headrace_transforms.numbers.figures import anew, bound, feed_bound
from headrace_transforms.numbers.style import Style

_EXACT = 6
"""Places of millimetres that are exactly inches of five."""
_INCHES = 5
_MOST = 7


def _style(job: Job, to: str | None, places: int | None) -> Style | None:
    unit = to or (job.machine.units[0] if len(job.machine.units) == 1 else None)
    if unit is None:
        return None
    most = _MOST if job.machine.decimals is None else job.machine.decimals
    usual = min(_EXACT if unit == "mm" else _INCHES, most)
    wanted = usual if places is None else places
    return Style(unit, wanted, max(wanted, min(most, _MOST)))


def _within(job: Job, *, to: str | None, places: int | None) -> float:
    style = _style(job, to, places)
    return 0.0 if style is None else bound(job, style)


def _feed_within(job: Job, *, to: str | None, places: int | None) -> float:
    style = _style(job, to, places)
    return 0.0 if style is None else feed_bound(job, style)


@transform(
    "units",
    changes=[Facet.SPELLING],
    options={
        "to": {
            "description": "The unit that the whole job gets, mm or inch. Left out: the machine's,"
            " if it reads one alone; else nothing changes.",
            "enum": ["mm", "inch"],
            "examples": ["mm"],
        },
        "places": {
            "type": "integer",
            "description": "Places behind the point at most, without unit. Left out: what the"
            " machine reads, but no more than 6 in mm and 5 in inches.",
            "minimum": 1,
            "maximum": 7,
            "examples": [4],
        },
    },
    within=_within,
    feed_within=_feed_within,
    idempotent=True,
)
def units(job: Job, *, to: str | None, places: int | None) -> Iterator[Edit]:
    """Write all lengths and feeds of the job in one unit.

    Inches become millimetres exactly, but for what is beyond the last place; feeds a minute too,
    and centres and radii so that arcs still close. Angles, times, speeds and numbers of tools stay.
    A job that changes its unit on the way has one then. Where no line states a unit and the job is
    converted, a line with the word for it is added.

        G20                   ->        G21
        G1 X0.5 Y1.125 F40              G1 X12.7 Y28.575 F1016
    """
    style = _style(job, to, places)
    if style is not None:
        yield from anew(job, style)


def needs_units(job: Job) -> dict[str, Any] | None:
    """The options that bring a job to the unit that the machine reads; None where it reads it."""
    if len(job.machine.units) != 1:
        return None
    (unit,) = job.machine.units
    stated = job.program.lines_with("G", 20 if unit == "mm" else 21)
    assumed = job.start.units not in (None, unit)
    if (stated < job.landmarks.end).any() or (
        assumed and not len(job.program.lines_with("G", 20, 21))
    ):
        return {"to": unit}
    return None
