"""A batch of jobs without a card: gone through in memory, and nothing written anywhere."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from headrace.batch.card_files import examined_card_files
from headrace.batch.engines import Engine
from headrace.batch.parts import in_parts, together
from headrace.batch.prepared import Prepared, Written
from headrace.batch.record import Record, Task
from headrace.batch.sheets import leaves_of
from headrace.batch.sources import JobFile
from headrace.batch.work import carried_out, nobody
from headrace.card.names import card_names

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan


def examine_jobs(
    plan: Plan,
    registry: Registry,
    jobs: Sequence[JobFile],
    *,
    engine: Engine | None = None,
    told: Callable[[Record], None] = nobody,
    for_sheet: bool = False,
) -> Prepared:
    """The recipe's card files and all jobs. They have names on the card, and the facts that a run
    sheet tells, where it is asked `for_sheet`."""
    jobs = sorted(in_parts(jobs, plan, registry), key=lambda job: job.name)
    own = [card_file.name for card_file in plan.card_files]
    if not for_sheet:
        records = examined_card_files(plan, registry, told)
        tasks = [Task(job) for job in jobs]
        records += _examined(tasks, plan, registry, engine, told)
        return Prepared(tuple(Written(record) for record in records))
    namings = card_names(own, [job.name for job in jobs], plan.machine.card)
    leaves = leaves_of(plan, namings)
    records = examined_card_files(plan, registry, told, leaves)
    tasks = [Task(job, leaf=leaf) for job, leaf in zip(jobs, leaves[len(own) :], strict=True)]
    records += _examined(tasks, plan, registry, engine, told)
    return Prepared(tuple(map(Written, records, namings)))


def _examined(
    tasks: Sequence[Task],
    plan: Plan,
    registry: Registry,
    engine: Engine | None,
    told: Callable[[Record], None],
) -> list[Record]:
    return together(
        carried_out(tasks, plan, registry, engine, told), [task.whole for task in tasks]
    )
