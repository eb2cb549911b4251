"""Asking for a bit to be fitted."""

from __future__ import annotations

from collections.abc import Iterator

from headrace import Edit, Job
from headrace_transforms.pausing import pausing
from headrace_transforms.stopping import stopped


def fitted(job: Job, line: int, number: int) -> Iterator[Edit]:
    """At the beginning of a file: the spindle at rest, whatever it was before, and a pause before
    `line` that asks for a bit. Going on says that it is in the collet."""
    state = job.state_at(line).copy()
    state.spindle = None
    yield from stopped(job, line, state)
    tool = job.setup.tool_of(number)
    kind = "" if tool.kind is None else f" {tool.kind.upper()}"
    texts = (f"FIT TOOL {number}{kind}", f"FIT TOOL {number}", f"TOOL {number}")
    yield from pausing(job.machine, line, *texts, asks=f"tool-{number}")
