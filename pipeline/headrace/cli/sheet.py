"""headrace sheet: the run sheet of a card that was prepared."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from headrace.cli import choices
from headrace.cli.asked import Asked, json_option
from headrace.cli.shared import (
    card_option,
    collected,
    engine_for,
    jobs_argument,
    need_work,
    planned,
    quiet_option,
    recipe_argument,
    set_option,
    workers_option,
)


@click.command(
    "sheet", short_help="Write the run sheet of a prepared card: one page to take along."
)
@recipe_argument
@jobs_argument(required=False)
@card_option("The card folder that was prepared; its files are compared, and left as they are.")
@click.option(
    "--to", "target", required=True, type=click.Path(path_type=Path), metavar="FILE",
    shell_complete=choices.pages,
    help="The page; an earlier run sheet there is replaced, nothing else ever.",
)  # fmt: skip
@set_option
@workers_option
@quiet_option
@json_option
def command(
    asked: Asked,
    recipe: Path,
    jobs: tuple[Path, ...],
    card: Path,
    target: Path,
    overrides: tuple[str, ...],
    workers: int | None,
    quiet: bool,
) -> int:
    """Write the run sheet of CARD, which RECIPE has made of JOBS: one page, with pictures, for
    whoever stands at the machine.

    Everything is gone through once more, in memory, and each file on the card must be what comes
    of it, byte for byte: else the exit code is 5, and no page is written. So the page always tells
    of the files that the machine will run. Jobs that are refused are on it as refused.

    The page may lie in the card folder itself, under a name that the machine's reader can take.

    \b
        headrace sheet recipes/bench-lids.yaml recipes/jobs/lid.nc --card card --to lids.html
    """
    from headrace.batch.card_sheet import sheet_of_card
    from headrace.batch.engines import get_ready, size_of
    from headrace.cli.progress import progress
    from headrace.cli.talking import tell_sheet
    from headrace.report.plain_sheet import sheet_data

    files, passed = collected(jobs)
    get_ready([size_of(file.path) for file in files], workers)
    plan, registry, faults = planned(recipe, overrides)
    need_work(files, plan)
    count = len(files) + len(plan.card_files)
    with engine_for(workers) as engine, progress(count, "going through", quiet) as told:
        prepared = sheet_of_card(plan, registry, files, card, target, engine=engine, told=told)
    prepared = replace(prepared, findings=(*faults, *passed, *prepared.findings))
    tell_sheet(prepared, quiet, asked.text)
    asked.answer(lambda: sheet_data(prepared, plan, card))
    return prepared.exit_code
