"""Cutting: how the cut itself is meant: how quick, how thick a chip, in what order."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from headrace.findings import Finding
from headrace.job import Job
from headrace.rehearsal.cutting.chips import chip_findings
from headrace.rehearsal.cutting.descents import descent_findings
from headrace.rehearsal.cutting.loose import loose_findings
from headrace.rehearsal.cutting.pace import pace_findings
from headrace.rehearsal.cutting.plunges import plunge_findings
from headrace.rehearsal.space import Stretch

_Check = Callable[[Job, Sequence[Stretch]], Iterator[Finding]]

_CHECKS: tuple[_Check, ...] = (
    pace_findings,
    plunge_findings,
    descent_findings,
    chip_findings,
    loose_findings,
)


def cutting_findings(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """What there is to say on how the job cuts; `space` are its stretches."""
    for check in _CHECKS:
        yield from check(job, space)
