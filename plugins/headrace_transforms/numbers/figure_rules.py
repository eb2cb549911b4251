"""What must hold before the numbers of a job may be written anew; JobRefused where it does not."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from headrace import Job
from headrace_transforms.numbers.modes import Mode
from headrace_transforms.numbers.section import Section
from headrace_transforms.numbers.style import MM_IN_INCH, Style
from headrace_transforms.telling.refusing import refusal

_LARGEST = 1e9
"""Lengths and feeds from here on are surely a fault."""
_LINE = 1
_FARTHEST = 0.05
"""A number that is rounded by more (mm) says another place."""


def places_text(count: int) -> str:
    """So many places, in words."""
    return f"{count} place{'' if count == 1 else 's'} behind the point"


def require_plain(job: Job, sections: Sequence[Section]) -> None:
    """Numbers of a sensible size, angles that are not rounded, and no calls."""
    bodies = job.trace.calls.definitions
    if bodies:
        raise refusal(
            "numbers-not-plain",
            "what lines mean that are called hangs on where they are called from",
            place=job.program.place(bodies[0].first),
        )
    for section in sections:
        numerals = section.numerals
        large = section.which & (np.abs(numerals.mantissa) >= _LARGEST * 10.0**numerals.scale)
        if large.any():
            line = int(numerals.line[np.argmax(large)])
            raise refusal(
                "number-too-large",
                "a length or feed of more than nine figures",
                place=job.program.place(line),
            )
        turned = ~section.exact & np.isin(numerals.letter, list(b"ABC"))
        if turned.any():
            line = int(numerals.line[np.argmax(turned)])
            raise refusal(
                "angle-too-fine",
                "an angle would be rounded, and nothing says by how much it may be",
                place=job.program.place(line),
            )


def require_stated(job: Job, sections: Sequence[Section]) -> None:
    """No number that is worked out: where it leads is not known until the job runs."""
    for section in sections:
        if len(section.numerals.unread):
            raise refusal(
                "numbers-not-plain",
                "a number that is worked out while the job runs cannot be written anew",
                place=job.program.place(int(section.numerals.unread[0])),
            )


def require_convertible(job: Job, style: Style, inch: Mode, sections: Sequence[Section]) -> None:
    """Lengths that can be told from all else, and one meaning of F."""
    if job.dialect.units is None and job.start.units is None:
        first = int(inch.lines[0]) if len(inch.lines) else len(job.program)
        for section in sections:
            early = section.numerals.line[section.which]
            if len(early) and early[0] < first:
                raise refusal(
                    "units-unknown",
                    "a number stands before any line states its unit",
                    place=job.program.place(int(early[0])),
                )
    require_unconditional(job, inch)
    _require_lengths_for_feeds(job, style, inch)


def require_unconditional(job: Job, mode: Mode) -> None:
    """No line that states the mode may be left out by a switch."""
    for line in mode.lines.tolist():
        if job.program[line].scan.block_delete:
            raise refusal(
                "mode-optional",
                "this line changes how numbers count, and a switch may leave it out",
                place=job.program.place(line),
            )


def require_near(job: Job, style: Style, inch: Mode, sections: Sequence[Section]) -> None:
    """No length that is rounded by more than can be meant."""
    if style.step({"inch": bool(inch.on.any())}) / 2 <= _FARTHEST:
        return
    for section in sections:
        at = np.flatnonzero(~section.exact & np.isin(section.numerals.letter, list(b"XYZIJKR")))
        number = section.number[0][at] * 10.0 ** (style.places - section.number[1][at])
        last = np.where(section.to_inch[at], MM_IN_INCH, 1.0) * 10.0**-style.places
        off = np.abs(number - section.steps(at, style.places)) * last
        if (off > _FARTHEST + 1e-9).any():
            worst = int(np.argmax(off))
            line = int(section.numerals.line[at[worst]])
            what = (
                f"with {places_text(style.places)} a number of this line is {off[worst]:.3g} mm off"
            )
            raise refusal("rounding-coarse", what, place=job.program.place(line))


def require_feeds(job: Job, sections: Sequence[Section]) -> None:
    """No feed that is rounded to nothing."""
    for section in sections:
        numerals = section.numerals
        at = section.words("F")
        lost = at[(section.number[0][at] == 0) & (numerals.mantissa[at] != 0)]
        if len(lost):
            raise refusal(
                "feed-rounded-away",
                "with so few places nothing is left of this feed",
                place=job.program.place(int(numerals.line[lost[0]])),
            )


def _require_lengths_for_feeds(job: Job, style: Style, inch: Mode) -> None:
    """No feed of an axis that turns alone: it counts degrees, whatever the unit (2.1.2.5)."""
    if not any(len(job.program.lines_with(letter)) for letter in "ABC"):
        return
    for block in job.trace.blocks:
        if block.setting.inverse_time:
            continue
        stays = np.logical_and.reduce([block.starts(axis) == block.ends[axis] for axis in range(3)])
        turns = np.logical_or.reduce(
            [block.starts(axis) != block.ends[axis] for axis in range(3, 6)]
        )
        here = block.line[(block.kind == _LINE) & stays & turns]
        here = here[inch.at(here) != style.inch(here, inch)]
        if len(here):
            raise refusal(
                "feed-of-two-kinds",
                "an axis turns alone: F counts degrees there, and does not change with the unit",
                place=job.program.place(int(here[0])),
            )
