"""A file looked at alone, without a recipe whose steps could mend it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import islice
from math import isnan

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language import Event, EventKind
from headrace.program import Cause
from headrace.program import replace as edited
from headrace.rehearsal.order.questions import asked_at

_UNIT = "write G21 (mm) or G20 (inch) as its first line"
_REMEDIES = {
    "units-not-stated": f"{_UNIT}, or give `--units mm` (or inch)",
    "no-end": "see whether the last lines are what was written; end the file with M2",
    "place-unknown": "write it in absolute coordinates (G90)",
    "line-number-long": "take the line numbers out",
}
"""What to do where the usual answer is a step or a field of a recipe."""

_BEGINNING = 200
_DOES_NOTHING = frozenset(
    (
        EventKind.UNITS,
        EventKind.MESSAGE,
        EventKind.ASKS,
        EventKind.OVERRIDES,
        EventKind.CORNERS,
        EventKind.END,
    )
)


def alone_findings(source: Sequence[Finding], job: Job, assumed: str | None) -> Iterator[Finding]:
    """The findings on a file as it was read, in words for a file without a recipe; `assumed` is
    the unit where the file states none.

    A file that moves nothing, but sets, switches or waits for something, may be a card file
    written by hand: that is a note, as are moves that count from where the same file has homed.
    A zero that it sets is a length, so it needs a unit.
    """
    for finding in source:
        if finding.name == "no-motion" and _does_something(job):
            remedy = "nothing, if this card file shall only set, switch or wait for something"
            yield replace(finding, severity=Severity.NOTE, remedy=remedy)
        elif finding.name == "place-unknown" and _homed_first(job):
            remedy = "nothing, if it shall go from where homing leaves the machine"
            yield replace(finding, severity=Severity.NOTE, remedy=remedy)
        else:
            yield replace(finding, remedy=_REMEDIES.get(finding.name, finding.remedy))
    if assumed is None and not any(finding.name == "units-not-stated" for finding in source):
        yield from _zero_without_unit(job, _REMEDIES["units-not-stated"])
    elif assumed is not None and assumed != job.machine.power_up_units:
        yield from _zero_without_unit(job, _UNIT)


def with_bits_asked_for(job: Job) -> Job:
    """The same file, read with the bits that its pauses ask for in so many words."""
    stops = job.trace.events_of(EventKind.STOP, EventKind.OPTIONAL_STOP)
    asked = ((stop.line, asked_at(job, stop.line)) for stop in stops)
    edits = [
        edited(line, job.program[line].text, asks=question)
        for line, question in asked
        if question is not None and question.startswith("tool-")
    ]
    return job.with_program(job.program.edited(edits, Cause("check", 0))) if edits else job


def start_findings(job: Job) -> Iterator[Finding]:
    """Axes that a file looked at alone moves where nothing tells what the travel is in its numbers:
    it has not homed them before, nor are offsets known."""
    if not job.stand_alone:
        return
    homed: dict[str, int] = {}
    settling = set()
    for event in job.trace.events_of(EventKind.HOME, EventKind.ZERO):
        settling.add(event.line)
        if event.kind is EventKind.HOME and isinstance(event.value, tuple):
            homed = {**dict.fromkeys(event.value, event.line), **homed}
    unknown: dict[str, int] = {}
    for axis, name in enumerate("XYZ"):
        moved = next((line for line in _lines_with(job, name) if line not in settling), None)
        if moved is None or homed.get(name, moved) < moved:
            continue
        if job.program[moved].origin is None:
            continue  # a step's own
        block = next((b for b in job.trace.blocks if b.base + int(b.rel[-1]) >= moved), None)
        if block is not None and isnan(block.setting.offset[axis]):
            unknown[name] = moved
    if unknown:
        what = f"the file moves {', '.join(unknown)}, which it has not homed"
        yield Finding.of("start-unknown", what, job.program.place(min(unknown.values())))


def _lines_with(job: Job, letter: str) -> Iterator[int]:
    """Lines with a letter, ascending. Hardly any file is so long before it first moves an axis that
    the rest must be searched."""
    yield from (line.index for line in islice(job.program, _BEGINNING) if line.has(letter))
    yield from (line for line in map(int, job.program.lines_with(letter)) if line >= _BEGINNING)


def _homed_first(job: Job) -> bool:
    """Whether the file homes every axis that it names before it names it for anything else."""
    homed: dict[str, int] = {}
    for event in job.trace.events_of(EventKind.HOME):
        homed = {**dict.fromkeys(str(event.value), event.line), **homed}
    first = {name: next(iter(job.program.lines_with(name)), None) for name in "XYZ"}
    return all(
        homed.get(name, line + 1) <= line for name, line in first.items() if line is not None
    )


def _does_something(job: Job) -> bool:
    return any(event.kind not in _DOES_NOTHING for event in job.trace.events)


def _zero_without_unit(job: Job, remedy: str) -> Iterator[Finding]:
    for event in job.trace.events_of(EventKind.UNITS, EventKind.ZERO):
        if event.kind is EventKind.UNITS:
            return
        if _sets_length(job, event):
            what = "a zero is set before any G20 or G21"
            yield Finding.of("units-not-stated", what, job.program.place(event.line), remedy=remedy)
            return


def _sets_length(job: Job, event: Event) -> bool:
    """Whether it states a place along an axis other than 0, which is 0 in any unit."""
    line = job.program[event.line]
    axes = str(event.value[2]) if isinstance(event.value, tuple) else ""
    return any(axis in "XYZ" and line.get(axis) != 0 for axis in axes)
