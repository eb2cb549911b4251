"""headrace check: is a recipe fit, and are jobs fit for it?"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from headrace.cli.shared import (
    collected,
    jobs_argument,
    planned,
    quiet_option,
    recipe_argument,
    set_option,
    workers_option,
)
from headrace.findings import Finding, Severity


@click.command(
    "check", short_help="Say whether a recipe, and jobs with it, are fit; write nothing."
)
@recipe_argument
@jobs_argument(required=False)
@set_option
@workers_option
@quiet_option
def command(
    recipe: Path,
    jobs: tuple[Path, ...],
    overrides: tuple[str, ...],
    workers: int | None,
    quiet: bool,
) -> int:
    """Check RECIPE with its machine and set-up, and JOBS against it; write nothing.

    All that is wrong with the recipe is told at once. With JOBS, each goes through every step, as
    for the card.
    """
    from headrace.batch.pool import get_ready, size_of
    from headrace.cli.talking import data, progress, say, tell
    from headrace.plugins.registry import load_registry
    from headrace.recipe import check_recipe

    files, passed = collected(jobs)
    get_ready([size_of(file.path) for file in files], workers)
    findings = check_recipe(recipe, load_registry(), overrides)
    if findings:
        say(findings)
        if any(finding.severity is Severity.REFUSE for finding in findings):
            return _code(findings)
    plan, registry, faults = planned(recipe, overrides)
    if not files and not plan.card_files:
        say(faults)
        if not quiet:
            data(f"{recipe}: fine, {len(plan.steps)} steps for {plan.machine.name}")
        return 0
    from headrace.batch import examine_jobs

    with progress(len(files) + len(plan.card_files), "checking", quiet) as told:
        prepared = examine_jobs(plan, registry, files, workers=workers, told=told)
    tell(replace(prepared, findings=(*faults, *passed)), quiet)
    return prepared.exit_code


def _code(findings: list[Finding]) -> int:
    """4 where nothing but a plugin is at fault, else 3."""
    return 4 if all(finding.id.startswith("HRP") for finding in findings) else 3
