"""An engine that takes no job which is being written, and no refused one twice."""

from __future__ import annotations

import time
from collections.abc import Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.batch.engines import Engine, Told, chosen, size_of
from headrace.batch.record import Record, Task
from headrace.batch.sources import JobFile
from headrace.batch.watching.bell import MOMENT
from headrace.batch.watching.unrest import PATIENCE
from headrace.card.seen import Sign, sign_of
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan


class Refusals:
    """Jobs that were refused by one plan, and how they stood."""

    def __init__(self) -> None:
        self._known: dict[JobFile, tuple[Sign, Record]] = {}

    def keep(self, job: JobFile, sign: Sign, record: Record) -> None:
        """Keep a record, where it is one that preparing the same file again would give again."""
        unread = any(finding.name == "job-unreadable" for finding in record.findings)
        unread = unread or _is_moving(record)
        if record.exit_code == 1 and sign is not None and not unread:
            self._known[job] = (sign, record)

    def get(self, job: JobFile, sign: Sign) -> Record | None:
        known = self._known.get(job)
        return known[1] if known is not None and known[0] == sign else None

    def forget(self, paths: Collection[Path]) -> None:
        """Forget the jobs in these files."""
        self._known = {job: kept for job, kept in self._known.items() if job.path not in paths}


class Caution:
    """An engine over another one. `read` tells how each job stood that was prepared, `unread` are
    those that were being written: they are refused."""

    def __init__(self, engine: Engine | None, moving: Collection[Path], refusals: Refusals) -> None:
        self.read: dict[Path, Sign] = {}
        self.unread: set[Path] = set(moving)
        self._engine = engine
        self._refusals = refusals

    def run(
        self, tasks: Sequence[Task], plan: Plan, registry: Registry, told: Told
    ) -> list[Record]:
        records: dict[int, Record] = {}
        left = []
        for number, task in enumerate(tasks):
            known = self._refusals.get(task.job, sign_of(task.path))
            if task.path in self.unread:
                records[number] = being_written(task)
            elif known is not None:
                records[number] = known
            else:
                left.append(number)
        until = time.monotonic() + PATIENCE
        while left:
            signs = {number: sign_of(tasks[number].path) for number in left}
            made = self._run([tasks[number] for number in left], plan, registry)
            records.update(zip(left, made, strict=True))
            left = self._overtaken(tasks, signs, records)
            if left and time.monotonic() > until:
                records.update((number, being_written(tasks[number])) for number in left)
                self.unread.update(tasks[number].path for number in left)
                break
            _afresh(tasks[number] for number in left)
        for number in [number for number, record in records.items() if _is_moving(record)]:
            records[number] = being_written(tasks[number])
            self.unread.add(tasks[number].path)
        for number in range(len(tasks)):
            told(records[number])
        return [records[number] for number in range(len(tasks))]

    def _run(self, tasks: Sequence[Task], plan: Plan, registry: Registry) -> list[Record]:
        engine = self._engine or chosen([size_of(task.path) for task in tasks])
        return engine.run(tasks, plan, registry, lambda _record: None)

    def _overtaken(
        self, tasks: Sequence[Task], signs: Mapping[int, Sign], records: Mapping[int, Record]
    ) -> list[int]:
        """The numbers of tasks whose jobs were changed while they were prepared."""
        changed = []
        for number, sign in signs.items():
            task = tasks[number]
            if sign_of(task.path) != sign:
                changed.append(number)
            else:
                self.read[task.path] = sign
                self._refusals.keep(task.job, sign, records[number])
        return changed


def _afresh(tasks: Iterable[Task]) -> None:
    """Take away what is to be made once more, and wait a moment where there is any."""
    waiting = list(tasks)
    for task in waiting:
        if task.staged is not None:
            with suppress(OSError):  # the card tells of it when it is written to
                task.staged.unlink()
    if waiting:
        time.sleep(MOMENT)


def _is_moving(record: Record) -> bool:
    """Whether a job was refused because it is being written."""
    return any(finding.name == "job-being-written" for finding in record.findings)


def being_written(task: Task) -> Record:
    """The record of a job that is not to be relied on yet."""
    what = f"{task.name} is still being written"
    return Record(task.name, 1, (Finding.of("job-being-written", what),))
