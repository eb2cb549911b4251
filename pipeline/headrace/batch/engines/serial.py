"""One job after the other, in this process."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from headrace.batch.engines.engine import Told
from headrace.batch.record import Record, Task, run_task

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan


class Serial:
    """An engine without workers."""

    def run(
        self, tasks: Sequence[Task], plan: Plan, registry: Registry, told: Told
    ) -> list[Record]:
        records = []
        for task in tasks:
            record = run_task(task, plan, registry)
            told(record)
            records.append(record)
        return records
