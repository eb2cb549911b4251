"""One job, written anew, and what both proofs say."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from headrace import Edit, replace
from headrace.language import State, interpret
from headrace.plugins import Contract
from headrace.program import Cause, Program
from headrace.proof import RunProof, StepProof, Version, prove_run, prove_step
from headrace.proof.second.follower import Dialect

CAUSE = Cause("trial", 1)
DIALECT = Dialect({})


def version(program: Program) -> Version:
    """A program and what it does from the origin."""
    return Version(program, interpret(program, start=State.at_zero()))


def program(lines: Iterable[str]) -> Program:
    """A program of these lines."""
    return Program.read("".join(line + "\n" for line in lines).encode(), "job.nc")


def edited(
    lines: Sequence[str], edits: Iterable[Edit], contract: Contract
) -> tuple[StepProof, RunProof]:
    """Both proofs of a job that is edited."""
    old = program(lines)
    new = old.edited(edits, CAUSE)
    step = prove_step(version(old), version(new), contract)
    return step, prove_run(old, [new], contract, False, DIALECT)


def line_for_line(
    old: Sequence[str], new: Sequence[str | Sequence[str]], contract: Contract
) -> tuple[StepProof, RunProof]:
    """Both proofs of a job whose every line becomes one or more others."""
    texts = [(line,) if isinstance(line, str) else tuple(line) for line in new]
    return edited(old, [replace(at, *each) for at, each in enumerate(texts)], contract)


def passes(proofs: tuple[StepProof, RunProof]) -> bool:
    """Whether both let it pass; they must be of one mind."""
    step, run = proofs
    assert (not step.breaches) == (run.breach is None), (step.breaches, run.breach)
    return not step.breaches
