"""One job through a plan: read, judge, step by step with its contract, judge again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, replace

import numpy as np

from headrace.errors import HeadraceError, JobRefused, PluginError
from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language import Dialect, State
from headrace.language.suitability import ALIEN, examine
from headrace.plugins import Contract
from headrace.plugins.registry import Registry
from headrace.program import Cause, Program
from headrace.proof import (
    RunProof,
    StepProof,
    Version,
    breach_findings,
    prove_run,
    prove_step,
)
from headrace.proof.second.follower import Dialect as SecondDialect
from headrace.recipe import CardFile, Plan, Step, lowered
from headrace.rehearsal import rehearse
from headrace.rehearsal.alone import alone_findings
from headrace.rehearsal.order.speeds import unfollowed
from headrace.rehearsal.words.centres import misread_centres, on_arcs
from headrace.rehearsal.words.lines import as_read


@dataclass(frozen=True, slots=True)
class StepReport:
    """What a step did: lines that it added, lines of the program that it rewrote or took, and how
    it stood to its contract."""

    name: str
    number: int
    added: int
    touched: int
    proof: StepProof


@dataclass(frozen=True)
class Outcome:
    """What became of one job. `result` is None where it was refused: the findings say why. `proof`
    is there when the result was compared with the job as a whole."""

    name: str
    source: Program
    result: Program | None
    findings: tuple[Finding, ...]
    steps: tuple[StepReport, ...]
    job: Job | None
    proof: RunProof | None = None

    @property
    def refused(self) -> bool:
        return self.result is None


def start_state(plan: Plan) -> State:
    """What is known of the machine when a card file begins: hardly anything."""
    state = State(units=plan.assume_units or plan.machine.power_up_units)
    if not plan.machine.work_zero.systems:
        state.origins = [[0.0] * len(row) for row in state.origins]
    else:
        # a machine with work offset systems is not shifted by G92 as well, unless a job does it
        state.shift = [0.0] * len(state.shift)
    return state


def prepare_job(name: str, data: bytes, plan: Plan, registry: Registry) -> Outcome:
    """A job file through the plan's steps. What is wrong with the job is in the outcome.

    Raises PluginError where a transform is at fault.
    """
    return _lowered(_job_prepared(name, data, plan, registry), plan)


def _lowered(outcome: Outcome, plan: Plan) -> Outcome:
    return replace(outcome, findings=tuple(lowered(outcome.findings, plan.lowerings)))


def _job_prepared(name: str, data: bytes, plan: Plan, registry: Registry) -> Outcome:
    program = Program.read(data, name)
    job = Job(
        program,
        plan.machine,
        plan.setup,
        Dialect.of(plan.machine, plan.assume_units),
        start_state(plan),
        stand_alone=plan.alone,
    )
    findings = examine(program, job.trace, plan.assume_units)
    if plan.alone:
        findings = list(alone_findings(findings, job, plan.assume_units))
    if not any(finding.name in ALIEN for finding in findings):
        misread = misread_centres(job)
        of_lines = job.trace.findings
        if misread is not None:
            of_lines = (misread, *(f for f in of_lines if not on_arcs(f)))
        findings += of_lines
        findings += unfollowed(job)
    if _refuses(findings):
        return Outcome(name, program, None, tuple(findings), (), None)
    return _stepped(job, plan.steps, registry, findings)


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
    start = start_state(plan)
    if card_file.after is not None:
        earlier = finished[card_file.after]
        if earlier.job is None:
            what = f"{card_file.name} goes on from {card_file.after}, which was refused"
            finding = Finding.of("card-file-unready", what, card_file.place)
            return Outcome(card_file.name, program, None, (finding,), (), None)
        start = _between_files(earlier.job.trace.end)
    dialect = Dialect.of(plan.machine, plan.assume_units)
    job = Job(program, plan.machine, plan.setup, dialect, start, stand_alone=True)
    return _stepped(job, card_file.steps, registry, [])


def _stepped(
    job: Job, steps: Sequence[Step], registry: Registry, findings: list[Finding]
) -> Outcome:
    source = job.program
    reports: list[StepReport] = []
    lent = deepcopy(_lent(job))
    for step in steps:
        try:
            job, report = _step(job, step, registry, lent)
        except JobRefused as error:
            placed = [_placed(finding, step) for finding in error.findings]
            return Outcome(source.name, source, None, (*findings, *placed), tuple(reports), None)
        reports.append(report)
    every = tuple(rehearse(findings, job))
    proof = None if _refuses(every) or job.stand_alone else _whole(source, job, reports)
    if proof is not None and proof.finding is not None:
        every = (*every, proof.finding)
    result = None if _refuses(every) else job.program
    return Outcome(source.name, source, result, every, tuple(reports), job, proof)


def _whole(source: Program, job: Job, reports: Sequence[StepReport]) -> RunProof:
    """The proof of all steps together, by the second reading."""
    contract = Contract()
    for report in reports:
        contract = contract.then(report.proof.contract)
    second = SecondDialect(outputs=job.dialect.outputs, homing=job.dialect.homing)
    return prove_run(source, [job.program], contract, job.start.units == "inch", second)


def _step(
    job: Job, step: Step, registry: Registry, lent: tuple[object, ...]
) -> tuple[Job, StepReport]:
    """The job behind a step that has kept its contract and left as it was what it is `lent`.

    Raises JobRefused where the step or the check of its contract refuses.
    """
    transform = registry.transforms[step.name]
    cause = Cause(step.name, step.number, step.place)
    end, told = job.trace.end.copy(), job.trace.findings
    try:
        contract = transform.contract(job, step.options)
        edits = list(transform.edits(job, step.options))
    except JobRefused as error:
        findings = [as_read(finding, job.program) for finding in error.findings]
        raise JobRefused(findings=findings) from error
    except HeadraceError:
        raise
    except (Exception, SystemExit) as error:
        what = f"step `{step.name}` failed: {type(error).__name__}: {error}"
        raise PluginError(findings=[Finding.of("step-failed", what, step.place)]) from error
    if _lent(job) != lent or (job.trace.end, job.trace.findings) != (end, told):
        what = f"step `{step.name}` changed the machine, set-up or state that it was given to read"
        raise PluginError(findings=[Finding.of("step-failed", what, step.place)])
    program = job.program.edited(edits, cause)
    stepped = job if program is job.program else job.with_program(program)
    before = Version(job.program, job.trace)
    proof = prove_step(before, Version(program, stepped.trace), contract)
    if proof.breaches:
        raise JobRefused(findings=breach_findings(proof, cause))
    registry.step_done(step.name, job.program, program)
    added = program.next_id - job.program.next_id
    touched = _touched(job.program, program, cause)
    return stepped, StepReport(step.name, step.number, added, touched, proof)


def _lent(job: Job) -> tuple[object, ...]:
    """What all transforms are lent and could change in place."""
    return job.machine, job.setup, job.start


def _touched(old: Program, new: Program, cause: Cause) -> int:
    """How many lines a step rewrote or took out; a line that became several counts once."""
    rewritten = [np.zeros(0, np.int32)]
    for piece in new.pieces:
        lineage = piece.lineage
        if lineage.which is not None and cause in lineage.causes:
            by_step = lineage.which[piece.start : piece.stop] == lineage.causes.index(cause)
            rewritten.append(lineage.ids_of(piece.start, piece.stop)[by_step])
    ids = np.concatenate(rewritten)
    known = ids[ids < old.next_id]
    lines = len(np.unique(known))
    left = len(new) - (new.next_id - old.next_id) - (len(known) - lines)
    return lines + len(old) - left


def _placed(finding: Finding, step: Step) -> Finding:
    """A refusal by a step stands at the step's place in the recipe, unless it has a place."""
    if finding.place is not None:
        return finding
    return replace(finding, place=step.place)


def _refuses(findings: Sequence[Finding]) -> bool:
    return any(finding.severity is Severity.REFUSE for finding in findings)
