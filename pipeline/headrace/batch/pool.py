"""Many jobs on all cores.

The processes are forked from a server that has loaded headrace and nothing else, or begin afresh
where there is no such thing: never from this process, whose threads and state they would copy.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.batch.record import Record, Task, run_task
from headrace.findings import Finding, Place

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan

Told = Callable[[Record], None]

_METHOD = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
_LOADED = ["headrace.run", "headrace.recipe", "headrace.plugins.registry"]
_WORTH_IT = 1 << 23
"""Bytes of jobs below which one process is done before others have begun."""


def run_tasks(
    tasks: Sequence[Task], plan: Plan, registry: Registry, workers: int | None, told: Told
) -> list[Record]:
    """Prepare all jobs; records in the order of the tasks, each told as soon as it is there.

    `workers` None means as many as there are cores, where the jobs are worth it.
    """
    count = _count([size_of(task.path) for task in tasks], workers)
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


def get_ready(sizes: Sequence[int], workers: int | None) -> None:
    """Let the server load while this process reads the recipe, if it will be needed."""
    if _count(sizes, workers) > 1 and _METHOD == "forkserver":
        from multiprocessing import forkserver

        multiprocessing.get_context("forkserver").set_forkserver_preload(_LOADED)
        forkserver.ensure_running()


def worker_registry(plan: Plan) -> Registry:
    """All transforms that a plan may name. Raises PluginError."""
    from headrace.plugins.registry import load_registry

    return with_plugin_files(load_registry(), plan)


def with_plugin_files(installed: Registry, plan: Plan) -> Registry:
    """The installed transforms and those of the plan's own plugin files. Raises PluginError."""
    return installed.with_files(plan.plugins, [Place(str(plan.recipe), 1) for _ in plan.plugins])


def _count(sizes: Sequence[int], workers: int | None) -> int:
    """How many processes are of use."""
    if workers is None:
        workers = _cores() if sum(sizes) > _WORTH_IT else 1
    return min(workers, len(sizes))


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _pooled(
    tasks: dict[int, Task], plan: Plan, count: int, told: Told, records: dict[int, Record]
) -> dict[int, Task]:
    """Fill in the records; the tasks that are left where a process was ended from outside."""
    context = multiprocessing.get_context(_METHOD)
    context.set_forkserver_preload(_LOADED)
    pool = ProcessPoolExecutor(count, context, _begin, (plan, str(Path.cwd())))
    try:
        # the largest first, so that no core idles at the end over a large one
        order = sorted(tasks, key=lambda index: -size_of(tasks[index].path))
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


def size_of(path: Path) -> int:
    """A file's length in bytes; 0 where it cannot be told."""
    try:
        return path.stat().st_size
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


def _begin(plan: Plan, folder: str) -> None:
    """Once in each process: the plan, its transforms, and an eye on the parent."""
    os.chdir(folder)  # the server began where this process began
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
