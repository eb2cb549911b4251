"""headrace timed: what a watch said of a job, kept in the machine file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from headrace.cli import choices
from headrace.cli.asked import Asked, json_option
from headrace.cli.shared import planned, quiet_option, recipe_argument, set_option
from headrace.errors import JobRefused

if TYPE_CHECKING:
    from headrace.batch.looking import Look
    from headrace.findings import Finding


def _seconds(_ctx: click.Context, _param: click.Parameter, text: str) -> float:
    from headrace.timing.reading import seconds_of

    seconds = seconds_of(text)
    if seconds is None or not 0 < seconds < 1e6:
        raise click.BadParameter(f"{text!r} is no time: write 12:34, 1:02:10 or seconds")
    return seconds


@click.command("timed", short_help="Tell how long a job took, so that planned times become true.")
@recipe_argument
@click.argument(
    "job", type=click.Path(exists=True, dir_okay=False, path_type=Path), shell_complete=choices.jobs
)  # fmt: skip
@click.argument("took", callback=_seconds)
@click.option(
    "--file", "name", metavar="NAME",
    help="Which card file was run, where the recipe makes several of the job.",
)  # fmt: skip
@click.option("--check", "checking", is_flag=True, help="Show what would change; write nothing.")
@set_option
@quiet_option
@json_option
def command(
    asked: Asked,
    recipe: Path,
    job: Path,
    took: float,
    name: str | None,
    checking: bool,
    overrides: tuple[str, ...],
    quiet: bool,
) -> int:
    """Compare how long JOB took on the machine with the planned time.

    TOOK is what the watch shows: 12:34, 1:02:10 or seconds, for the whole card file, with the watch
    stopped while the machine homes and at every pause, and the feed at 100 % on the panel. A run of
    some minutes tells most.

    The job is prepared by RECIPE, in memory. By how many times motion took longer than planned goes
    into the machine file that RECIPE names, as `timing`; every other byte of it stays, and the
    change is shown as a unified difference. Planned times go by it from then on, and no card file
    changes.

    \b
        headrace timed recipes/bench-lids.yaml recipes/jobs/lid.nc 11:20
        headrace timed --check recipes/bench-lids.yaml recipes/jobs/lid.nc 11:20
    """
    from headrace.cli.talking import exact, say, talk
    from headrace.report.plain_timed import timed_data
    from headrace.report.timed_text import change, run_line
    from headrace.timing.entry import machine_file, with_run
    from headrace.timing.exchanging import exchange
    from headrace.timing.watched import watched

    look, findings = _looked_at(recipe, job, overrides, name)
    say(findings)
    run = watched(look.job, took, look.name)
    path = machine_file(recipe)
    before = path.read_bytes()
    after = with_run(before, run, path)
    if not checking:
        exchange(path, before, after)
    if asked.text and not quiet:
        for line in change(before, after, path):
            exact(line)
    if not quiet:
        talk(run_line(run, path, not checking))
    asked.answer(lambda: timed_data(run, path, recipe, findings, not checking))
    return 0


def _looked_at(
    recipe: Path, job: Path, overrides: tuple[str, ...], name: str | None
) -> tuple[Look, list[Finding]]:
    """What the recipe makes of the job, under the name of the job, or of the one card file of
    several that is meant; and what was found.

    Raises JobRefused where it is refused, UsageError where it is not clear which one is meant.
    """
    from headrace.batch.looking import looked_at
    from headrace.batch.sources import name_of
    from headrace.recipe.override import read_overrides

    plan, registry, faults = planned(recipe, overrides)
    if any(each.target == "machine" for each in read_overrides(overrides)):
        what = "--set machine. makes another machine of it than the file describes, in which the"
        raise click.UsageError(f"{what} run is kept: change the machine file itself")
    looks = list(looked_at(job, plan, registry))
    told = dict.fromkeys(finding for look in looks for finding in look.findings)
    if any(look.refused for look in looks):
        raise JobRefused(findings=told)
    found = [*faults, *told]
    if name is None and len(looks) == 1:
        return replace(looks[0], name=name_of(job)), found
    meant = [look for look in looks if name is not None and look.name.upper() == name.upper()]
    if not meant:
        names = " or ".join(look.name for look in looks)
        raise click.UsageError(f"name the card file that was run: --file {names}")
    return meant[0], found
