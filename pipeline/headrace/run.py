"""One job or card file through a plan: read, judged, taken through the steps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from headrace.findings import Finding
from headrace.intake import job_of, start_state
from headrace.job import Job
from headrace.language import Dialect, State
from headrace.language.suitability import ALIEN, examine
from headrace.outcome import Outcome
from headrace.plugins.registry import Registry
from headrace.program import Program
from headrace.recipe import CardFile, Plan, lowered
from headrace.rehearsal.alone import alone_findings
from headrace.rehearsal.order.speeds import unfollowed
from headrace.rehearsal.words.centres import misread_centres, on_arcs
from headrace.way import Way, lasting, refuses


def prepare_job(
    name: str, data: bytes, plan: Plan, registry: Registry, part: int | None = None
) -> Outcome:
    """A job file through the plan's steps, or one `part` of it (from 0), where the first step
    splits it. What is wrong with the job is in the outcome.

    Raises PluginError where a transform is at fault.
    """
    return prepare_read(job_of(name, data, plan), plan, registry, part)


def prepare_read(job: Job, plan: Plan, registry: Registry, part: int | None = None) -> Outcome:
    """The same for a job that has been read already, as it comes."""
    return _lowered(_job_prepared(job, plan, registry, part), plan)


def count_parts(name: str, data: bytes, plan: Plan, registry: Registry) -> int:
    """How many card files the plan's first step makes of a job, which splits it.

    Raises JobRefused or PluginError where it cannot tell.
    """
    job, step = job_of(name, data, plan), plan.steps[0]
    if refuses(lasting(job.trace.findings)):
        return 1
    return max(1, len(Way(job, registry, []).parts(step)))


def _lowered(outcome: Outcome, plan: Plan) -> Outcome:
    return replace(outcome, findings=tuple(lowered(outcome.findings, plan.lowerings)))


def _job_prepared(job: Job, plan: Plan, registry: Registry, part: int | None) -> Outcome:
    findings = examine(job.program, job.trace, plan.assumed.units)
    if plan.alone:
        findings = list(alone_findings(findings, job, plan.assumed.units))
    if not any(finding.name in ALIEN for finding in findings):
        misread = misread_centres(job)
        of_lines = job.trace.findings
        if misread is not None:
            of_lines = (misread, *(f for f in of_lines if not on_arcs(f)))
        findings += of_lines
        findings += unfollowed(job)
    if refuses(lasting(findings)):
        return Outcome(job.program.name, job.program, None, tuple(findings), (), None)
    return Way(job, registry, findings).through(plan.steps, part or 0)


def _between_files(end: State) -> State:
    """What still holds when the next file begins: zeros and modes, but not where the head stands
    nor whether a hand has switched the spindle on, for anything may happen between two files."""
    start = end.copy()
    start.ended = False
    start.spindle = None
    start.confirmed.clear()
    start.position = [float("nan")] * len(start.position)
    start.machine = list(start.position)
    return start


def prepare_card_file(
    card_file: CardFile, plan: Plan, registry: Registry, finished: Mapping[str, Outcome]
) -> Outcome:
    """A stand-alone card file by its steps. `finished` holds those that came before it by name."""
    return _lowered(_card_file_prepared(card_file, plan, registry, finished), plan)


def _card_file_prepared(
    card_file: CardFile, plan: Plan, registry: Registry, finished: Mapping[str, Outcome]
) -> Outcome:
    program = Program.read(b"", card_file.name)
    dialect = Dialect.of(plan.machine, plan.assumed.units)
    start = start_state(plan.machine, plan.setup, dialect)
    if card_file.after is not None:
        earlier = finished[card_file.after]
        if earlier.job is None:
            what = f"{card_file.name} goes on from {card_file.after}, which was refused"
            finding = Finding.of("card-file-unready", what, card_file.place)
            return Outcome(card_file.name, program, None, (finding,), (), None)
        start = _between_files(earlier.job.trace.end)
    job = Job(program, plan.machine, plan.setup, dialect, start, stand_alone=True)
    return Way(job, registry, []).through(card_file.steps)
