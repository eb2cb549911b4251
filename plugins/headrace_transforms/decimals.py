"""No more places behind the point than the machine reads."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from headrace import Edit, Facet, Job, needed, transform
from headrace_transforms.numbers.figures import anew, bound, feed_bound
from headrace_transforms.numbers.style import Style

_AS_WRITTEN = 9
"""So many places that hardly any number has more."""


def _style(job: Job, places: int | None, point: str | None) -> Style:
    machine = job.machine
    always = point == "always" if point else machine.decimal_point == "required"
    if places is None and always and machine.decimals is None:
        places = _AS_WRITTEN
    if places is None:
        places = needed(machine.decimals, "machine.decimals", "decimals")
    return Style(None, places, max(places, machine.decimals or 0), always)


def _within(job: Job, *, places: int | None, point: str | None) -> float:
    return bound(job, _style(job, places, point))


def _feed_within(job: Job, *, places: int | None, point: str | None) -> float:
    return feed_bound(job, _style(job, places, point))


@transform(
    "decimals",
    changes=[Facet.SPELLING],
    options={
        "places": {
            "type": "integer",
            "description": "Places behind the point at most, without unit. Left out: what the"
            " machine reads.",
            "minimum": 0,
            "maximum": 9,
            "examples": [3],
        },
        "point": {
            "description": "Whether every length, angle and feed gets a point (always), or keeps it"
            " as it is (as-is). Left out: always, where the machine needs it.",
            "enum": ["as-is", "always"],
            "examples": ["always"],
        },
    },
    within=_within,
    feed_within=_feed_within,
    idempotent=True,
)
def decimals(job: Job, *, places: int | None, point: str | None) -> Iterator[Edit]:
    """Round numbers to the places behind the point that the machine reads.

    Halves go to the even figure. Centres and radii are rounded so that arcs still close, increments
    so that what is lost does not add up. Speeds and dwells lose nothing but zeros.

        G1 X10.12345 Y0.50000 F1200.0000   ->   G1 X10.123 Y0.5 F1200
    """
    style = _style(job, places, point)
    if style.point or len(job.program.lines_finer(style.places)):
        yield from anew(job, style)


def needs_decimals(job: Job) -> dict[str, Any] | None:
    """The options where a number has more places than the machine reads, or where it needs points;
    else None."""
    machine = job.machine
    if machine.decimal_point == "required":
        return {}
    finer = () if machine.decimals is None else job.program.lines_finer(machine.decimals)
    return {} if len(finer) else None
