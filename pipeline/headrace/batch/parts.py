"""Jobs that become several card files, where the recipe's first step splits them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, TypeAlias

from headrace.batch.record import Record
from headrace.batch.sources import JobFile
from headrace.card.writing import Content
from headrace.errors import HeadraceError
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan

Counted: TypeAlias = "tuple[int, Content | None]"
"""How many parts a job has, and what it held when they were counted; None where it was not read."""


def unknown(_job: JobFile) -> Counted | None:
    """Of no job it is known how many parts it has."""
    return None


def in_parts(
    jobs: Sequence[JobFile],
    plan: Plan,
    registry: Registry,
    known: Callable[[JobFile], Counted | None] = unknown,
) -> tuple[JobFile, ...]:
    """The jobs, each as often as there are parts of it, in the order of the parts. `known` tells
    how many that are where it need not be asked.

    A job that cannot be split is there once: preparing it tells what is wrong.
    """
    splits = plan.steps and registry.transforms[plan.steps[0].name].gives == "parts"
    return tuple(_parts(jobs, plan, registry, known)) if splits else tuple(jobs)


def _parts(
    jobs: Sequence[JobFile],
    plan: Plan,
    registry: Registry,
    known: Callable[[JobFile], Counted | None],
) -> Iterator[JobFile]:
    taken = {job.name for job in jobs}
    for job in jobs:
        count, content = known(job) or _counted(job, plan, registry)
        if count < 2:
            yield replace(job, counted=content)
            continue
        names = next(names for names in _named(job.name, count) if taken.isdisjoint(names))
        taken.update(names)
        for number, name in enumerate(names):
            yield JobFile(name, job.path, number, job.name, count, content, job.held)


def _named(job: str, count: int) -> Iterator[list[str]]:
    """Names for the parts of a job: `lid-1`, or where other jobs have these `lid-bit-1`, ..."""
    path, wide, mark = PurePosixPath(job), len(str(count)), "-"
    while True:
        yield [
            str(path.with_name(f"{path.stem}{mark}{number:0{wide}}{path.suffix}"))
            for number in range(1, count + 1)
        ]
        mark += "bit-"


def _counted(job: JobFile, plan: Plan, registry: Registry) -> Counted:
    """How many parts a job has; 1 where it cannot be told."""
    from headrace.run import count_parts

    try:
        data = job.path.read_bytes() if job.held is None else job.held
    except OSError:
        return 1, None
    try:
        return count_parts(job.name, data, plan, registry), Content.of(data)
    except HeadraceError:
        return 1, Content.of(data)


def together(records: Sequence[Record], wholes: Sequence[Path | None]) -> list[Record]:
    """The records, where no part of a job is fit unless all are. `wholes` are for each record the
    job that it is a part of, or None."""
    refused: dict[Path, str] = {}
    for record, whole in zip(records, wholes, strict=True):
        if whole is not None and not record.ready:
            refused.setdefault(whole, record.name)
    return [
        _unready(record, refused[whole])
        if whole is not None and whole in refused and record.ready
        else record
        for record, whole in zip(records, wholes, strict=True)
    ]


def _unready(record: Record, other: str) -> Record:
    finding = part_unready(record.name, other)
    return replace(record, exit_code=1, findings=(*record.findings, finding), proof=None)


def part_unready(name: str, other: str) -> Finding:
    """Why a part is not fit where `other`, a part of the same job, was refused."""
    what = f"{name} is a part of the same job as {other}, which was refused"
    return Finding.of("part-unready", what)
