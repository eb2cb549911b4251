"""One file to look at, as it stands or as a recipe makes it; nothing is written."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.batch.parts import in_parts
from headrace.batch.sources import JobFile, read_job
from headrace.card.names import card_names
from headrace.errors import JobRefused
from headrace.findings import Finding, Severity

if TYPE_CHECKING:
    from headrace.job import Job
    from headrace.outcome import Outcome
    from headrace.picture.drawing import Drawing
    from headrace.plugins.registry import Registry
    from headrace.program import Program
    from headrace.recipe import Plan
    from headrace.sheet.shown import Shown


@dataclass(frozen=True)
class Look:
    """A file: its `name`, and what it does as a `job` on the machine of `plan`.

    `source` is what CAM wrote, `made` whether the job is what the recipe's steps have made of that.
    `outcome` is missing where there is no machine on which the file could have been tried.
    """

    name: str
    plan: Plan
    job: Job
    source: Program
    made: bool
    findings: tuple[Finding, ...]
    outcome: Outcome | None

    @property
    def refused(self) -> bool:
        return any(finding.severity is Severity.REFUSE for finding in self.findings)


def looked_at(path: Path, plan: Plan, registry: Registry) -> Iterator[Look]:
    """The file, or each of the files that the plan's recipe makes of it. A file that is refused is
    shown as it comes.

    Raises JobRefused where it cannot be read, PluginError where a transform is at fault.
    """
    from headrace.intake import job_of
    from headrace.run import prepare_read

    jobs = in_parts([JobFile(path.name, path)], plan, registry)
    own = [card_file.name for card_file in plan.card_files]
    namings = card_names(own, [job.name for job in jobs], plan.machine.card)[len(own) :]
    for job, naming in zip(sorted(jobs, key=lambda job: job.name), namings, strict=True):
        came = job_of(job.whole or job.name, read_job(job), plan)
        outcome = prepare_read(came, plan, registry, job.part)
        made = outcome.result is not None and not plan.alone
        taken = outcome.job if made or plan.alone else None
        yield Look(
            name=naming.name if made else path.name,
            plan=plan,
            job=taken or came,
            source=outcome.source,
            made=made,
            findings=outcome.findings,
            outcome=outcome,
        )


def looked_at_bare(path: Path, plan: Plan) -> Look:
    """The file as its words alone tell, where the plan's machine is none. JobRefused."""
    from headrace.intake import job_of
    from headrace.language.suitability import examine
    from headrace.rehearsal.alone import alone_findings

    job = job_of(path.name, read_job(JobFile(path.name, path)), plan)
    found = examine(job.program, job.trace, plan.assumed.units)
    findings: Sequence[Finding] = [
        *alone_findings(found, job, plan.assumed.units),
        *job.trace.findings,
    ]
    return Look(path.name, plan, job, job.program, False, tuple(findings), None)


def facts_of(look: Look) -> Shown | None:
    """What the file does; None where it is none of its kind, so that nothing else about it
    matters."""
    from headrace.language.suitability import ALIEN
    from headrace.sheet.shown import shown

    if any(finding.name in ALIEN for finding in look.findings):
        return None
    return shown(look.job, look.source, look.plan.assumed, bare=look.outcome is None)


def drawing_of(look: Look, view: str) -> Drawing:
    """What the file does, as it is seen from `top` or from `side`.

    Raises JobRefused for a file of another kind, of which there is nothing to draw.
    """
    from headrace.language.suitability import ALIEN
    from headrace.picture.job import job_drawings

    alien = [finding for finding in look.findings if finding.name in ALIEN]
    if alien:
        raise JobRefused(findings=alien)
    return next(each for each in job_drawings(look.job, "hr") if each.view == view)
