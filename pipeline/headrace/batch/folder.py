"""A batch of jobs into a card folder: prepare, stage, and hand over all that are fit."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.batch.card_files import made_card_files
from headrace.batch.displaced import displaced
from headrace.batch.engines import Engine
from headrace.batch.memory import Memory
from headrace.batch.origin import Origins
from headrace.batch.outdated import JobSight, older_than_refused, outdated
from headrace.batch.parts import in_parts, together
from headrace.batch.prepared import Prepared, Written
from headrace.batch.record import Record, Task
from headrace.batch.sheets import leaves_of, need_place, page_findings, with_sheet
from headrace.batch.sources import JobFile
from headrace.batch.work import carried_out, nobody
from headrace.card.delivery import Delivery, deliver
from headrace.card.folder import CardFolder, card_folder
from headrace.card.listing import order_findings
from headrace.card.manifest import Entry, Manifest
from headrace.card.names import Naming, card_names
from headrace.card.seen import Seen
from headrace.card.writing import staged_path
from headrace.errors import CardError
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan


def prepare_folder(
    plan: Plan,
    registry: Registry,
    jobs: Sequence[JobFile],
    card: Path,
    *,
    engine: Engine | None = None,
    told: Callable[[Record], None] = nobody,
    afresh: bool = False,
    folders: Collection[Path] = (),
    seen: Seen | None = None,
    sheet: Path | None = None,
) -> Prepared:
    """Prepare the recipe's card files and all jobs, and write those that are fit to the card; last
    of all their run sheet, where one goes to `sheet`.

    What must come out as it stands on the card is not prepared again, unless all is to be made
    `afresh` or a run sheet is to tell of it. `folders` are those whose jobs were all given, also
    where there are none left. Of the card's files those that were `seen` by an earlier run are not
    read again.

    Raises CardError where the card is not fit; then no file on it has changed, or the error says
    which have.
    """
    from headrace.recipe import lowered

    with card_folder(card, [job.path for job in jobs], seen) as folder:
        origins = Origins.of(plan, registry)
        memory = Memory(Manifest() if afresh else folder.listed, origins)
        jobs = in_parts(jobs, plan, registry, memory.parts_of)
        named = {job.name: job for job in jobs}
        card_files = [card_file.name for card_file in plan.card_files]
        namings = card_names(card_files, list(named), plan.machine.card)
        _none_in_the_way(folder, namings)
        if sheet is not None:
            need_place(sheet, folder.path, plan, namings)
        folder.need_room([naming.name for naming in namings])
        leaves = leaves_of(plan, namings, sheet is not None)
        records = made_card_files(plan, registry, told, folder, namings, memory, leaves)
        tasks = [
            Task(
                named[naming.source],
                staged_path(folder.path, number),
                folder.content_of(naming.name),
                leaves[number - 1],
            )
            for number, naming in enumerate(namings[len(records) :], len(records) + 1)
        ]
        known = {} if sheet is not None else _known(memory, tasks, namings[len(records) :])
        for record in known.values():
            told(record)
        new = [task for task in tasks if task.name not in known]
        made = {record.name: record for record in carried_out(new, plan, registry, engine, told)}
        records += _together(tasks, {**known, **made})
        if faults := [f for record in records if record.exit_code == 5 for f in record.findings]:
            raise CardError(findings=dict.fromkeys(faults))
        prepared = _handed_over(plan, folder, origins, named, namings, records)
        sight = JobSight(named.values(), folders)
        older = outdated(folder, origins.jobs, registry, sight, namings)
        findings = lowered([*prepared.findings, *older], plan.lowerings)
        prepared = replace(prepared, findings=tuple(findings))
        if sheet is not None:
            standing = [path.name for path in folder.standing.values()]
            prepared = with_sheet(plan, prepared, standing, sheet, folder.path)
        pages = page_findings(folder.path, plan)
        return replace(prepared, findings=(*prepared.findings, *pages))


def _known(memory: Memory, tasks: Sequence[Task], namings: Sequence[Naming]) -> dict[str, Record]:
    """The records of jobs that need not be prepared, by their names: of all parts of a job, or of
    none."""
    found = {
        task.name: record
        for task, naming in zip(tasks, namings, strict=True)
        if (record := memory.of_job(task.job, naming.name, task.standing)) is not None
    }
    missed = {task.whole for task in tasks if task.name not in found}
    return {
        task.name: found[task.name]
        for task in tasks
        if task.name in found and (task.whole is None or task.whole not in missed)
    }


def _together(tasks: Sequence[Task], records: Mapping[str, Record]) -> list[Record]:
    """The records in the order of their tasks, no part of a job fit unless all are."""
    return together([records[task.name] for task in tasks], [task.whole for task in tasks])


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
    origins: Origins,
    jobs: Mapping[str, JobFile],
    namings: Sequence[Naming],
    records: Sequence[Record],
) -> Prepared:
    """Write all that is fit; what there is to tell of the card, nothing lowered."""
    pairs = list(zip(namings, records, strict=True))
    deliveries = [
        Delivery(entry, record.staged)
        for entry, record in zip(_entries(plan, origins, jobs, pairs), records, strict=True)
        if entry is not None
    ]
    rules = plan.machine.card
    given = deliver(folder, deliveries, in_turn=rules.order == "as-written")
    fates = iter(given)
    files = [
        Written(record, naming, next(fates) if record.ready else None) for naming, record in pairs
    ]
    findings = [
        *folder.findings,
        *_refused_now(folder, pairs, plan.recipe.name),
        *displaced(folder.listed, zip((each.entry for each in deliveries), given, strict=True)),
        *order_findings(folder.path, [file.entry.name for file in deliveries], rules),
    ]
    return Prepared(tuple(files), tuple(findings))


def _entries(
    plan: Plan,
    origins: Origins,
    jobs: Mapping[str, JobFile],
    pairs: Sequence[tuple[Naming, Record]],
) -> Iterator[Entry | None]:
    """The entries of all files in run order, None for those that are not fit."""
    titles = {card_file.name: card_file.title for card_file in plan.card_files}
    for number, (naming, record) in enumerate(pairs):
        if not record.ready:
            yield None
            continue
        assert record.content is not None
        job = jobs[record.name] if number >= len(titles) else None
        yield Entry(
            name=naming.name,
            content=record.content,
            source=None if job is None else job.name,
            source_content=record.source,
            origin=origins.card_files[record.name] if job is None else origins.jobs,
            steps=record.steps,
            title=titles[record.name] if job is None else plan.name,
            folder=None if job is None else job.folder,
            piece=None if job is None else job.piece,
            lines=record.lines,
            moves=record.moves,
            findings=record.findings,
            proof=record.proof,
        )


def _refused_now(
    folder: CardFolder, pairs: Sequence[tuple[Naming, Record]], recipe: str
) -> Iterator[Finding]:
    """A warning where the card still holds what an earlier run made of a job refused now."""
    for naming, record in pairs:
        known = folder.listed.get(naming.name)
        if record.ready or known is None or naming.name.casefold() not in folder.standing:
            continue
        yield older_than_refused(naming, known, recipe)
