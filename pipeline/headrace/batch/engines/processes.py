"""Many jobs on all cores of this machine.

The processes are forked from a server that has loaded headrace and nothing else, or begin afresh
where there is no such thing: never from this process, whose threads and state they would copy.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.batch.engines.engine import Told, largest_first
from headrace.batch.engines.kit import Kit, run_with
from headrace.batch.engines.serial import Serial
from headrace.batch.engines.thrift import Thrift
from headrace.batch.engines.window import windowed
from headrace.batch.record import Record, Task
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan

_METHOD = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
_LOADED = ["headrace.run", "headrace.recipe", "headrace.plugins.registry"]
_AHEAD = 4
"""Tasks under way for each process, so that none waits for this one."""


class Processes:
    """An engine with processes of its own, where two or more are of use. They write to the card
    themselves: this engine can end them, and does so when it is interrupted."""

    def __init__(self, workers: int) -> None:
        """`workers` is their count, 1 or more."""
        self.workers = workers

    def get_ready(self) -> None:
        """Let the server load while this process reads the recipe."""
        if _METHOD == "forkserver":
            from multiprocessing import forkserver, resource_tracker

            multiprocessing.get_context("forkserver").set_forkserver_preload(_LOADED)
            with _installed_modules_only():
                resource_tracker.ensure_running()  # it lets signals through again by itself
                with _undisturbed(signal.SIGINT):  # which the server heeds until it has loaded
                    forkserver.ensure_running()

    def run(
        self, tasks: Sequence[Task], plan: Plan, registry: Registry, told: Told
    ) -> list[Record]:
        if min(self.workers, len(tasks)) < 2:
            return Serial().run(tasks, plan, registry, told)
        batch = _Batch(tasks, Kit.of(plan, registry), told)
        self.get_ready()
        left = largest_first(tasks)
        while left:
            suspects = batch.done_by(left, self.workers)
            # a process was ended from outside: see which job it is, one at a time
            for number in suspects:
                if batch.done_by([number], 1):
                    batch.lost(number)
            left = [number for number in left if number not in batch.records]
        return [batch.records[number] for number in range(len(tasks))]


class _Batch:
    """Tasks by their numbers, and the records that are there."""

    def __init__(self, tasks: Sequence[Task], kit: Kit, told: Told) -> None:
        self.tasks = tasks
        self.records: dict[int, Record] = {}
        self._kit = kit
        self._told = told
        self._thrift = Thrift()

    def done_by(self, numbers: Sequence[int], count: int) -> list[int]:
        """Carry out some tasks by so many processes. Gives those that were under way when one was
        ended from outside; then the ones behind them have not begun."""
        begun: list[int] = []
        context = multiprocessing.get_context(_METHOD)
        count = min(count, len(numbers))
        pool = ProcessPoolExecutor(count, context, _begin, (self._kit, str(Path.cwd())))

        def submit(number: int) -> Future[Record]:
            with _undisturbed(signal.SIGINT, signal.SIGTERM):
                future = pool.submit(_one, self.tasks[number])
            begun.append(number)
            return future

        try:
            with suppress(BrokenProcessPool):
                ahead = count * _AHEAD
                for number, future in windowed(submit, numbers, ahead, cancels=False):
                    self._put(number, future.result())
        except BaseException:
            _end(pool)
            raise
        pool.shutdown()
        return [number for number in begun if number not in self.records]

    def lost(self, number: int) -> None:
        """The record of a task whose process was ended from outside."""
        name = self.tasks[number].name
        what = f"the process that prepared {name} was ended from outside"
        self._put(number, Record(name, 70, (Finding.of("worker-lost", what),)))

    def _put(self, number: int, record: Record) -> None:
        self.records[number] = self._thrift.of(record)
        self._told(record)


@contextmanager
def _undisturbed(*numbers: signal.Signals) -> Iterator[None]:
    """Let signals wait: an interruption between the start of a process and its entry in the pool
    would leave one that nobody ends. What is started meanwhile does not get them either."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, numbers)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def _installed_modules_only() -> Iterator[None]:
    """A Python that is started meanwhile does not look for modules in the working folder, where
    jobs and recipes from elsewhere may lie."""
    before = os.environ.get("PYTHONSAFEPATH")
    os.environ["PYTHONSAFEPATH"] = "1"
    try:
        yield
    finally:
        if before is None:
            del os.environ["PYTHONSAFEPATH"]
        else:
            os.environ["PYTHONSAFEPATH"] = before


def _end(pool: ProcessPoolExecutor) -> None:
    """End the processes of a pool at once, whatever they are at: also in the middle of a record,
    for the rest of which the pool would wait as long as this process held the other end too."""
    processes = list((getattr(pool, "_processes", None) or {}).values())
    for process in processes:
        process.kill()
    for queue, end in (("_result_queue", "_writer"), ("_call_queue", "_reader")):
        held = getattr(getattr(pool, queue, None), end, None)
        if held is not None:
            held.close()
    pool.shutdown(wait=True, cancel_futures=True)


# --- in the other processes -------------------------------------------------------------------

_here: dict[str, Kit] = {}


def _begin(kit: Kit, folder: str) -> None:
    """Once in each process: the kit, and an eye on the parent."""
    os.chdir(folder)  # the server began where this process began
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides
    os.dup2(2, 1)  # what plugins print is talk; nobody prints data here
    threading.Thread(target=_with_parent, daemon=True).start()
    _here["kit"] = kit


def _with_parent() -> None:
    """End when the parent does, also when it had no time to say so."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _one(task: Task) -> Record:
    return run_with(_here["kit"], task)
