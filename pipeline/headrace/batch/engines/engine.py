"""What an engine is, and what all of them do alike."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from headrace.batch.record import Record, Task

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan

Told = Callable[[Record], None]
"""Who is told each record as soon as it is there."""


class Engine(Protocol):
    """Carries out the tasks of a batch."""

    def run(
        self, tasks: Sequence[Task], plan: Plan, registry: Registry, told: Told
    ) -> list[Record]:
        """A record for each task, in the order of the tasks; told in the order of their ends.

        An engine that is interrupted leaves nothing of its own at work.
        """


def size_of(path: Path) -> int:
    """A file's length in bytes; 0 where it cannot be told."""
    try:
        return path.stat().st_size
    except OSError:
        return 0


def largest_first(tasks: Sequence[Task]) -> list[int]:
    """The numbers of the tasks, so that no worker idles at the end over a large job."""
    sizes = [size_of(task.path) for task in tasks]
    return sorted(range(len(tasks)), key=lambda index: -sizes[index])
