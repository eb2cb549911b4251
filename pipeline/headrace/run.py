"""One job through a plan: read, judge, step by step with its contract, judge again."""

from __future__ import annotations

from collections.abc import Callable, Generator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from headrace.errors import HeadraceError, JobRefused, PluginError
from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language import Dialect, EventKind, State
from headrace.language.modal import SYSTEMS
from headrace.language.suitability import ALIEN, MENDABLE, examine
from headrace.machine import Machine, Setup
from headrace.plugins import Contract, Part, Use
from headrace.plugins.loading.aside import aside
from headrace.plugins.loading.failing import failure, need_iterable
from headrace.plugins.registry import Registry
from headrace.program import Cause, Program, before, rewrite
from headrace.program.sealing import attributes, has_kept
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
from headrace.rehearsal.alone import alone_findings, with_bits_asked_for
from headrace.rehearsal.order.speeds import unfollowed
from headrace.rehearsal.words.centres import misread_centres, on_arcs
from headrace.rehearsal.words.lines import as_read

_NONE = np.zeros(0, np.int64)
"""No line of a stretch is kept."""


@dataclass(frozen=True, slots=True)
class StepReport:
    """What a step did: lines that it added, lines of the program that it rewrote or took, and how
    it stood to its contract. `asked_by` is the step that asked for it, where the recipe does not
    name it itself."""

    name: str
    number: int
    added: int
    touched: int
    proof: StepProof
    asked_by: str | None = None

    @property
    def label(self) -> str:
        """What the step is called to people: its name, behind that of the step which asked."""
        return labelled(self.name, self.asked_by)


def labelled(name: str, asked_by: str | None) -> str:
    """The name of a step, behind that of the one that asked for it."""
    return name if asked_by is None else f"{asked_by}: {name}"


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


def start_state(machine: Machine, setup: Setup, dialect: Dialect) -> State:
    """What is known of the machine when a card file in a dialect begins: hardly anything."""
    state = State(units=dialect.units, absolute_centres=dialect.absolute_centres)
    if not machine.work_zero.systems:
        state.origins = [[0.0] * len(row) for row in state.origins]
        for system, (x, y, z) in setup.offsets.items():  # as a job means them that has some
            state.origins[SYSTEMS[round(float(system[1:]) * 10)] - 1] = [x, y, z, 0.0, 0.0, 0.0]
    else:
        # a machine with work offset systems is not shifted by G92 as well, unless a job does it
        state.shift = [0.0] * len(state.shift)
    return state


def job_of(name: str, data: bytes, plan: Plan) -> Job:
    """A job as it comes, before the first step."""
    dialect = Dialect.of(plan.machine, plan.assumed.units)
    if not plan.alone:
        dialect = dialect.as_jobs_have_it(plan.assumed)
    start = start_state(plan.machine, plan.setup, dialect)
    program = Program.read(data, name)
    job = Job(program, plan.machine, plan.setup, dialect, start, stand_alone=plan.alone)
    likely = _likely(job)
    if plan.alone:
        asked = with_bits_asked_for(likely)
        if asked is not likely:
            return with_first_tool(job.with_program(asked.program))
    return with_first_tool(job, likely)


def with_first_tool(job: Job, likely: Job | None = None) -> Job:
    """The same job with the bit in the collet that it takes for granted there: the one that it
    calls before it first cuts, unless the set-up says which one is in.

    `likely` is the job with that bit as it seems at a first look: if it is so, nothing needs to be
    read again. What a job calls and where it cuts does not depend on what is in the collet.
    """
    read = likely or job
    setup, cut = job.setup, read.landmarks.first_cut
    first = next(read.trace.events_of(EventKind.TOOL), None)
    if first is not None and isinstance(first.value, int) and (cut is None or first.line <= cut):
        setup = setup.begun_by(first.value)
    if setup == read.setup and setup.tool.number == read.start.tool:
        return read
    return _begun_with(job, setup)


def _likely(job: Job) -> Job:
    """The job with the bit in the collet that its first word for one names."""
    named = job.program.lines_with("T")[:1]
    number = job.program[int(named[0])].get("T") if len(named) else None
    if number is None or number < 0 or number != int(number):
        return _begun_with(job, job.setup)
    return _begun_with(job, job.setup.begun_by(int(number)))


def _begun_with(job: Job, setup: Setup) -> Job:
    """The job in a set-up with the bit that is in its collet, where that has a number."""
    if setup.tool.number is None:
        return job
    start = job.start.copy()
    start.tool = setup.tool.number
    return replace(job, setup=setup, start=start)


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
    if _refuses(_lasting(job.trace.findings)):
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
    if _refuses(_lasting(findings)):
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


