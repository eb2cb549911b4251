"""Jobs one by one with all that their steps did, for people to look at; nothing is written."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from headrace.batch.card_files import Makings
from headrace.batch.parts import in_parts
from headrace.batch.record import fallen
from headrace.batch.sources import JobFile, read_job
from headrace.card.names import card_names
from headrace.findings import Finding
from headrace.report.causes import Takers

if TYPE_CHECKING:
    from headrace.outcome import Outcome
    from headrace.plugins.registry import Registry
    from headrace.recipe import CardFile, Plan, Step


@dataclass(frozen=True, slots=True)
class Inspected:
    """A job or card file and what came of it; `job` is None for a card file, `outcome` where an
    error ended it."""

    name: str
    job: JobFile | None
    card_name: str
    steps: tuple[Step, ...]
    takers: Takers
    outcome: Outcome | None
    findings: tuple[Finding, ...]
    exit_code: int


def inspected(plan: Plan, registry: Registry, jobs: Sequence[JobFile]) -> Iterator[Inspected]:
    """The recipe's card files, then the jobs, each as soon as it is through."""
    from headrace.run import prepare_job

    jobs = in_parts(jobs, plan, registry)
    card_files = [card_file.name for card_file in plan.card_files]
    namings = card_names(card_files, [job.name for job in jobs], plan.machine.card)
    makings = Makings(plan, registry)
    for card_file, naming in zip(plan.card_files, namings, strict=False):

        def stand_alone(card_file: CardFile = card_file) -> Outcome:
            return makings.outcome(card_file)

        yield _seen(registry, card_file.name, None, naming.name, card_file.steps, stand_alone)
    named = {job.name: job for job in jobs}
    for naming in namings[len(card_files) :]:
        job = named[naming.source]

        def by_recipe(job: JobFile = job) -> Outcome:
            return prepare_job(job.whole or job.name, read_job(job), plan, registry, job.part)

        yield _seen(registry, naming.source, job, naming.name, plan.steps, by_recipe)


def _seen(
    registry: Registry,
    name: str,
    job: JobFile | None,
    card_name: str,
    steps: tuple[Step, ...],
    run: Callable[[], Outcome],
) -> Inspected:
    """Run with somebody watching the steps."""
    takers = Takers()
    registry.manager.register(takers)
    try:
        outcome = run()
    except Exception as error:
        record = fallen(name, error)
        return Inspected(
            name, job, card_name, steps, takers, None, record.findings, record.exit_code
        )
    finally:
        registry.manager.unregister(takers)
    code = int(outcome.refused)
    return Inspected(name, job, card_name, steps, takers, outcome, outcome.findings, code)
