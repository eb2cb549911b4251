"""The deepest cut against sheet and spoilboard."""

from __future__ import annotations

from collections.abc import Sequence

from headrace.job import Job
from headrace.machine import Span
from headrace.sheet.cuts import Cuts
from headrace.sheet.facts import Depth
from headrace.sheet.spans import clean


def depth_of(job: Job, cuts: Sequence[Cuts]) -> Depth:
    """The deepest cut of a file, over every sheet and bit that the set-up allows; of a blank from
    its surface, with what is left of it to the other side."""
    tops = [(number, part.stretch.frame.tip) for part, number in _lowest(cuts)]
    floors = [(number, part.stretch.frame.floor) for part, number in _lowest(cuts)]
    deepest, left = _least(tops), _least(floors)
    blank = job.setup.blank
    thickness = job.setup.sheet.thickness if blank is None else Span.of(blank.diameter)
    if blank is not None:
        left = None if deepest is None else deepest + blank.diameter
    return Depth(
        deepest=None if deepest is None else Span(clean(-deepest.most), clean(-deepest.least)),
        thickness=thickness,
        left=left,
        allowed=job.setup.sheet.overcut,
        spoilboard=job.machine.spoilboard,
    )


def _lowest(cuts: Sequence[Cuts]) -> list[tuple[Cuts, float]]:
    """The lowest Z number of the cuts of each stretch that has some."""
    return [(part, part.lowest(part.whole)) for part in cuts if part.cuts.any()]


def _least(heights: Sequence[tuple[float, Span | None]]) -> Span | None:
    """The lowest of some numbers, each with what is to be added; None where one is not known."""
    places = [None if add is None else (number + add.least, number + add.most)
              for number, add in heights]  # fmt: skip
    known = [place for place in places if place is not None]
    if not known or len(known) < len(places):
        return None
    return Span(clean(min(low for low, _ in known)), clean(min(high for _, high in known)))
