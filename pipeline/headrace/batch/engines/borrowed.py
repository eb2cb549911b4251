"""Jobs through an executor that somebody else runs: threads, processes, or a cluster.

What such an executor has begun cannot be ended from here. So its workers never write to the card:
they give back what they made, and this process, which holds the card, writes it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor, CancelledError, Executor, Future
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from headrace.batch.engines.engine import Told, largest_first
from headrace.batch.engines.kit import Kit, run_with
from headrace.batch.engines.thrift import Thrift
from headrace.batch.engines.window import windowed
from headrace.batch.record import Record, Task, fallen
from headrace.card.writing import Content, content_of, stage
from headrace.errors import CardError, EngineError
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan


class Borrowed:
    """An engine that has no workers of its own. It does not shut the executor down."""

    def __init__(
        self, executor: Executor, ahead: int, look: Callable[[], None] = lambda: None
    ) -> None:
        """`ahead` tasks are under way at a time: some more than there are workers. `look` is called
        when nothing has come for a while, and raises where nothing can come any more."""
        self._executor = executor
        self._ahead = ahead
        self._look = look

    def run(
        self, tasks: Sequence[Task], plan: Plan, registry: Registry, told: Told
    ) -> list[Record]:
        plan = replace(plan, python_files=tuple(path.absolute() for path in plan.python_files))
        kit = Kit.of(plan, registry, elsewhere=True)
        sources: dict[int, Content | None] = {}
        records: dict[int, Record] = {}
        thrift = Thrift()

        def submit(number: int) -> Future[tuple[Record, bytes]]:
            task = tasks[number]
            sources[number] = _source(task)
            job = replace(task.job, path=task.path.absolute())
            try:
                return self._executor.submit(made, kit, replace(task, job=job))
            except RuntimeError as error:  # broken, or shut down
                raise _gone(task) from error

        def put(number: int, record: Record) -> None:
            records[number] = thrift.of(record)
            told(record)

        def done_by(numbers: Sequence[int], ahead: int) -> dict[int, str]:
            """Carry out some tasks. Gives those that did not come back, and how that was."""
            lost = {}
            with closing(windowed(submit, numbers, ahead, self._look)) as under_way:
                for number, future in under_way:
                    try:
                        record = _received(tasks[number], sources.pop(number), future)
                    except _Lost as error:
                        lost[number] = str(error)
                    else:
                        put(number, record)
            return lost

        suspects = done_by(largest_first(tasks), self._ahead)
        # a worker was lost with all that it had: see which job it is, one at a time
        for number, how in done_by(list(suspects), 1).items():
            put(number, _lost(tasks[number], how))
        return [records[number] for number in range(len(tasks))]


class _Lost(Exception):
    """A task did not come back whole."""


def made(kit: Kit, task: Task) -> tuple[Record, bytes]:
    """In a worker: prepare one job, and give back its record and what is to be staged."""
    if task.staged is None:
        return run_with(kit, task), b""
    with TemporaryDirectory(prefix="headrace-") as folder:
        record = run_with(kit, replace(task, staged=Path(folder) / task.staged.name))
        data = b"" if record.staged is None else record.staged.read_bytes()
    return record, data


def _source(task: Task) -> Content | None:
    """What the job's file holds as it is seen from here; None where it cannot be read."""
    try:
        return content_of(task.path) if task.path.is_file() else None
    except OSError:
        return None


def _received(task: Task, source: Content | None, future: Future[tuple[Record, bytes]]) -> Record:
    """The record of a task, its result staged. Raises _Lost where it did not come back, and
    EngineError where none can be done."""
    try:
        record, data = future.result()
    except EngineError:
        raise
    except (BrokenExecutor, CancelledError) as error:
        raise _gone(task) from error
    except (ImportError, AttributeError) as error:
        what = f"a worker could not even begin with {task.name}: {type(error).__name__}: {error}"
        raise EngineError(findings=[Finding.of("worker-unlike", what)]) from error
    except Exception as error:
        how = f"did not come back from its worker: {type(error).__name__}: {error}"
        raise _Lost(how) from error
    if _seen_otherwise(record, source):
        what = f"{task.path} is not the same file for its worker as it is here"
        return Record(task.name, 1, (Finding.of("job-seen-otherwise", what),))
    if record.staged is None or record.content is None or task.staged is None:
        return record
    if Content.of(data) != record.content:
        raise _Lost("came back from its worker otherwise than that had sent it")
    try:
        stage(task.staged, [data], record.content)
    except CardError as error:
        return fallen(task.name, error)
    return replace(record, staged=task.staged)


def _lost(task: Task, how: str) -> Record:
    remedy = "run again, with this job alone or on this machine alone"
    return Record(task.name, 70, (Finding.of("worker-lost", f"{task.name} {how}", remedy=remedy),))


def _gone(task: Task) -> EngineError:
    what = f"the workers that were to prepare {task.name} are gone"
    return EngineError(findings=[Finding.of("workers-gone", what)])


def _seen_otherwise(record: Record, source: Content | None) -> bool:
    """Whether a worker read another file than stands here, or none where there is one."""
    if record.source is not None:
        return record.source != source
    unread = any(finding.name == "job-unreadable" for finding in record.findings)
    return unread and source is not None
