"""Tool lengths that the source asks for, and that the prepared job does without."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from headrace.findings import Finding
from headrace.job import Job


def tool_length_findings(source: Sequence[Finding], job: Job) -> Iterator[Finding]:
    """What the heights count from instead, where a step has taken the lengths out."""
    left = {finding.name for finding in job.trace.findings}
    for finding in source:
        if finding.name == "length-table" and finding.name not in left:
            what = "G43 is taken out: Z counts from where the tip of each bit was touched off"
            yield Finding.of("length-taken-out", what, finding.place)
