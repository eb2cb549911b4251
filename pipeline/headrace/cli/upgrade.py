"""headrace upgrade: files of older formats in the newest one."""

from __future__ import annotations

from pathlib import Path

import click

from headrace.cli import choices
from headrace.cli.asked import Asked, json_option
from headrace.cli.shared import quiet_option


@click.command("upgrade", short_help="Rewrite recipes of older formats in the newest one.")
@click.argument(
    "files", nargs=-1, required=True, shell_complete=choices.recipes,
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
)  # fmt: skip
@click.option("--write", is_flag=True, help="Write what is shown; without it nothing is written.")
@quiet_option
@json_option
def command(asked: Asked, files: tuple[Path, ...], write: bool, quiet: bool) -> int:
    """Show what FILES need in order to be of the newest format, as a unified difference; with
    --write, write it.

    FILES are recipes, machine files and set-up files. What has to change is changed where it
    stands; every other byte stays, comments and order too, and the file means the same as before.
    All are read before one is written, and if one of them is at fault none is written. Files that
    they name are left alone; parents of an older format are told.

    \b
        headrace upgrade recipes/lids.yaml
        headrace upgrade --write recipes/*.yaml recipes/shared/base.yaml
    """
    from headrace.cli.talking import exact, say, talk
    from headrace.recipe.upgrading import upgrade_files, written
    from headrace.report.outcomes import weighty
    from headrace.report.plain_upgrade import upgrade_data
    from headrace.report.upgrade_text import difference, upgraded_line

    upgraded, parents = upgrade_files(files)
    if write:
        written(upgraded)
    if asked.text and not quiet:
        for file in upgraded:
            for part in difference(file):
                exact(part)
    say(weighty(parents, quiet))
    if not quiet:
        for file in upgraded:
            talk(upgraded_line(file, write))
    asked.answer(lambda: upgrade_data(upgraded, parents, write))
    return 0
