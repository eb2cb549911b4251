"""How a file means its numbers: units, zero, planes and the like, in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from itertools import islice
from math import isnan

from headrace.counting import count_text
from headrace.job import Job
from headrace.language import EventKind
from headrace.machine import Assumed
from headrace.program import Program, number_text
from headrace.rehearsal.lengths import mm
from headrace.rehearsal.space.stretches import Stretch
from headrace.sheet.cuts import Cuts
from headrace.sheet.naming import system_name
from headrace.sheet.spans import clean
from headrace.sheet.travel import SAME, place_text
from headrace.timing.times import Times

_HEADING = 3
_BEGINNING = 40
"""A heading is looked for among so many lines."""
_PLANES = {17: "XY (G17)", 18: "XZ (G18)", 19: "YZ (G19)"}


def modes(
    job: Job, cuts: Sequence[Cuts], times: Times, source: Program | None, assumed: Assumed
) -> tuple[str, ...]:
    """The sentences; `source` is the job as CAM wrote it, None for a file of the recipe's own.
    `assumed` is what the recipe takes for granted of jobs."""
    return (*_of_job(source, assumed), *_modes(job, cuts), *_pace(job, times))


def _of_job(source: Program | None, assumed: Assumed) -> Iterator[str]:
    if source is None:
        return
    told = list(islice(_heading(source), _HEADING))
    if told:
        yield f"The job's own heading: {'; '.join(told)}."
    taken = {name: value for name, value in asdict(assumed).items() if value is not None}
    if taken:
        said = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in taken.items())
        yield f"Taken for granted of the job: {said}."


def _pace(job: Job, times: Times) -> Iterator[str]:
    """How many lines a second, on the average, where the machine's reader has a limit."""
    rate, lines = job.machine.line_rate, len(job.program)
    if rate is not None and times.planned > 0:
        average = number_text(lines / times.planned, 1)
        yield (
            f"Lines: {lines}, on the average {average} a second; this controller carries out"
            f" {mm(rate)} at the most."
        )


def _modes(job: Job, cuts: Sequence[Cuts]) -> Iterator[str]:
    yield _units(job)
    yield from _zero(job, cuts)
    yield from _counting(job)
    yield from _afterwards(job)


def _heading(source: Program) -> Iterator[str]:
    """The comments above the first line that does anything."""
    for line in islice(source, _BEGINNING):
        if line.is_code:
            return
        told = (comment.message or comment.text for comment in line.comments)
        yield from (text.strip() for text in told if text.strip())


def _units(job: Job) -> str:
    stated = {str(event.value) for event in job.trace.events_of(EventKind.UNITS)}
    if not stated:
        unit = job.start.units
        if unit is None:
            return "Units: the file states none, and what the machine begins with is not described."
        return f"Units: the file states none; they are taken as {unit}."
    if stated == {"mm"}:
        return "Units: mm (G21)."
    if stated == {"inch"}:
        return "Units: inches (G20) in the file; mm here."
    return "Units: inches and mm by turns (G20, G21) in the file; mm here."


def _zero(job: Job, cuts: Sequence[Cuts]) -> Iterator[str]:
    """What X0 Y0 and Z0 are where the file cuts."""
    cutting = [part.stretch for part in cuts if part.cuts.any()]
    if not cutting:
        return
    first = next(part.begun + int(part.cuts.argmax()) for part in cuts if part.cuts.any())
    is_set = {axis: any(event.moves <= first for event in job.trace.zeros(axis)) for axis in "XYZ"}
    unset = "; this file does not set it"
    zeros = {(_zero_along(stretch, 0), _zero_along(stretch, 1)) for stretch in cutting}
    x, y = next(iter(zeros))
    if len(zeros) > 1 or x is None or y is None:
        yield "Zero in X and Y: not one place that is known."
    else:
        there = "the sheet's lower left corner"
        if abs(x) > SAME or abs(y) > SAME:
            there = f"{place_text((x, y))} from {there}"
        yield f"Zero in X and Y: {there}{'' if is_set['X'] and is_set['Y'] else unset}."
    if any(not isnan(stretch.block.setting.offset[2]) for stretch in cutting):
        yield "Zero in Z: counted from homing, and not touched off."
    else:
        face = "the top of the sheet" if job.setup.sheet.zero == "top" else "the bed"
        yield f"Zero in Z: {face}{'' if is_set['Z'] else unset}."


def _zero_along(stretch: Stretch, axis: int) -> float | None:
    """Where X0 or Y0 is from the sheet's corner; None where that is not known."""
    setting, corner = stretch.block.setting, stretch.job.setup.sheet.corner
    offset = setting.offset[axis]
    if not isnan(offset):
        return None if corner is None else clean(offset - corner[axis])
    placed = any(at == axis for at, _ in setting.placed)
    return None if placed else stretch.frame.sheet[axis]


def _counting(job: Job) -> Iterator[str]:
    """What the words of the file mean, as far as it uses them."""
    settings = [block.setting for block in job.trace.blocks if block.cuts.any()]
    if any(setting.incremental for setting in settings):
        every = all(setting.incremental for setting in settings)
        yield f"Places: {'increments (G91)' if every else 'absolute and increments by turns'}."
    else:
        yield "Places: absolute (G90)."
    if any(setting.inverse_time for setting in settings):
        yield "Feeds: moves a minute (G93), in some places or all."
    arcs: dict[int, int] = {}
    for block in job.trace.blocks:
        if block.arcs is not None:
            plane = block.setting.plane
            arcs[plane] = arcs.get(plane, 0) + len(block.arcs.rows)
    for plane, count in sorted(arcs.items()):
        yield f"Arcs: {count_text(count, 'arc')} in {_PLANES[plane]}."
    cycles = sorted({str(event.value) for event in job.trace.events_of(EventKind.CYCLE)})
    if cycles:
        yield f"Drilling cycles: {', '.join(cycles)}."
    if job.machine.work_zero.systems:
        systems = sorted({setting.system for setting in settings})
        if systems:
            yield f"Work offset: {', '.join(system_name(system) for system in systems)}."


def _afterwards(job: Job) -> Iterator[str]:
    """What of the zero outlives the file."""
    if not any(True for _ in job.trace.events_of(EventKind.ZERO)):
        return
    kept = job.machine.work_zero.kept_after_end
    if kept is None:
        yield "Not described: whether the zero outlives the end of the file."
    else:
        yield f"The zero {'outlives' if kept else 'is forgotten at'} the end of the file."
