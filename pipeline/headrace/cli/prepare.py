"""headrace prepare: jobs by a recipe to a card folder."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from headrace.cli import choices
from headrace.cli.asked import Asked, json_option, sarif_option
from headrace.cli.shared import (
    card_option,
    cluster_option,
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


@click.command("prepare", short_help="Prepare jobs by a recipe and write them to a card folder.")
@recipe_argument
@jobs_argument(required=False)
@card_option("The card folder; it must be there.")
@click.option(
    "--sheet", type=click.Path(path_type=Path), metavar="FILE", shell_complete=choices.pages,
    help="Write the run sheet too: one page for whoever stands at the machine. An earlier run sheet"
    " there is replaced, nothing else ever.",
)  # fmt: skip
@set_option
@click.option(
    "--afresh",
    is_flag=True,
    help="Prepare everything again, also what must come out as it stands on the card.",
)
@workers_option
@cluster_option
@quiet_option
@sarif_option
@json_option
def command(
    asked: Asked,
    recipe: Path,
    jobs: tuple[Path, ...],
    card: Path,
    sheet: Path | None,
    overrides: tuple[str, ...],
    afresh: bool,
    workers: int | None,
    cluster: str | None,
    quiet: bool,
) -> int:
    """Prepare JOBS by RECIPE and write them to a card folder.

    JOBS are files, or folders whose .nc .ngc .tap .gcode .cnc files are taken. Each job is written
    whole or not at all; one that is refused does not keep the others back. Nothing on the card is
    overwritten that headrace did not write, and nothing is deleted.

    What stands on the card already is left alone where nothing has changed since: the job, what
    recipe, machine and set-up say, the plugins, headrace itself.

    With --sheet, all jobs are gone through, and a page with pictures, pauses, times and what to
    check tells of the files that are on the card then. It is written last, whole or not at all; it
    may lie in the card folder itself, under a name that the machine's reader can take.

    \b
        headrace prepare recipes/bench-lids.yaml recipes/jobs/lid.nc --card card
    """
    from headrace.batch import prepare_folder
    from headrace.batch.engines import get_ready, size_of
    from headrace.cli.progress import progress
    from headrace.cli.talking import tell
    from headrace.report.plain import prepare_data
    from headrace.report.sarif import told_in

    files, passed = collected(jobs)
    if cluster is None:
        get_ready([size_of(file.path) for file in files], workers)
    plan, registry, faults = planned(recipe, overrides)
    need_work(files, plan)
    count = len(files) + len(plan.card_files)
    with engine_for(workers, cluster) as engine, progress(count, "preparing", quiet) as told:
        prepared = prepare_folder(
            plan, registry, files, card, engine=engine, told=told, afresh=afresh,
            folders=[path for path in jobs if path.is_dir()], sheet=sheet,
        )  # fmt: skip
    prepared = replace(prepared, findings=(*faults, *passed, *prepared.findings))
    tell(prepared, quiet, asked.text)
    asked.log(prepared.exit_code, lambda: told_in(prepared, files, plan))
    asked.answer(lambda: prepare_data(prepared, plan, card))
    return prepared.exit_code
