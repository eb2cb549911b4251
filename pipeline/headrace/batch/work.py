"""Tasks carried out, by whichever engine suits them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from headrace.batch.engines import Engine, chosen, size_of
from headrace.batch.record import Record, Task

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan


def nobody(_record: Record) -> None:
    """Tell nobody."""


def carried_out(
    tasks: Sequence[Task],
    plan: Plan,
    registry: Registry,
    engine: Engine | None,
    told: Callable[[Record], None],
) -> list[Record]:
    """A record for each task, in their order; without an engine by one that is chosen for them."""
    if not tasks:
        return []
    engine = engine or chosen([size_of(task.path) for task in tasks])
    return engine.run(tasks, plan, registry, told)
