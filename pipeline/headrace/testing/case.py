"""A case: one job for one machine, with the options of the step under test."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass, field, replace
from typing import Any

from headrace.findings import Severity
from headrace.intake import job_of
from headrace.job import Job
from headrace.language.suitability import MENDABLE, examine
from headrace.program import Program
from headrace.program.columns import read_columns
from headrace.program.text import BOM
from headrace.testing.shops import Shop

NAME = "job.nc"


@dataclass(frozen=True)
class Case:
    """`said` is what the job is, `data` its bytes, `part` the part of it that is taken where the
    step splits it."""

    said: str
    data: bytes
    shop: Shop
    options: Mapping[str, Any] = field(default_factory=dict)
    part: int = 0

    def job(self, *, in_bulk: bool = False) -> Job:
        """The job as it comes, with a machine and a set-up of its own.

        A file without a move comes as a card file without a job does. Short files are read line by
        line, long ones with array operations: `in_bulk` has a short one read like a long one.
        """
        job = job_of(NAME, self.data, self.shop.plan)
        job = replace(
            job,
            machine=deepcopy(job.machine),
            setup=deepcopy(job.setup),
            stand_alone=not len(job.trace),
        )
        return job.with_program(_read_in_bulk(self.data)) if in_bulk else job

    def is_sound(self) -> bool:
        """Whether a run would let the job come to its first step."""
        job = self.job()
        found = [*examine(job.program, job.trace, "mm"), *job.trace.findings]
        names = {finding.name for finding in found if finding.severity is Severity.REFUSE}
        return names <= (MENDABLE | {"no-motion"} if job.stand_alone else MENDABLE)

    def with_data(self, data: bytes) -> Case:
        """The same case with another job."""
        return replace(self, data=data)


def _read_in_bulk(data: bytes) -> Program:
    """A program whose lines were read with array operations, however short it is."""
    program = Program.read(data, NAME)
    for piece in program.pieces:
        piece.text.chunks = (read_columns(data.removeprefix(BOM), 0),)
    return program
