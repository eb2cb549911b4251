"""Bits driven down into the sheet: straight, along a ramp or a helix.

What counts is how fast Z sinks: the feed straight down, F sin(b) along a ramp of the angle b, and
on a helix the share of its rise in its length (elementary geometry; RS274/NGC 2.1.2.6: the feed
runs along the helix).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import floor

import numpy as np

from headrace.findings import Finding
from headrace.job import Job
from headrace.language.state import NAN
from headrace.rehearsal.lengths import NEAR
from headrace.rehearsal.space.extents import Floats
from headrace.rehearsal.space.stretches import Stretch

_SLACK = 1.005
"""Numbers of CAM are rounded: feeds that are over by less are let pass."""


def descent_findings(_: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """The move of each bit that drives it down fastest into the sheet, where that is too fast."""
    worst: dict[float, tuple[float, Stretch, int]] = {}
    for stretch in space:
        most = stretch.tool.plunge
        if most is None or stretch.lowest_cut is None:
            continue
        sinking = _sinking(stretch)
        row = int(np.argmax(sinking))
        found = worst.get(most)
        if sinking[row] > most * _SLACK and (found is None or sinking[row] > found[0]):
            worst[most] = float(sinking[row]), stretch, row
    for most, (fast, stretch, row) in worst.items():
        feed = float(stretch.block.feed[row])
        what = f"down into the sheet at {fast:.0f} mm/min, and this bit may go {most:g}"
        remedy = f"F{floor(feed * most / fast):g} is the most for this move"
        if stretch.block.setting.inverse_time:
            remedy = "give the move more time"
        yield Finding.of("plunge-over-bit", what, stretch.place(row), remedy=remedy)


def _sinking(stretch: Stretch) -> Floats:
    """How fast each cut of the job's own drives the bit down into the sheet (n, mm/min); 0 for all
    other moves."""
    block, tip = stretch.block, stretch.frame.tip
    ends = stretch.numbers(2)
    sinks = np.diff(ends, prepend=stretch.begun[2])
    with np.errstate(invalid="ignore", divide="ignore"):
        if block.setting.inverse_time:
            speed = -sinks * block.feed
        else:
            speed = -sinks / stretch.lengths * block.feed
    into = stretch.own_cuts & (ends < -(NAN if tip is None else tip.least) - NEAR)
    found: Floats = np.where(into & (speed > 0), speed, 0.0)
    return found
