"""headrace prepare: jobs by a recipe to a card folder."""

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


@click.command("prepare", short_help="Prepare jobs by a recipe and write them to a card folder.")
@recipe_argument
@jobs_argument(required=False)
@click.option(
    "--card", required=True, type=click.Path(path_type=Path), metavar="DIR",
    help="The card folder; it must be there.",
)  # fmt: skip
@set_option
@workers_option
@quiet_option
def command(
    recipe: Path,
    jobs: tuple[Path, ...],
    card: Path,
    overrides: tuple[str, ...],
    workers: int | None,
    quiet: bool,
) -> int:
    """Prepare JOBS by RECIPE and write them to a card folder.

    JOBS are files, or folders whose .nc .ngc .tap .gcode .cnc files are taken. Each job is written
    whole or not at all; one that is refused does not keep the others back. Nothing on the card is
    overwritten that headrace did not write, and nothing is deleted.

    \b
        headrace prepare recipes/bench-lids.yaml recipes/jobs/lid.nc --card card
    """
    from headrace.batch import prepare_folder
    from headrace.batch.pool import get_ready, size_of
    from headrace.cli.talking import progress, tell

    files, passed = collected(jobs)
    get_ready([size_of(file.path) for file in files], workers)
    plan, registry, faults = planned(recipe, overrides)
    if not files and not plan.card_files:
        raise click.UsageError("there are no jobs, and the recipe has no card files of its own")
    with progress(len(files) + len(plan.card_files), "preparing", quiet) as told:
        prepared = prepare_folder(plan, registry, files, card, workers=workers, told=told)
    tell(replace(prepared, findings=(*faults, *passed, *prepared.findings)), quiet)
    return prepared.exit_code
