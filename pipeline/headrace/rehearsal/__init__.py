"""The rehearsal: a prepared job run on the described machine, and all there is to tell of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from headrace.findings import Finding
from headrace.job import Job
from headrace.language.suitability import LIMITS, WHOLE, limits
from headrace.rehearsal.clamps import clamp_findings
from headrace.rehearsal.lines import as_read, length_findings, mark_findings, unit_findings
from headrace.rehearsal.reach import reach_findings
from headrace.rehearsal.tools import tool_findings
from headrace.rehearsal.words import dwell_findings, word_findings
from headrace.rehearsal.zeros import zero_findings

__all__ = ["rehearse"]


def rehearse(source: Sequence[Finding], job: Job) -> Iterator[Finding]:
    """What there is to say in the end: of the source as a whole, of every line as it is now, and
    of what the program does on the described machine.

    Only what is known is judged here; `source` are the findings on the file as it was read.
    """
    of_lines = {finding.name for finding in job.trace.findings}
    lengths = {finding.name for finding in limits(job.program)}
    for finding in source:
        lasting = finding.name not in LIMITS or finding.name in lengths
        if finding.name in WHOLE and lasting and finding.name not in of_lines:
            yield finding
    found = [
        *job.trace.findings,
        *length_findings(job),
        *mark_findings(job),
        *([] if job.stand_alone else unit_findings(job)),
        *word_findings(job),
        *dwell_findings(job),
        *tool_findings(job),
        *zero_findings(job),
        *reach_findings(job),
        *clamp_findings(job),
    ]
    yield from (as_read(finding, job.program) for finding in found)
