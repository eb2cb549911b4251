"""Homing in the described order: what stands in the way of X and Y is cleared by Z first."""

from __future__ import annotations

from collections.abc import Iterator

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language import EventKind


def homing_findings(job: Job) -> Iterator[Finding]:
    """The first axis that is homed before Z, where Z comes first by the description. Where the file
    does not home Z at all, something before it may have lifted it."""
    ahead = _homed_behind_z(job)
    homed: set[str] = set()
    for event in job.trace.events_of(EventKind.HOME):
        axes = event.value if isinstance(event.value, tuple) else ()
        homed.update(axes)
        early = [axis for axis in axes if axis in ahead]
        if not early or "Z" in homed:
            continue
        names = " and ".join(early)
        later = any("Z" in str(other.value) for other in job.trace.events_of(EventKind.HOME))
        when = "before Z" if later else "and Z is not"
        what = f"{names} {'are' if len(early) > 1 else 'is'} homed {when}"
        word = job.machine.homing.word
        remedy = f"home Z first: {word} Z0" if word and job.machine.homing.axes == "named" else None
        yield Finding.of("homed-out-of-order", what, job.program.place(event.line), remedy=remedy,
                         severity=None if later else Severity.WARN)  # fmt: skip
        return


def _homed_behind_z(job: Job) -> set[str]:
    """The axes that come behind Z in the described order."""
    order = job.machine.homing.order
    at = next((number for number, group in enumerate(order) if "z" in group), len(order))
    return {axis.upper() for group in order[at + 1 :] for axis in group}
