"""What became of a job, and what each step did."""

from __future__ import annotations

from dataclasses import dataclass

from headrace.findings import Finding
from headrace.job import Job
from headrace.program import Program
from headrace.proof import RunProof, StepProof


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
