"""What is asked of a transform on every job: one check each."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cached_property

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language import State
from headrace.program import Program
from headrace.rehearsal.words import wording_findings
from headrace.testing.case import Case
from headrace.testing.subject import Made, Subject, told

_ENDS = (b"\r\n", b"\n", b"\r")
_BROKEN = "contract-broken"


@dataclass
class Trial:
    """A case tried: the job as the step was given it, and what came of it. `thorough` is for the
    checks that read the job anew."""

    subject: Subject
    case: Case
    job: Job
    thorough: bool = True
    made: Made = field(init=False)
    end: State = field(init=False)

    def __post_init__(self) -> None:
        self.end = self.job.trace.end.copy()
        self.made = self.subject.made(self.job, self.case)

    @cached_property
    def changed(self) -> list[str]:
        """What the step was lent to read and is no longer as it was."""
        job, names = self.job, ("machine", "set-up", "start", "end state")
        lent = (*self.made.lent, self.end)
        now = (job.machine, job.setup, job.start, job.trace.end)
        return [name for name, was, is_now in zip(names, lent, now, strict=True) if was != is_now]

    @property
    def refusal(self) -> list[Finding] | None:
        """What the step itself refused the job for; None where it did not."""
        refused = self.made.refused
        if refused is None or any(finding.name == _BROKEN for finding in refused.findings):
            return None
        return list(refused.findings)


Judge = Callable[[Trial], Iterator[str]]


def never_fails(trial: Trial) -> Iterator[str]:
    """It takes a job or refuses it; nothing else ever comes out."""
    if trial.made.failed is not None and not trial.changed:
        yield f"it failed: {told(trial.made.failed)}"


def refuses_with_help(trial: Trial) -> Iterator[str]:
    """A refusal says what is wrong, why that matters, and what to do."""
    findings = trial.refusal
    if findings is None:
        return
    if not findings:
        yield f"JobRefused came without findings, saying only {str(trial.made.refused)!r}"
    for finding in findings:
        lacking = [key for key in ("what", "why", "remedy") if not getattr(finding, key).strip()]
        if lacking:
            yield f"the refusal {finding.what!r} has no {' and no '.join(lacking)}"


def keeps_its_contract(trial: Trial) -> Iterator[str]:
    """What it does not declare comes out as it was, by the proof of every run."""
    refused = trial.made.refused
    for finding in () if refused is None else refused.findings:
        if finding.name == _BROKEN:
            yield finding.what


def leaves_the_job_alone(trial: Trial) -> Iterator[str]:
    """What it is lent to read is afterwards as it was."""
    if trial.changed:
        yield f"it changed the {' and the '.join(trial.changed)} that it was lent to read"


def gives_the_same_again(trial: Trial) -> Iterator[str]:
    """The same job and options give the same bytes, or the same refusal."""
    if trial.refusal is not None or trial.made.job is not None:
        again = trial.subject.made_quickly(trial.job, trial.case)
        if again.key != trial.made.key:
            yield f"first it gave {trial.made}, and then {again}"


def reads_both_ways_alike(trial: Trial) -> Iterator[str]:
    """It hangs on the words of a job alone, not on how they were read: line by line or in bulk."""
    if not trial.thorough or trial.made.job is None:
        return
    job = trial.subject.ready(trial.case, in_bulk=True)
    if job is not None:
        other = trial.subject.made_quickly(job, trial.case)
        if other.key != trial.made.key:
            yield f"read line by line it gave {trial.made}, and read in bulk {other}"


def finds_nothing_to_do_again(trial: Trial) -> Iterator[str]:
    """Where it says `idempotent=True`: run behind itself, it changes nothing."""
    made = trial.made
    if trial.subject.transform.idempotent and made.job is not None:
        again = trial.subject.made_quickly(made.job, trial.case)
        if again.key != made.key:
            yield f"it gave {made}, and behind itself {again}"


def comes_out_readable(trial: Trial) -> Iterator[str]:
    """Written and read again, the result has the same lines."""
    job = trial.made.job
    if job is None:
        return
    again = Program.read(job.program.to_bytes(), job.program.name)
    lines = [line.raw for line in job.program]
    if [line.raw for line in again] != lines:
        yield f"it gave {len(lines)} lines, which are {len(again)} when they are read again"


def keeps_line_ends(trial: Trial) -> Iterator[str]:
    """A job with one kind of line end comes out with one kind."""
    if trial.made.job is not None:
        was, now = _ends(trial.job.program), _ends(trial.made.job.program)
        if len(was) == 1 and len(now) > 1:
            named = " and ".join(repr(end.decode()) for end in sorted(now))
            yield f"every line ended in {was.pop().decode()!r}; now they end in {named}"


def writes_known_words(trial: Trial) -> Iterator[str]:
    """Lines that it writes hold only what the machine reads. Where a job counts in a unit that the
    machine does not read, another step must write the lines anew, and so they are not looked at."""
    job = trial.made.job
    if job is None or not _has_written(job.program):
        return
    written = [
        (finding, finding.place)
        for finding in _of_words(job)
        if finding.place
        and job.program[finding.place.line - 1].cause is not None
        and job.state_at(finding.place.line - 1).units in (None, *job.machine.units)
    ]
    if not written:
        return
    before = {(finding.name, finding.what) for finding in _of_words(trial.job)}
    known = {name for name, _ in before if name != "word-unknown-here"}
    for finding, place in written:
        if (finding.name, finding.what) not in before and finding.name not in known:
            yield f"line {place.line}, `{place.excerpt.strip()}`: {finding.what}"


def _ends(program: Program) -> set[bytes]:
    """The kinds of line ends of a program."""
    found = set()
    for line in program:
        found |= {next((end for end in _ENDS if line.raw.endswith(end)), b"")}
    return found - {b""}


def _has_written(program: Program) -> bool:
    return any(any(cause is not None for cause in p.lineage.causes) for p in program.pieces)


def _of_words(job: Job) -> Iterator[Finding]:
    """What refuses lines for the words on them."""
    for finding in (*job.trace.findings, *wording_findings(job)):
        if finding.severity is Severity.REFUSE:
            yield finding


CHECKS: tuple[Judge, ...] = (
    never_fails,
    refuses_with_help,
    keeps_its_contract,
    leaves_the_job_alone,
    gives_the_same_again,
    reads_both_ways_alike,
    finds_nothing_to_do_again,
    comes_out_readable,
    keeps_line_ends,
    writes_known_words,
)
"""In the order in which they are judged: what comes later counts on what came before."""
