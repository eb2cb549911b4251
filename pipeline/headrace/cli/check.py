"""headrace check: is a recipe fit, and are jobs fit for it? Or jobs alone, for a machine?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from headrace.cli import choices
from headrace.cli.asked import Asked, json_option, sarif_option
from headrace.cli.shared import (
    collected,
    engine_for,
    planned,
    quiet_option,
    set_option,
    workers_option,
)
from headrace.findings import Finding, Severity

if TYPE_CHECKING:
    from headrace.batch import JobFile
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan

_RECIPES = (".yaml", ".yml")
_file = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command(
    "check", short_help="Say whether a recipe and jobs, or jobs alone, are fit; write nothing."
)
@click.argument(
    "paths", nargs=-1, metavar="[RECIPE] [JOBS]...", type=click.Path(exists=True, path_type=Path),
    shell_complete=choices.recipes_and_jobs,
)  # fmt: skip
@click.option(
    "--machine", type=_file, metavar="FILE", shell_complete=choices.recipes,
    help="Check the jobs alone, without a recipe, on the machine that this file describes.",
)  # fmt: skip
@click.option(
    "--setup", type=_file, metavar="FILE", shell_complete=choices.recipes,
    help="With --machine: what is on the machine. Nothing is known of it if not given.",
)  # fmt: skip
@click.option(
    "--units", type=click.Choice(["mm", "inch"]),
    help="With --machine: the unit of lengths in jobs that state none.",
)  # fmt: skip
@set_option
@workers_option
@quiet_option
@sarif_option
@json_option
def command(
    asked: Asked,
    paths: tuple[Path, ...],
    machine: Path | None,
    setup: Path | None,
    units: str | None,
    overrides: tuple[str, ...],
    workers: int | None,
    quiet: bool,
) -> int:
    """Check RECIPE with its machine and set-up, and JOBS against it; write nothing.

    All that is wrong with the recipe is told at once. With JOBS, each goes through every step, as
    for the card.

    With --machine there is no recipe: JOBS are looked at as they are, one by one, as they would
    run on the machine when nothing is known of it yet. So any file can be checked, also one that
    was written by hand or prepared before.

    \b
        headrace check recipes/bench-lids.yaml recipes/jobs/lid.nc
        headrace check --machine recipes/machines/shop-relay.yaml card
    """
    if machine is None:
        recipe, *jobs = _with_recipe(paths, setup, units)
        return _by_recipe(asked, recipe, jobs, overrides, workers, quiet)
    return _alone(asked, _without_recipe(paths), machine, setup, units, overrides, workers, quiet)


def _with_recipe(paths: Sequence[Path], setup: Path | None, units: str | None) -> Sequence[Path]:
    """The recipe and the jobs. Raises UsageError for what makes sense without a recipe only."""
    from headrace.batch.sources import EXTENSIONS

    if setup is not None:
        raise click.UsageError("--setup goes with --machine; a recipe names its own set-up")
    if units is not None:
        raise click.UsageError("--units goes with --machine; a recipe has `assume: {units: mm}`")
    if not paths:
        raise click.UsageError("name a recipe; or a machine with --machine, and jobs")
    if paths[0].is_dir() or paths[0].suffix.lower() in EXTENSIONS:
        what = "a folder" if paths[0].is_dir() else "a job"
        ways = "name the recipe first, or the machine with --machine"
        raise click.UsageError(f"{paths[0]} is {what}, no recipe: {ways}")
    return paths


def _without_recipe(paths: Sequence[Path]) -> Sequence[Path]:
    """The jobs. Raises UsageError where one of them is a recipe, or none is given."""
    for path in paths:
        if path.suffix.lower() in _RECIPES and not path.is_dir():
            raise click.UsageError(f"{path} is no job; with --machine there is no recipe")
    if not paths:
        raise click.UsageError("there are no jobs; with --machine name those to be checked")
    return paths


def _by_recipe(
    asked: Asked,
    recipe: Path,
    jobs: Sequence[Path],
    overrides: Sequence[str],
    workers: int | None,
    quiet: bool,
) -> int:
    from headrace.batch import Prepared
    from headrace.batch.engines import get_ready, size_of
    from headrace.cli.leave import known_registry
    from headrace.cli.talking import data, say
    from headrace.recipe import check_recipe
    from headrace.recipe.older import older_formats
    from headrace.report.outcomes import weighty
    from headrace.report.plain import check_data, faults_data
    from headrace.report.sarif import told_of

    files, passed = collected(jobs)
    get_ready([size_of(file.path) for file in files], workers)
    findings = check_recipe(recipe, known_registry(), overrides)
    if any(finding.severity is Severity.REFUSE for finding in findings):
        code = _code(findings)
        say(findings)
        asked.log(code, lambda: told_of(findings))
        asked.answer(lambda: faults_data(recipe, findings, code))
        return code
    plan, registry, faults = planned(recipe, overrides)
    findings += older_formats(recipe)
    if not files and not plan.card_files:
        told = [*findings, *faults]
        say(weighty(told, quiet))
        if asked.text and not quiet:
            data(f"{recipe}: fine, {len(plan.steps)} steps for {plan.machine.name}")
        asked.log(0, lambda: told_of(told))
        asked.answer(lambda: check_data(Prepared((), tuple(told)), plan))
        return 0
    told = [*findings, *faults, *passed]
    return _examined(asked, plan, registry, files, told, workers, quiet)


def _alone(
    asked: Asked,
    jobs: Sequence[Path],
    machine: Path,
    setup: Path | None,
    units: str | None,
    overrides: Sequence[str],
    workers: int | None,
    quiet: bool,
) -> int:
    from headrace.batch.engines import get_ready, size_of
    from headrace.plugins.registry import load_registry
    from headrace.recipe import load_alone

    files, passed = collected(jobs)
    get_ready([size_of(file.path) for file in files], workers)
    plan = load_alone(machine, setup, units, overrides)
    return _examined(asked, plan, load_registry(), files, passed, workers, quiet)


def _examined(
    asked: Asked,
    plan: Plan,
    registry: Registry,
    files: tuple[JobFile, ...],
    findings: Sequence[Finding],
    workers: int | None,
    quiet: bool,
) -> int:
    from headrace.batch import examine_jobs
    from headrace.cli.progress import progress
    from headrace.cli.talking import tell
    from headrace.report.plain import check_data
    from headrace.report.sarif import told_in

    count = len(files) + len(plan.card_files)
    with engine_for(workers) as engine, progress(count, "checking", quiet) as told:
        prepared = examine_jobs(plan, registry, files, engine=engine, told=told)
    prepared = replace(prepared, findings=tuple(findings))
    tell(prepared, quiet, asked.text)
    asked.log(prepared.exit_code, lambda: told_in(prepared, files, plan))
    asked.answer(lambda: check_data(prepared, plan))
    return prepared.exit_code


def _code(findings: list[Finding]) -> int:
    """4 where nothing but a plugin is at fault, else 3."""
    return 4 if all(finding.id.startswith("HRP") for finding in findings) else 3
