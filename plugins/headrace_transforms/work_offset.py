"""One work offset system for the whole job."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from headrace import Edit, EventKind, Facet, Job, Renumbering, transform
from headrace_transforms.lines.slashes import undecided
from headrace_transforms.numbers.exchanging import Exchange, Touch, edits
from headrace_transforms.numbers.modes import require_codes
from headrace_transforms.numbers.renumbering import renumbered
from headrace_transforms.numbers.shifting import shifted
from headrace_transforms.numbers.systems import SYSTEMS, Selected, systems_of, way_between
from headrace_transforms.paths.reach import end_of
from headrace_transforms.telling.refusing import refusal


def _target(job: Job, to: str | None) -> tuple[str | None, int]:
    """The word of the system that the job is to have, None for none, and its number."""
    if to is None:
        to = next(iter(job.machine.work_zero.systems), "none")
    return (None, 1) if to == "none" else (to, SYSTEMS.index(to) + 1)


def _renumbers(job: Job, *, to: str | None, by: str) -> Iterator[Renumbering]:
    _, target = _target(job, to)
    for system in _used(job):
        if system != target:
            x, y, z = way_between(job, system, target) if by == "numbers" else (0, 0, 0)
            yield Renumbering(system, target, (float(x), float(y), float(z)))


@transform(
    "work-offset",
    changes=[Facet.WORK_ZERO, Facet.SPELLING],
    renumbers=_renumbers,
    options={
        "to": {
            "description": "The system that the whole job gets, or none: no system is selected at"
            " all. Left out: the first that the machine has, else none.",
            "enum": [*SYSTEMS, "none"],
            "examples": ["G54"],
        },
        "by": {
            "description": "Whether places are said by other numbers, or G92 shifts the numbers in"
            " force.",
            "enum": ["numbers", "shift"],
            "default": "numbers",
        },
    },
    idempotent=True,
)
def work_offset(job: Job, *, to: str | None, by: str) -> Iterator[Edit]:
    """Say all places in one work offset system, where the zeros of the others are known.

    How far the zeros lie apart is `offsets` of the set-up (RS274/NGC 3.5.13). Increments, machine
    coordinates and stored points stay. With `by: shift` each selection becomes a G92 that makes
    the place where the head stands read what it reads in that system.

        G54 G0 X10 Y10        ->        G54 G0 X10 Y10
        G55                             G54
        G0 X10 Y10                      G0 X210 Y10
    """
    stop = end_of(job)
    require_codes(job, stop)
    word, target = _target(job, to)
    selected = systems_of(job, stop)
    others = _used(job) - {target}
    if others:
        _require_settled(job, selected)
        _require_fixed(job)
    spelling = {other: word or "" for other in SYSTEMS if other != word}
    lines = selected.lines[(selected.numbers[1:] != target) | (word is None)]
    if by == "shift":
        _require_own_parameters(job, stop)
        yield from shifted(job, selected, target, spelling)
        return
    if not others and not len(lines):
        return
    touched = {line: Touch(spelling) for line in lines.tolist()}
    every = renumbered(job, stop, selected, target) if others else Exchange.of(job, stop)
    first = _first_unselected(job, selected)
    if first is not None and word is not None and job.start.system != target:
        touched[first] = Touch(word=word)
    yield from edits(job, every, touched)


def needs_work_offset(job: Job) -> dict[str, Any] | None:
    """The options of the step where a job selects a system that the machine has not; else None."""
    named = systems_of(job, end_of(job)).numbers[1:]
    known = [SYSTEMS.index(word) + 1 for word in job.machine.work_zero.systems]
    return None if np.isin(named, known).all() else {}


def _used(job: Job) -> set[int]:
    """The systems in which the job moves, or moves the zero."""
    moves = {block.setting.system for block in job.trace.blocks if len(block)}
    zeros = np.array(list(_own_zeros(job)), np.int64)
    return moves | set(systems_of(job, end_of(job)).at(zeros).tolist())


def _own_zeros(job: Job) -> Iterator[int]:
    """The lines where the job moves a zero itself."""
    for event in job.trace.events_of(EventKind.ZERO):
        moves = isinstance(event.value, tuple) and event.value[0] != "system"
        if moves and job.program[event.line].origin is not None:
            yield event.line


def _first_unselected(job: Job, selected: Selected) -> int | None:
    """The line of the first move, where no system is selected up to it."""
    line = next((int(block.line[0]) for block in job.trace.blocks if len(block)), None)
    return None if line is None or (selected.lines <= line).any() else line


def _require_settled(job: Job, selected: Selected) -> None:
    """Selections that are certain, and lines that run once."""
    optional = job.program.lines_optional() if job.dialect.block_delete else undecided(job)
    optional = optional[np.isin(optional, selected.lines)]
    if len(optional):
        raise refusal(
            "switch-decides",
            "whether a system is selected here is not certain",
            place=job.program.place(int(optional[0])),
            remedy="put the step `optional-lines` before it",
        )
    if job.trace.calls.calls:
        raise refusal(
            "numbers-not-plain",
            "what is called here may be called in several systems",
            place=job.program.place(min(job.trace.calls.calls)),
            remedy="put the step `expand-calls` before it",
        )


def _require_own_parameters(job: Job, stop: int) -> None:
    """No line that may read a parameter of the controller, such as the system in force (#5220)."""
    for each in Exchange.of(job, stop):
        for line in each.numerals.unread.tolist():
            bare = job.program[line].text.replace(" ", "").replace("\t", "")
            if any(sign in bare for sign in ("#5", "#[", "##")):
                raise refusal(
                    "numbers-not-plain",
                    "this line may read which system is in force",
                    place=job.program.place(line),
                )


def _require_fixed(job: Job) -> None:
    """No zero that the job moves itself."""
    for line in _own_zeros(job):
        raise refusal(
            "zero-moved-by-job",
            "the job moves a zero here, and says places in several work offset systems",
            place=job.program.place(line),
        )
