"""Recipes for scripts: prepare jobs in memory, or a whole card, with all that a command does.

recipe = load_recipe("recipes/bench-lids.yaml", ["setup.sheet.thickness.most=18.4"])
for result in recipe.prepare(["recipes/jobs/lid.nc"]):
    print(result.name, "refused" if result.refused else result.proof)
card = recipe.write(["recipes/jobs"], "card")
assert card.ready, card.findings
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from headrace.batch import JobFile, collect_jobs, prepare_folder
from headrace.batch.engines import Processes, Serial
from headrace.batch.inspection import Inspected, inspected
from headrace.batch.outcomes import all_or_none
from headrace.card.entry import Proved
from headrace.errors import JobRefused
from headrace.findings import Finding
from headrace.machine import Machine, Setup
from headrace.report.plain import fate_of

if TYPE_CHECKING:
    from headrace.batch import Prepared
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan

AnyPath: TypeAlias = "str | PathLike[str]"


@dataclass(frozen=True, slots=True)
class Result:
    """What a recipe makes of a job, or of one part of it: a card file in memory.

    `name` is its name on a card, `source` the job's; None for a card file that has no job. `data`
    are its bytes; None where it is refused, and then `findings` say why. `steps` are those that
    ran. `proof` is what was compared with the job, where there is one.
    """

    name: str
    source: str | None
    data: bytes | None
    findings: tuple[Finding, ...]
    steps: tuple[str, ...]
    proof: Proved | None

    @property
    def refused(self) -> bool:
        """Whether nothing may be written of it."""
        return self.data is None


@dataclass(frozen=True, slots=True)
class CardResult:
    """What became of a file on a card.

    `name` is its name there, `source` that of the job or of the recipe's own card file. `fate` is
    `written`, `replaced` or `unchanged`; `refused`, `stopped-by-plugin`, `not-written` or
    `stopped-by-fault` where the card does not hold what follows from the job.
    """

    name: str | None
    source: str
    fate: str
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class CardRun:
    """What came of preparing a card: its files in run order, what else was found, and the exit
    code that the command would have had."""

    files: tuple[CardResult, ...]
    findings: tuple[Finding, ...]
    exit_code: int

    @property
    def ready(self) -> bool:
        """Whether every job is on the card as it follows from the recipe."""
        return self.exit_code == 0


@dataclass(frozen=True)
class Recipe:
    """A recipe with its machine and its set-up, read, checked and ready to be carried out.

    `faults` are installed plugins that could not be loaded; a recipe that needs one of them is
    refused.
    """

    path: Path
    name: str
    description: str
    machine: Machine
    setup: Setup
    steps: tuple[str, ...]
    faults: tuple[Finding, ...]
    _plan: Plan = field(repr=False, compare=False)
    _registry: Registry = field(repr=False, compare=False)

    def prepare(self, jobs: AnyPath | Iterable[AnyPath] = ()) -> tuple[Result, ...]:
        """What becomes of the recipe's own card files, and of one job file or several. Nothing is
        written.

        Raises JobRefused where a job cannot be read, PluginError where a transform is at fault.
        A job that is not fit raises nothing: its result is refused.
        """
        files, _ = collect_jobs([_job_file(job) for job in _paths(jobs)])
        return self._results(files)

    def prepare_bytes(self, data: bytes, name: str = "job.nc") -> tuple[Result, ...]:
        """What becomes of a job that is no file: one result, or as many as the recipe's steps make
        of it. Raises PluginError where a transform is at fault."""
        results = self._results([JobFile(name, Path(name), held=data)])
        return tuple(result for result in results if result.source is not None)

    def write(
        self,
        jobs: AnyPath | Iterable[AnyPath],
        card: AnyPath,
        *,
        sheet: AnyPath | None = None,
        afresh: bool = False,
        workers: int = 1,
    ) -> CardRun:
        """Prepare jobs, which are files or folders of them, and write those that are fit to the
        folder `card`, as `headrace prepare` does; the run sheet goes to `sheet`.

        Only what has changed is made again, unless all is to be `afresh`. With more than one of
        `workers` processes are started, which on some systems run the main module of the script
        anew: keep what it does behind `if __name__ == "__main__":` then.

        Raises CardError where the card is not fit; then no file on it has changed, or the error
        says which have.
        """
        paths = _paths(jobs)
        files, passed = _collected(paths)
        prepared = prepare_folder(
            self._plan,
            self._registry,
            files,
            Path(card),
            engine=Serial() if workers < 2 else Processes(workers),
            afresh=afresh,
            folders=[path for path in paths if path.is_dir()],
            sheet=None if sheet is None else Path(sheet),
        )
        return _card_run(prepared, passed)

    def _results(self, jobs: Sequence[JobFile]) -> tuple[Result, ...]:
        seen = tuple(inspected(self._plan, self._registry, jobs))
        return tuple(_result(each) for each in all_or_none(seen))


def load_recipe(path: AnyPath, overrides: Iterable[str] = ()) -> Recipe:
    """The recipe at `path`; `overrides` are values instead of the files' own, such as
    `setup.sheet.thickness.most=18.4`.

    Raises RecipeError with every finding when the recipe or a file that it names is at fault,
    PluginError when only a plugin is. Python files that the recipe names run where this user
    trusts them.
    """
    from headrace.batch.engines.kit import with_python_files
    from headrace.plugins.registry import load_registry
    from headrace.recipe import load_plan

    installed = load_registry()
    plan = load_plan(Path(path), installed, tuple(overrides))
    return Recipe(
        path=plan.recipe,
        name=plan.name,
        description=plan.description,
        machine=plan.machine,
        setup=plan.setup,
        steps=tuple(step.name for step in plan.steps),
        faults=installed.faults,
        _plan=plan,
        _registry=with_python_files(installed, plan),
    )


def _paths(jobs: AnyPath | Iterable[AnyPath]) -> list[Path]:
    return [Path(jobs)] if isinstance(jobs, str | PathLike) else [Path(job) for job in jobs]


def _job_file(path: Path) -> Path:
    if path.is_dir():
        what = f"{path} is a folder, and what becomes of a job is asked of files"
        raise JobRefused(findings=[Finding.of("job-unreadable", what, remedy="name its jobs")])
    return path


def _collected(paths: Sequence[Path]) -> tuple[Sequence[JobFile], Sequence[Finding]]:
    """The jobs among files and folders, and what was passed over. Raises JobRefused where a folder
    cannot be looked at."""
    try:
        return collect_jobs(paths)
    except OSError as error:
        what = f"{error.filename} cannot be listed: {error.strerror}"
        raise JobRefused(findings=[Finding.of("job-unreadable", what)]) from error


def _result(seen: Inspected) -> Result:
    outcome = seen.outcome
    result = None if outcome is None else outcome.result
    proof = None if outcome is None else outcome.proof
    return Result(
        name=seen.card_name,
        source=None if seen.job is None else seen.name,
        data=None if result is None else result.to_bytes(),
        findings=seen.findings,
        steps=() if outcome is None else tuple(step.label for step in outcome.steps),
        proof=None if proof is None else Proved.of(proof),
    )


def _card_run(prepared: Prepared, passed: Iterable[Finding]) -> CardRun:
    files = tuple(
        CardResult(
            name=None if file.naming is None else file.naming.name,
            source=file.record.name,
            fate=fate_of(file),
            findings=file.record.findings,
        )
        for file in prepared.files
    )
    return CardRun(files, (*passed, *prepared.findings), prepared.exit_code)
