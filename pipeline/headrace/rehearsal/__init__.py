"""The rehearsal: a prepared job run on the described machine, and all there is to tell of it.

Four rooms: `words` (what lines say), `order` (what happens when, and how things stand), `space`
(where it goes, and what is in the way), `cutting` (how the cut is meant).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from headrace.findings import Finding
from headrace.job import Job
from headrace.language.suitability import LIMITS, WHOLE, limits
from headrace.rehearsal.alone import start_findings
from headrace.rehearsal.cutting import cutting_findings
from headrace.rehearsal.order import order_findings
from headrace.rehearsal.space import rolled_out, space_findings, stretches
from headrace.rehearsal.space.wrapped import wrap_findings
from headrace.rehearsal.words import wording_findings
from headrace.rehearsal.words.lengths import tool_length_findings
from headrace.rehearsal.words.lines import as_read

__all__ = ["rehearse", "wrap_findings"]


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
    yield from tool_length_findings(source, job)
    space = list(stretches(job))
    found = [
        *job.trace.findings,
        *start_findings(job),
        *wording_findings(job),
        *order_findings(job),
        *space_findings(job, space),
        *cutting_findings(job, list(rolled_out(job, space))),
    ]
    yield from (as_read(finding, job.program) for finding in found)
