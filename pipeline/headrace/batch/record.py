"""One job in a batch: what to do, and what came of it. Small enough to send between processes."""

from __future__ import annotations

import traceback
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from headrace.batch.sources import JobFile, read_job
from headrace.card.entry import Entry, Proved, Taken
from headrace.card.writing import Content, stage
from headrace.errors import HeadraceError
from headrace.findings import Finding, Severity

if TYPE_CHECKING:
    from headrace.outcome import Outcome
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan
    from headrace.sheet.facts import FileFacts


@dataclass(frozen=True, slots=True)
class Leaf:
    """A file's place on the run sheet: its name on the card, what it is called there, and what ids
    in its drawings begin with."""

    name: str
    title: str
    prefix: str


@dataclass(frozen=True, slots=True)
class Task:
    """A job to prepare. `staged` is where its result goes (None: nowhere), unless the card holds
    that already, as `standing` tells. `leaf` is there where a run sheet is to tell of it."""

    job: JobFile
    staged: Path | None = None
    standing: Content | None = None
    leaf: Leaf | None = None

    @property
    def name(self) -> str:
        return self.job.name

    @property
    def path(self) -> Path:
        return self.job.path

    @property
    def whole(self) -> Path | None:
        """The job that this is a part of."""
        return None if self.job.part is None else self.job.path


@dataclass(frozen=True, slots=True)
class Record:
    """What came of a job: `exit_code` as of the command, 0 where it is fit for the card.

    `lines` and `moves` count the result, `proof` says how it compared with the job; `source` and
    `content` tell source and result, `staged` is where the result waits. `details` are for whoever
    mends headrace or a plugin. `facts` are what a run sheet tells, where one is wanted; `untold`
    says why they are missing then.
    """

    name: str
    exit_code: int
    findings: tuple[Finding, ...]
    steps: tuple[Taken, ...] = ()
    lines: int = 0
    moves: int = 0
    source: Content | None = None
    content: Content | None = None
    staged: Path | None = None
    details: str = ""
    proof: Proved | None = None
    facts: FileFacts | None = None
    untold: Finding | None = None

    @property
    def ready(self) -> bool:
        return self.exit_code == 0

    @property
    def added(self) -> int:
        """Lines that the steps added."""
        return sum(step.added for step in self.steps)

    @property
    def warnings(self) -> int:
        return sum(finding.severity is Severity.WARN for finding in self.findings)


def run_task(task: Task, plan: Plan, registry: Registry) -> Record:
    """Prepare one job, and stage the result. Whatever goes wrong is in the record."""
    from headrace.run import prepare_job

    try:
        data = read_job(task.job)
        whole = task.job.whole or task.name
        outcome = prepare_job(whole, data, plan, registry, task.job.part)
        outcome = replace(outcome, name=task.name)
        tell = None if task.leaf is None else telling(plan, task.leaf, _said(task.job))
        return recorded(outcome, Content.of(data), task.staged, task.standing, tell)
    except Exception as error:
        return fallen(task.name, error)


Tell: TypeAlias = "Callable[[Outcome, Content], FileFacts]"
"""Gathers what a run sheet tells of an outcome that was not refused, whose result holds this."""


def telling(plan: Plan, leaf: Leaf, source: str | None) -> Tell:
    """What gathers the facts of a file; `source` is the job that it is made from."""

    def tell(outcome: Outcome, content: Content) -> FileFacts:
        from headrace.sheet.files import file_facts

        return file_facts(
            outcome, plan, leaf.prefix,
            name=leaf.name, title=leaf.title, source=source, content=content,
        )  # fmt: skip

    return tell


def _said(job: JobFile) -> str:
    """What a job, or a part of one, is called to people."""
    if job.part is None or job.whole is None:
        return job.name
    return f"{job.whole}, part {job.part + 1} of {job.parts}"


def recorded(
    outcome: Outcome,
    source: Content | None,
    staged: Path | None,
    standing: Content | None,
    tell: Tell | None = None,
) -> Record:
    """The record of an outcome, its result staged, with the facts that `tell` gathers. A fault in
    gathering these is in the record. Raises CardError where staging fails."""
    if outcome.result is None or outcome.job is None:
        return Record(outcome.name, 1, outcome.findings, _taken(outcome), source=source)
    parts = list(outcome.result.parts())
    content = Content.of(*parts)
    if staged is not None and content != standing:
        stage(staged, parts, content)
    else:
        staged = None
    record = Record(
        name=outcome.name,
        exit_code=0,
        findings=outcome.findings,
        steps=_taken(outcome),
        lines=len(outcome.result),
        moves=len(outcome.job.trace),
        source=source,
        content=content,
        staged=staged,
        proof=None if outcome.proof is None else Proved.of(outcome.proof),
    )
    if tell is None:
        return record
    try:
        return replace(record, facts=tell(outcome, content))
    except Exception as error:
        return _untold(record, error)


def _untold(record: Record, error: Exception) -> Record:
    said = f"{type(error).__name__}: {error}".splitlines()[0]
    what = f"what the run sheet is to tell of {record.name} could not be gathered: {said}"
    details = "".join(traceback.format_exception(error))
    return replace(record, untold=Finding.of("sheet-untold", what), details=details)


def remembered(name: str, entry: Entry) -> Record:
    """The record of what an earlier run made, as its list tells it."""
    return Record(
        name=name,
        exit_code=0,
        findings=entry.findings,
        steps=entry.steps,
        lines=entry.lines,
        moves=entry.moves,
        source=entry.source_content,
        content=entry.content,
        proof=entry.proof,
    )


def _taken(outcome: Outcome) -> tuple[Taken, ...]:
    return tuple(
        Taken(step.name, step.number, step.added, step.touched, step.asked_by)
        for step in outcome.steps
    )


def fallen(name: str, error: Exception) -> Record:
    """The record of a job that ended in an error."""
    details = "".join(traceback.format_exception(error))
    if isinstance(error, HeadraceError) and error.findings:
        return Record(name, error.exit_code, error.findings, details=details)
    what = f"{name}: {type(error).__name__}: {error}".splitlines()[0]
    return Record(name, 70, (Finding.of("internal-fault", what),), details=details)