class Way:
    """A job on its way through the steps, each of which must keep its contract."""

    def __init__(self, job: Job, registry: Registry, findings: list[Finding]) -> None:
        self.source: Program = job.program
        self.dialect: Dialect = job.dialect
        self.job: Job = job
        self.registry = registry
        self.findings = findings
        self.lent: tuple[object, ...] = deepcopy(_lent(job))
        self.reports: list[StepReport] = []
        self.lines: tuple[int, int] | None = None

    def through(self, steps: Sequence[Step], part: int = 0) -> Outcome:
        """All steps, the rehearsal and the proof of the whole."""
        for step in steps:
            try:
                self.take(step, part)
            except JobRefused as error:
                placed = [_placed(finding, step) for finding in error.findings]
                mendable = [f for f in self.findings if f.name in MENDABLE]
                return self._outcome((*_lasting(self.findings), *placed, *mendable))
        if _refuses(self.findings) and {f.name for f in self.job.trace.findings} & MENDABLE:
            return self._outcome(tuple(self.findings))
        every = tuple(rehearse(self.findings, self.job))
        proof = None if _refuses(every) or self.job.stand_alone else self._whole()
        if proof is not None and proof.finding is not None:
            every = (*every, proof.finding)
        result = None if _refuses(every) else self.job.program
        return replace(self._outcome(every), result=result, job=self.job, proof=proof)

    def _outcome(self, findings: tuple[Finding, ...]) -> Outcome:
        """So far, and nothing to write."""
        reports = tuple(self.reports)
        return Outcome(self.source.name, self.source, None, findings, reports, None)

    def take(self, step: Step, part: int) -> None:
        """One step, and those that it asks for.

        Raises JobRefused where a step or the check of its contract refuses.
        """
        gives = self.registry.transforms[step.name].gives
        if gives == "steps":
            self._take_all(step)
        elif gives == "parts":
            self._take_part(step, part)
        else:
            self._take_edits(step, step.name, step.options)

    def _take_all(self, step: Step) -> None:
        """The steps that a step asks for, one after the other; it sees what each has done."""
        asked = self._given(step, step.name, step.options)
        use = self._checked(step, lambda: next(asked, None))
        while use is not None:
            if use.name not in self.registry.transforms:
                what = f"step `{step.name}` asks for `{use.name}`, which is no transform"
                raise PluginError(findings=[Finding.of("step-failed", what, step.place)])
            self._take_edits(step, use.name, use.options)
            use = self._checked(step, lambda: _sent(asked, self.job))

    def _take_edits(self, step: Step, name: str, options: Mapping[str, Any]) -> None:
        """A transform's edits, and the proof that they keep its contract."""
        job, transform = self.job, self.registry.transforms[name]
        contract = self._checked(step, lambda: transform.contract(job, options), name)
        dialect = self._checked(step, lambda: transform.dialect(job, options), name)
        edits = self._given(step, name, options)
        cause = _cause(step, name)
        program = job.program.edited(edits, cause)
        same = program is job.program and dialect == job.dialect
        if same and name != step.name:
            return  # it was asked for and found nothing to do
        if same:
            contract = Contract()  # nothing was done, so nothing may have changed
        stepped = job if same else job.with_program(program, dialect)
        was = Version(job.program, job.trace, job.opening)
        self._proved(step, name, was, stepped, contract)
        self.lent = deepcopy(_lent(stepped)) if dialect != job.dialect else self.lent

    def parts(self, step: Step) -> Sequence[Part]:
        """What a step splits the job into."""
        return tuple(self._given(step, step.name, step.options))

    def _take_part(self, step: Step, number: int) -> None:
        """One of the parts into which a step splits the job."""
        job, transform = self.job, self.registry.transforms[step.name]
        parts = self.parts(step)
        if len(parts) < 2:
            return
        part = parts[number]
        self.lines = part.start, part.stop
        contract = self._checked(step, lambda: transform.contract(job, step.options))
        lines = len(job.program)
        edits = [
            *([rewrite(0, part.start, b"", _NONE)] if part.start else []),
            *part.edits,
            *([rewrite(part.stop, lines, b"", _NONE)] if part.stop < lines else []),
        ]
        cause = _cause(step, step.name)
        cut = job.program.edited(edits, cause)
        ids = cut.ids(np.arange(len(cut)))
        first = int(np.flatnonzero((ids >= part.start) & (ids < part.stop))[0])
        program = cut.edited([before(first, *part.opening)] if part.opening else [], cause)
        opened = replace(
            job.with_program(program),
            setup=job.setup if part.tool is None else job.setup.with_tool(part.tool),
            opening=range(cut.next_id, program.next_id),
        )
        self.lent = deepcopy(_lent(opened))
        whole = Version(job.program, job.trace)
        self._proved(step, step.name, whole.within(*self.lines), opened, contract)

    def _proved(
        self, step: Step, name: str, old: Version, stepped: Job, contract: Contract
    ) -> None:
        program, cause = stepped.program, _cause(step, name)
        now = Version(program, stepped.trace, stepped.opening)
        proof = prove_step(old, now, contract)
        if proof.breaches:
            raise JobRefused(findings=breach_findings(proof, cause))
        self.registry.step_done(step.name, old.program, program)
        added = program.next_id - old.program.next_id
        touched = _touched(old.program, program, cause)
        report = StepReport(name, step.number, added, touched, proof, _asked_by(step, name))
        self.reports.append(report)
        self.job = stepped

    def _given(self, step: Step, name: str, options: Mapping[str, Any]) -> Any:
        """What a transform makes of the job, which it must leave as it was lent."""
        job, transform = self.job, self.registry.transforms[name]
        end, told, held = job.trace.end.copy(), job.trace.findings, attributes(job.program)
        given = self._checked(step, lambda: transform.given(job, options), name)
        self._checked(step, lambda: need_iterable(transform, given), name)
        if transform.gives == "steps":
            return given
        given = self._checked(step, lambda: list(given), name)
        same = _lent(job) == self.lent and (job.trace.end, job.trace.findings) == (end, told)
        if not same or not has_kept(job.program, held):
            changed = "changed the machine, set-up, state or program that it was given to read"
            what = f"step `{name}` {changed}"
            raise PluginError(findings=[Finding.of("step-failed", what, step.place)])
        return given

    def _checked(self, step: Step, call: Callable[[], Any], name: str | None = None) -> Any:
        """Whatever a transform does, that of the step if no other is named; where it fails, that is
        its fault.

        Raises JobRefused where it refuses, PluginError where it fails.
        """
        try:
            with aside():
                return call()
        except KeyboardInterrupt:
            raise
        except BaseException as error:
            if isinstance(error, JobRefused) and error.findings:
                findings = [as_read(finding, self.job.program) for finding in error.findings]
                raise JobRefused(findings=findings) from error
            if isinstance(error, HeadraceError) and error.findings:
                raise
            transform = self.registry.transforms[name or step.name]
            source = self.registry.sources.get(transform.provider)
            home = None if source is None else source.own
            program = self.job.program
            raise failure(step.name, transform, home, program, error, step.place) from error

    def _whole(self) -> RunProof:
        """The proof of all steps together, by the second reading."""
        contract = Contract()
        for report in self.reports:
            contract = contract.then(report.proof.contract)
        job = self.job
        return prove_run(
            self.source,
            [job.program],
            contract,
            job.start.units == "inch",
            second_dialect(self.dialect),
            second_dialect(job.dialect),
            self.lines,
            job.start.tool,
        )


