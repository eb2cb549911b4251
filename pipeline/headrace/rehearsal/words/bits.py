"""The bit that a file's comments speak of, and the one in the collet."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import EventKind

_LOOKED_AT = 500
"""So many lines, from the beginning up to the first cut, are looked at."""

_NEAR = 0.15
"""Bits are named by round numbers: 3.2 may stand for 1/8 inch (mm)."""

_TOOL = re.compile(r"(?<![A-Z0-9])T ?(\d{1,4})(?![\d.])")
_NUMBER = r"(\d{1,3}(?:\.\d{1,4})?)"
_DIAMETERS = (
    re.compile(rf"(?<![A-Z])(?:D|DIA|DIAM|DIAMETER) ?[=:]? ?{_NUMBER}(?![\d/])"),
    re.compile(rf"(?<![\d./]){_NUMBER} ?MM [A-Z -]{{0,20}}?(?:END MILL|BIT|CUTTER|DRILL)(?![A-Z])"),
)
"""How comments give a diameter: in the units of the file, or in mm where they say so."""


def bit_findings(job: Job) -> Iterator[Finding]:
    """The first comment on the job's first tool that gives another diameter than the set-up."""
    used = next((event.value for event in job.trace.events_of(EventKind.TOOL)), None)
    diameter = job.setup.tool_of(used if isinstance(used, int) else None).diameter
    if diameter is None:
        return
    inch = job.trace.end.units == "inch"
    first_cut = next((int(b.line[np.argmax(b.cuts)]) for b in job.trace.blocks if b.cuts.any()), 0)
    for line in range(min(first_cut, _LOOKED_AT)):
        raw = job.program[line].raw
        if job.program[line].origin is None or not (b"(" in raw or b";" in raw):
            continue
        for comment in job.program[line].comments:
            stated = _stated(comment.text.upper(), used, inch)
            if stated is None:
                continue
            if abs(stated - diameter) > _NEAR:
                what = f"the file speaks of a bit of {stated:g} mm, and the set-up has {diameter:g}"
                yield Finding.of("tool-differs", what, job.program.place(line))
            return


def _stated(text: str, used: object, inch: bool) -> float | None:
    """The diameter (mm) that a comment gives of the tool in use; None where it gives none."""
    number = _TOOL.search(text)
    if number is not None and used is not None and int(number[1]) != used:
        return None
    for pattern in _DIAMETERS:
        found = pattern.search(text)
        if found is None or (pattern is _DIAMETERS[0] and number is None and "TOOL" not in text):
            continue
        scaled = inch and pattern is _DIAMETERS[0] and "MM" not in text
        return float(found[1]) * (25.4 if scaled else 1.0)
    return None
