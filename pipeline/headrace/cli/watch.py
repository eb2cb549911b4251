"""headrace watch: prepare jobs, and again whatever follows from a change."""

from __future__ import annotations

from contextlib import closing
from functools import partial
from pathlib import Path

import click

from headrace.cli.asked import Asked, json_option
from headrace.cli.shared import (
    card_option,
    engine_for,
    jobs_argument,
    quiet_option,
    recipe_argument,
    set_option,
    workers_option,
)


@click.command("watch", short_help="Prepare jobs whenever they, or the recipe, change.")
@recipe_argument
@jobs_argument(required=True)
@card_option("The card folder.")
@set_option
@workers_option
@quiet_option
@json_option
def command(
    asked: Asked,
    recipe: Path,
    jobs: tuple[Path, ...],
    card: Path,
    overrides: tuple[str, ...],
    workers: int | None,
    quiet: bool,
) -> int:
    """Prepare JOBS by RECIPE as `headrace prepare` does, then wait; whenever a job, the recipe or a
    file that it names changes, appears or goes, prepare what follows from that. Ctrl-C ends it.

    A job is taken when it has been at rest for a moment, so that none is read half written. The
    recipe may be broken and the card away for a while: that is said, and taken up again when it is
    mended. Between two changes the card is left alone.

    \b
        headrace watch recipes/bench-lids.yaml recipes/jobs --card card
    """
    from headrace.batch.watching import Given, Watch
    from headrace.cli.leave import ask_ahead
    from headrace.cli.talking import talk, tell_files
    from headrace.plugins.registry import load_registry
    from headrace.recipe.override import read_overrides
    from headrace.report.plain import watch_data

    _need_watchfiles()
    read_overrides(overrides)  # what is wrong with these cannot be mended in a file
    given = Given.of(recipe, jobs, card, overrides)
    ask_ahead(recipe, overrides)
    installed = load_registry()
    code = 0
    with (
        engine_for(workers) as engine,
        closing(Watch(given, installed, engine=engine).answers()) as answers,
    ):
        for answer in answers:
            code = answer.exit_code
            tell_files(answer.prepared, quiet, asked.text)
            if not quiet:
                talk(answer.state)
            asked.line(partial(watch_data, answer, recipe, card))
    return code


def _need_watchfiles() -> None:
    from importlib.util import find_spec

    if find_spec("watchfiles") is None:
        what = "watching needs the library watchfiles, which is not installed"
        raise click.UsageError(f"{what}: pip install 'headrace[watch]'")
