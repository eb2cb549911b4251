"""Many jobs on all cores. Processes begin afresh, so that nothing leaks into them by chance."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from typing import TYPE_CHECKING

from headrace.batch.record import Record, Task, run_task
from headrace.findings import Finding, Place

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan

Told = Callable[[Record], None]

_WORTH_IT = 1 << 23
"""Bytes of jobs below which one process is done before others have begun."""


def run_tasks(
    tasks: Sequence[Task], plan: Plan, registry: Registry, workers: int | None, told: Told
) -> list[Record]:
    """Prepare all jobs; records in the order of the tasks, each told as soon as it is there.

    `workers` None means as many as there are cores, where the jobs are worth it.
    """
    count = min(workers or _useful(tasks), len(tasks))
    if count < 2:
        return [_told(run_task(task, plan, registry), told) for task in tasks]
    records: dict[int, Record] = {}
    left = _pooled(dict(enumerate(tasks)), plan, count, told, records)
    # a process was ended from outside: see which job it is, one at a time
    for index, task in left.items():
        if _pooled({index: task}, plan, 1, told, records):
            what = f"the process that prepared {task.name} was ended from outside"
            finding = Finding.of("worker-lost", what)
            records[index] = _told(Record(task.name, 70, (finding,)), told)
    return [records[index] for index in range(len(tasks))]


def worker_registry(plan: Plan) -> Registry:
    """All transforms that a plan may name. Raises PluginError."""
    from headrace.plugins.registry import load_registry

    places = [Place(str(plan.recipe), 1) for _ in plan.plugins]
    return load_registry().with_files(plan.plugins, places)


def _useful(tasks: Sequence[Task]) -> int:
    size = 0
    for task in tasks:
        try:
            size += task.path.stat().st_size
        except OSError:
            continue
    return _cores() if size > _WORTH_IT else 1


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _pooled(
    tasks: dict[int, Task], plan: Plan, count: int, told: Told, records: dict[int, Record]
) -> dict[int, Task]:
    """Fill in the records; the tasks that are left where a process was ended from outside."""
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(count, context, _begin, (plan,))
    try:
        # the largest first, so that no core idles at the end over a large one
        order = sorted(tasks, key=lambda index: -_size(tasks[index]))
        futures: dict[Future[Record], int] = {}
        with suppress(BrokenProcessPool):
            for index in order:
                futures[pool.submit(_one, tasks[index])] = index
        for future in as_completed(futures):
            index = futures[future]
            try:
                records[index] = _told(future.result(), told)
            except BrokenProcessPool:
                continue
    except BaseException:
        _end(pool)
        raise
    pool.shutdown()
    return {index: task for index, task in tasks.items() if index not in records}


def _size(task: Task) -> int:
    try:
        return task.path.stat().st_size
    except OSError:
        return 0


def _end(pool: ProcessPoolExecutor) -> None:
    """End the processes of a pool at once, whatever they are at."""
    processes = list((getattr(pool, "_processes", None) or {}).values())
    for process in processes:
        process.kill()
    pool.shutdown(wait=True, cancel_futures=True)


def _told(record: Record, told: Told) -> Record:
    told(record)
    return record


# --- in the other processes -------------------------------------------------------------------

_here: dict[str, tuple[Plan, Registry]] = {}


def _begin(plan: Plan) -> None:
    """Once in each process: the plan, its transforms, and an eye on the parent."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides
    threading.Thread(target=_with_parent, daemon=True).start()
    _here["plan"] = (plan, worker_registry(plan))


def _with_parent() -> None:
    """End when the parent does, also when it had no time to say so."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _one(task: Task) -> Record:
    plan, registry = _here["plan"]
    return run_task(task, plan, registry)
