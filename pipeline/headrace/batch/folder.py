"""A batch of jobs into a card folder: prepare, stage, and hand over all that are fit."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.batch.parts import in_parts, older_parts, together
from headrace.batch.pool import run_tasks
from headrace.batch.record import Record, Task, fallen, recorded
from headrace.batch.sources import JobFile
from headrace.card.delivery import Delivery, Fate, deliver
from headrace.card.folder import CardFolder, card_folder
from headrace.card.manifest import Entry, Proved
from headrace.card.names import Naming, card_names
from headrace.card.writing import staged_path
from headrace.errors import CardError, JobRefused
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan
    from headrace.run import Outcome


@dataclass(frozen=True, slots=True)
class Written:
    """A file of the run: its record, its name on the card, and what became of it there.

    `naming` is None where nothing was to be written; `fate` is None where nothing was.
    """

    record: Record
    naming: Naming | None = None
    fate: Fate | None = None


@dataclass(frozen=True, slots=True)
class Prepared:
    """A whole run: its files in run order, and what else there is to tell."""

    files: tuple[Written, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def exit_code(self) -> int:
        """The gravest of all codes."""
        return max((file.record.exit_code for file in self.files), default=0)


def nobody(_record: Record) -> None:
    """Tell nobody."""


def prepare_folder(
    plan: Plan,
    registry: Registry,
    jobs: Sequence[JobFile],
    card: Path,
    *,
    workers: int | None = None,
    told: Callable[[Record], None] = nobody,
) -> Prepared:
    """Prepare the recipe's card files and all jobs, and write those that are fit to the card.

    Raises CardError where the card is not fit; then no file on it has changed, or the error says
    which have.
    """
    jobs = in_parts(jobs, plan, registry)
    with ExitStack() as held:
        folder = held.enter_context(card_folder(card, [job.path for job in jobs]))
        names = [card_file.name for card_file in plan.card_files]
        namings = card_names(names, [job.name for job in jobs], plan.machine.card)
        _none_in_the_way(folder, namings)
        records = _card_files(plan, registry, told, folder, namings)
        named = {job.name: job for job in jobs}
        tasks = [
            Task(
                named[naming.source],
                staged_path(folder.path, number),
                folder.content_of(naming.name),
            )
            for number, naming in enumerate(namings[len(records) :], len(records) + 1)
        ]
        records += _run_together(tasks, plan, registry, workers, told)
        if faults := [f for record in records if record.exit_code == 5 for f in record.findings]:
            raise CardError(findings=dict.fromkeys(faults))
        return _handed_over(
            plan, folder, namings, records, older_parts(folder.listed, jobs, registry)
        )


def examine_jobs(
    plan: Plan,
    registry: Registry,
    jobs: Sequence[JobFile],
    *,
    workers: int | None = None,
    told: Callable[[Record], None] = nobody,
) -> Prepared:
    """The same without a card: nothing is written anywhere."""
    records = _card_files(plan, registry, told)
    jobs = in_parts(jobs, plan, registry)
    tasks = [Task(job) for job in sorted(jobs, key=lambda job: job.name)]
    records += _run_together(tasks, plan, registry, workers, told)
    return Prepared(tuple(Written(record) for record in records))


def _run_together(
    tasks: Sequence[Task],
    plan: Plan,
    registry: Registry,
    workers: int | None,
    told: Callable[[Record], None],
) -> list[Record]:
    records = run_tasks(tasks, plan, registry, workers, told)
    return together(records, [task.whole for task in tasks])


def _card_files(
    plan: Plan,
    registry: Registry,
    told: Callable[[Record], None],
    folder: CardFolder | None = None,
    namings: Sequence[Naming] = (),
) -> list[Record]:
    """The recipe's card files, in its order, as one may go on from another."""
    from headrace.run import prepare_card_file

    finished: dict[str, Outcome] = {}
    records = []
    for number, card_file in enumerate(plan.card_files, 1):
        staged = standing = None
        if folder is not None:
            staged = staged_path(folder.path, number)
            standing = folder.content_of(namings[number - 1].name)
        try:
            if card_file.after is not None and card_file.after not in finished:
                what = f"{card_file.name} goes on from {card_file.after}, which is not there"
                finding = Finding.of("card-file-unready", what, card_file.place)
                raise JobRefused(findings=[finding])
            outcome = prepare_card_file(card_file, plan, registry, finished)
            finished[card_file.name] = outcome
            record = recorded(outcome, None, staged, standing)
        except Exception as error:
            record = fallen(card_file.name, error)
        told(record)
        records.append(record)
    return records


def _none_in_the_way(folder: CardFolder, namings: Sequence[Naming]) -> None:
    """Raise CardError, before any work, with every name that can never be written."""
    faults: list[Finding] = []
    for naming in namings:
        try:
            folder.path_of(naming.name)
        except CardError as error:
            faults.extend(error.findings)
    if faults:
        raise CardError(findings=faults)


def _handed_over(
    plan: Plan,
    folder: CardFolder,
    namings: Sequence[Naming],
    records: Sequence[Record],
    older: Mapping[str, str],
) -> Prepared:
    from headrace.recipe import lowered

    deliveries = [
        Delivery(_entry(plan, naming, record, number), record.staged)
        for number, (naming, record) in enumerate(zip(namings, records, strict=True))
        if record.ready
    ]
    fates = iter(deliver(folder, deliveries))
    files = []
    findings = list(folder.findings)
    for naming, record in zip(namings, records, strict=True):
        files.append(Written(record, naming, next(fates) if record.ready else None))
        if not record.ready and (refused := _older(folder, naming)):
            findings.append(refused)
    now = {naming.name.casefold() for naming in namings}
    for name, whole in older.items():
        if name.casefold() in folder.standing and name.casefold() not in now:
            what = f"{name} on the card is from an earlier {whole}, which now has other parts"
            remedy = "take the file off the card"
            findings.append(Finding.of("card-older-file", what, remedy=remedy))
    return Prepared(tuple(files), tuple(lowered(findings, plan.lowerings)))


def _entry(plan: Plan, naming: Naming, record: Record, number: int) -> Entry:
    assert record.content is not None
    stand_alone = number < len(plan.card_files)
    return Entry(
        name=naming.name,
        content=record.content,
        source=None if stand_alone else record.name,
        source_content=record.source,
        recipe=plan.recipe.name,
        steps=tuple(step.name for step in record.steps),
        title=(plan.card_files[number].title or "") if stand_alone else plan.name,
        lowered=record.lowered,
        proof=None if record.proof is None else Proved.of(record.proof),
    )


def _older(folder: CardFolder, naming: Naming) -> Finding | None:
    """A warning where the card still holds what an earlier run made of a job refused now."""
    known = folder.listed.get(naming.name)
    if known is None or naming.name.casefold() not in folder.standing:
        return None
    what = f"{naming.name} on the card is older than {naming.source}, which was refused"
    return Finding.of("card-older-file", what)
