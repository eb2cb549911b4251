"""Outcomes of a case: what a recipe makes of its jobs now, in memory, with a list of them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from headrace.batch.inspection import Inspected, inspected
from headrace.batch.kept import Case, Kept, KeptFile, counted_from
from headrace.batch.origin import Origins, codes_of
from headrace.batch.parts import part_unready
from headrace.batch.sources import JobFile
from headrace.card.entry import Proved
from headrace.card.origin import origin_data
from headrace.card.writing import Content
from headrace.errors import HeadraceError
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.program import Program
    from headrace.recipe import Plan


@dataclass(frozen=True, slots=True)
class Made:
    """Outcomes made now: their list, and the program of each that was not refused, by its name."""

    kept: Kept
    programs: Mapping[str, Program]

    def data_of(self, name: str) -> bytes | None:
        """The bytes of an outcome; None where there are none."""
        return self.programs[name].to_bytes() if name in self.programs else None


def make(plan: Plan, registry: Registry, jobs: Sequence[JobFile], case: Case, folder: Path) -> Made:
    """The outcomes of a case, whose list is to stand in `folder`; nothing is written.

    Raises HeadraceError where an outcome is none that could be kept: where a plugin or headrace
    itself fails, or a job cannot be read.
    """
    seen = tuple(inspected(plan, registry, jobs))
    files, programs = [], {}
    shown = _Paths(plan, folder)
    for each in all_or_none(seen):
        file = _file(each)
        files.append(replace(file, findings=tuple(map(shown.finding, file.findings))))
        if each.outcome is not None and each.outcome.result is not None:
            programs[file.name] = each.outcome.result
    kept = Kept(
        recipe=counted_from(folder, case.recipe),
        jobs=tuple(counted_from(folder, job) for job in case.jobs),
        overrides=case.overrides,
        made_by=_origin(plan, registry),
        values=_values(plan),
        files=tuple(files),
    )
    return Made(kept, programs)


def all_or_none(seen: Sequence[Inspected]) -> Iterator[Inspected]:
    """All outcomes, where no part of a job is one unless all are. Raises HeadraceError."""
    refused: dict[Path, str] = {}
    for each in seen:
        if each.exit_code not in (0, 1) or any(f.name == "job-unreadable" for f in each.findings):
            raise _as_error(each)
        if each.job is not None and each.job.part is not None and each.exit_code:
            refused.setdefault(each.job.path, each.name)
    for each in seen:
        other = None if each.job is None else refused.get(each.job.path)
        if other is None or each.exit_code:
            yield each
        else:
            findings = (*each.findings, part_unready(each.name, other))
            yield replace(each, findings=findings, exit_code=1, outcome=None)


def _as_error(seen: Inspected) -> HeadraceError:
    kinds = {kind.exit_code: kind for kind in HeadraceError.__subclasses__()}
    return kinds.get(seen.exit_code, HeadraceError)(findings=seen.findings)


def _file(seen: Inspected) -> KeptFile:
    outcome = seen.outcome
    result = None if outcome is None else outcome.result
    proof = None if outcome is None else outcome.proof
    return KeptFile(
        name=seen.card_name,
        source=None if seen.job is None else seen.name,
        job=None if seen.job is None else Content.of(seen.job.path.read_bytes()),
        content=None if result is None else Content.of(*result.parts()),
        steps=() if outcome is None else tuple(step.label for step in outcome.steps),
        proof=None if proof is None else Proved.of(proof),
        findings=seen.findings,
    )


class _Paths:
    """Findings with the paths of a plan's files as the list of a folder holds them, so that they
    are the same wherever the command is run."""

    def __init__(self, plan: Plan, folder: Path) -> None:
        files = plan.sources + plan.python_files
        self.names = {str(path): counted_from(folder, path) for path in files}
        either = "|".join(re.escape(name) for name in sorted(self.names, key=len, reverse=True))
        self.any = re.compile(rf"(?<![\w./\\-])(?:{either})(?![\w/\\-])")

    def finding(self, finding: Finding) -> Finding:
        place = finding.place
        if place is not None:
            place = replace(place, file=self.names.get(place.file, place.file))
        return replace(
            finding,
            what=self.text(finding.what),
            why=self.text(finding.why),
            remedy=self.text(finding.remedy),
            place=place,
        )

    def text(self, text: str) -> str:
        return self.any.sub(lambda found: self.names[found[0]], text)


def _origin(plan: Plan, registry: Registry) -> dict[str, Any]:
    """What all outcomes follow from besides the jobs, by names, versions and digests."""
    steps = [*plan.steps, *(step for file in plan.card_files for step in file.steps)]
    origin = Origins.of(plan, registry).jobs
    return origin_data(replace(origin, plugins=codes_of(steps, registry)))


def _values(plan: Plan) -> dict[str, Any]:
    """What recipe, machine and set-up say, as `--set` would name it."""
    values = plan.values
    return {**values.recipe, "machine": values.machine, "setup": values.setup}
