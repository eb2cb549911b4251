"""A job on its way through the steps, one after the other, each with its contract."""

from __future__ import annotations

from collections.abc import Callable, Generator, Mapping, Sequence
from copy import deepcopy
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from headrace.errors import HeadraceError, JobRefused, PluginError
from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language import Dialect
from headrace.language.suitability import MENDABLE
from headrace.outcome import Outcome, StepReport, labelled
from headrace.plugins import Contract, Part, Use
from headrace.plugins.loading.aside import aside
from headrace.plugins.loading.failing import failure, need_iterable
from headrace.plugins.registry import Registry
from headrace.program import Cause, Program, before, rewrite
from headrace.program.sealing import attributes, has_kept
from headrace.proof import (
    RunProof,
    Version,
    breach_findings,
    prove_run,
    prove_step,
)
from headrace.proof.second.follower import Dialect as SecondDialect
from headrace.recipe import Step
from headrace.rehearsal import rehearse, wrap_findings
from headrace.rehearsal.words.lines import as_read

_NONE = np.zeros(0, np.int64)
"""No line of a stretch is kept."""


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
        self.told: list[Finding] = []
        self.lines: tuple[int, int] | None = None

    def through(self, steps: Sequence[Step], part: int = 0) -> Outcome:
        """All steps, the rehearsal and the proof of the whole."""
        for step in steps:
            try:
                self.take(step, part)
            except JobRefused as error:
                placed = [_placed(finding, step) for finding in error.findings]
                mendable = [f for f in self.findings if f.name in MENDABLE]
                return self._outcome((*lasting(self.findings), *placed, *mendable))
        if refuses(self.findings) and {f.name for f in self.job.trace.findings} & MENDABLE:
            return self._outcome(tuple(self.findings))
        every = (*self.told, *rehearse(self.findings, self.job))
        proof = None if refuses(every) or self.job.stand_alone else self._whole()
        if proof is not None and proof.finding is not None:
            every = (*every, proof.finding)
        result = None if refuses(every) else self.job.program
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
        told = [_placed(finding, step) for finding in wrap_findings(stepped, contract.wraps)]
        if refuses(told):
            raise JobRefused(findings=told)
        self.told += told
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


def lasting(findings: Sequence[Finding]) -> list[Finding]:
    """The findings that no step can mend."""
    return [finding for finding in findings if finding.name not in MENDABLE]


def refuses(findings: Sequence[Finding]) -> bool:
    """Whether one of the findings refuses."""
    return any(finding.severity is Severity.REFUSE for finding in findings)
