"""Whether X and Y count from the sheet's corner, where the machine can tell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.rehearsal.lengths import mm
from headrace.rehearsal.space.stretches import Stretch

_OFF = 0.01
"""A zero that is further (mm) from the corner is told of."""


def cornering_findings(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """The first cut of the job, with each head, whose zero is not the corner of the set-up, or that
    has none at all on a machine which forgets its zero."""
    corner = job.setup.sheet.corner
    if corner is None:
        return
    looked_at = set()
    for stretch in space:
        head = job.machine.head_of(stretch.tool.number)
        if head in looked_at or not stretch.own_cuts.any():
            continue
        looked_at.add(head)
        aside = (0.0, 0.0) if head is None else head.at
        place = stretch.place(int(np.argmax(stretch.own_cuts)))
        offset = stretch.block.setting.offset
        off = [
            f"{name} by {mm(away)}"
            for axis, name in enumerate("XY")
            if abs(away := offset[axis] + aside[axis] - corner[axis]) > _OFF
        ]
        if off:
            what = f"the zero lies away from the sheet's corner: {', '.join(off)} mm"
            yield Finding.of("zero-off-corner", what, place)
            return
        if (
            np.isnan(offset[:2]).any()
            and job.machine.work_zero.kept_after_end is False
            and not job.stand_alone
        ):
            what = (
                "no line sets X and Y to the sheet's corner, and this machine keeps no zero from"
                " the file before"
            )
            yield Finding.of("zero-off-corner", what, place, severity=Severity.NOTE)
            return
        if not job.machine.heads:
            return