def _sent(asked: Generator[Use, Job, None], job: Job) -> Use | None:
    """What a step asks for next, now that the job stands so; None where it is done."""
    try:
        return asked.send(job)
    except StopIteration:
        return None


def _asked_by(step: Step, name: str) -> str | None:
    """The step that asked for the transform `name`; None where the recipe names that itself."""
    return None if name == step.name else step.name


def _cause(step: Step, name: str) -> Cause:
    """Why lines are as the transform `name` has written them."""
    return Cause(labelled(name, _asked_by(step, name)), step.number, step.place)


def second_dialect(dialect: Dialect) -> SecondDialect:
    """A dialect for the second reading."""
    return SecondDialect(
        outputs=dialect.outputs,
        homing=dialect.homing,
        absolute_centres=dialect.absolute_centres,
        block_delete=dialect.block_delete,
        speeds=dialect.speeds,
        projected_feed=dialect.projected_feed,
        off=dialect.switched_off,
        heads=dialect.heads,
    )


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
    lines = _distinct(known)
    left = len(new) - (new.next_id - old.next_id) - (len(known) - lines)
    return lines + len(old) - left


def _distinct(ids: npt.NDArray[np.int32]) -> int:
    """How many different ones there are; those of a program's lines mostly rise."""
    rises = np.diff(ids)
    if (rises >= 0).all():
        return int(np.count_nonzero(rises)) + bool(len(ids))
    return len(np.unique(ids))


def _placed(finding: Finding, step: Step) -> Finding:
    """A refusal by a step stands at the step's place in the recipe, unless it has a place."""
    if finding.place is not None:
        return finding
    return replace(finding, place=step.place)


def _lasting(findings: Sequence[Finding]) -> list[Finding]:
    """The findings that no step can mend."""
    return [finding for finding in findings if finding.name not in MENDABLE]


def _refuses(findings: Sequence[Finding]) -> bool:
    return any(finding.severity is Severity.REFUSE for finding in findings)
