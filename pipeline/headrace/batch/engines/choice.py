"""Which engine suits a batch."""

from __future__ import annotations

import os
from collections.abc import Sequence

from headrace.batch.engines.engine import Engine
from headrace.batch.engines.processes import Processes
from headrace.batch.engines.serial import Serial

_WORTH_IT = 1 << 23
"""Bytes of jobs below which one process is done before others have begun."""
_EACH = 1 << 18
"""Bytes that take as long as a job of none: its steps, their proofs, its file."""


def chosen(sizes: Sequence[int]) -> Engine:
    """The engine for jobs of these sizes (bytes): processes on all cores, where it is worth it."""
    worth = sum(sizes) + _EACH * len(sizes)
    return Processes(_cores()) if worth > _WORTH_IT else Serial()


def get_ready(sizes: Sequence[int], workers: int | None = None) -> None:
    """Let processes load while this one reads the recipe, where there will be any: `workers` of
    them, or as many as are chosen."""
    engine = chosen(sizes) if workers is None else Processes(workers)
    if isinstance(engine, Processes) and min(engine.workers, len(sizes)) > 1:
        engine.get_ready()


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
