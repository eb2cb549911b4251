"""Space: where the job goes on the machine and over the sheet, and what is in the way there."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.machine import unknown
from headrace.rehearsal.space.approach import approach_findings
from headrace.rehearsal.space.clamps import clamp_findings
from headrace.rehearsal.space.cornering import cornering_findings
from headrace.rehearsal.space.depth import depth_findings
from headrace.rehearsal.space.feeds import feed_findings, speed_findings
from headrace.rehearsal.space.outline import outline_findings
from headrace.rehearsal.space.reach import reach_findings
from headrace.rehearsal.space.rolled import rolled_out
from headrace.rehearsal.space.stretches import Stretch, described, stretches
from headrace.rehearsal.space.touching import touching_findings
from headrace.rehearsal.space.turning import turning_findings

__all__ = ["Stretch", "rolled_out", "space_findings", "stretches"]

_Check = Callable[[Job, Sequence[Stretch]], Iterator[Finding]]

_CHECKS: tuple[_Check, ...] = (
    reach_findings,
    approach_findings,
    clamp_findings,
    depth_findings,
    outline_findings,
    touching_findings,
    cornering_findings,
    feed_findings,
    speed_findings,
    turning_findings,
)


def space_findings(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """What there is to say on where the job goes; `space` are its stretches. Each field that is not
    given is named once; where the set-up says nothing at all, that is one note."""
    if not space:
        return
    silent = not described(job.setup)
    told: set[str] = set()
    for check in _CHECKS:
        for finding in check(job, space):
            if finding.name == "cannot-tell":
                if silent or finding.remedy in told:
                    continue
                told.add(finding.remedy)
            yield finding
    if silent:
        yield unknown(
            "setup.sheet", "where the job goes and what is in its way", severity=Severity.NOTE
        )
