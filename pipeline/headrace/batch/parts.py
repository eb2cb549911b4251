"""Jobs that become several card files, where the recipe's first step splits them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from headrace.batch.record import Record
from headrace.batch.sources import JobFile
from headrace.errors import HeadraceError
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.card.manifest import Manifest
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan


def in_parts(jobs: Sequence[JobFile], plan: Plan, registry: Registry) -> tuple[JobFile, ...]:
    """The jobs, each as often as there are parts of it, in the order of the parts.

    A job that cannot be split is there once: preparing it tells what is wrong.
    """
    splits = plan.steps and registry.transforms[plan.steps[0].name].gives == "parts"
    return tuple(_parts(jobs, plan, registry)) if splits else tuple(jobs)


def _parts(jobs: Sequence[JobFile], plan: Plan, registry: Registry) -> Iterator[JobFile]:
    taken = {job.name for job in jobs}
    for job in jobs:
        count = _count(job, plan, registry)
        if count < 2:
            yield job
            continue
        names = next(names for names in _named(job.name, count) if taken.isdisjoint(names))
        taken.update(names)
        for number, name in enumerate(names):
            yield JobFile(name, job.path, number, job.name)


def _named(job: str, count: int) -> Iterator[list[str]]:
    """Names for the parts of a job: `lid-1`, or where other jobs have these `lid-bit-1`, ..."""
    path, wide, mark = PurePosixPath(job), len(str(count)), "-"
    while True:
        yield [
            str(path.with_name(f"{path.stem}{mark}{number:0{wide}}{path.suffix}"))
            for number in range(1, count + 1)
        ]
        mark += "bit-"


def _count(job: JobFile, plan: Plan, registry: Registry) -> int:
    """How many parts a job has; 1 where it cannot be told."""
    from headrace.run import count_parts

    try:
        return count_parts(job.name, job.path.read_bytes(), plan, registry)
    except (OSError, HeadraceError):
        return 1


def older_parts(listed: Manifest, jobs: Sequence[JobFile], registry: Registry) -> dict[str, str]:
    """The files on a card's list that some step has made from these jobs, or from parts of them:
    their names, each with its job."""
    splitting = {name for name, made in registry.transforms.items() if made.gives == "parts"}
    split = [entry for entry in listed.entries if splitting.intersection(entry.steps[:1])]
    found: dict[str, str] = {}
    for whole in dict.fromkeys(job.name if job.whole is None else job.whole for job in jobs):
        path = PurePosixPath(whole)
        stem, suffix = re.escape(str(path.with_suffix(""))), re.escape(path.suffix)
        made = re.compile(rf"{stem}(-(bit-)*[0-9]+)?{suffix}")
        found |= {entry.name: whole for entry in split if made.fullmatch(entry.source or "")}
    return found


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
    what = f"{record.name} is a part of the same job as {other}, which was refused"
    finding = Finding.of("part-unready", what)
    return replace(record, exit_code=1, findings=(*record.findings, finding), proof=None)
