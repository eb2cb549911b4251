"""Asking for a bit to be fitted."""

from __future__ import annotations

from collections.abc import Iterator

from headrace import Edit, Job, asking_tool, pausing
from headrace_transforms.framing.stopping import stopped


def fitted(job: Job, line: int, number: int) -> Iterator[Edit]:
    """At the beginning of a file: the spindle at rest, whatever it was before, and a pause before
    `line` that asks for a bit. Going on says that it is in the collet."""
    state = job.state_at(line).copy()
    state.spindle = None
    yield from stopped(job, line, state)
    yield from asked_for(job, line, number)


def asked_for(job: Job, line: int, number: int) -> Iterator[Edit]:
    """A pause before `line` that asks for a bit."""
    tool = job.setup.tool_of(number)
    texts = asking_tool(number, tool.kind if tool.number == number else None)
    yield from pausing(job.machine, line, *texts, asks=f"tool-{number}")
