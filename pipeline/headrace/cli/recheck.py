"""headrace recheck: the recipes that changed files lead to."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from headrace.cli.asked import Asked, json_option
from headrace.cli.shared import quiet_option

if TYPE_CHECKING:
    from headrace.findings import Finding


@click.command("recheck", short_help="Check the recipes that changed files lead to.")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--below", default=".", metavar="FOLDER",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Where recipes are looked for; the working folder if not given.",
)  # fmt: skip
@quiet_option
@json_option
def command(asked: Asked, files: tuple[Path, ...], below: Path, quiet: bool) -> int:
    """Check every recipe that reads one of FILES: as itself, as a parent, a machine, a set-up or a
    Python file. Nothing is written.

    FILES are those that have changed; one that is gone counts too. A machine or a set-up that no
    recipe names is checked by itself, and files that are nothing of headrace's are passed over. So
    it fits what version control calls before a commit: see .pre-commit-hooks.yaml.

    \b
        headrace recheck recipes/machines/shop-relay.yaml
    """
    from headrace.cli.leave import known_registry
    from headrace.cli.talking import data, say, talk
    from headrace.findings import Severity
    from headrace.recipe.dependents import dependents, description_findings, recipe_findings
    from headrace.report.plain_recheck import recheck_data

    try:
        found = dependents(files, below)
    except OSError as error:
        raise click.UsageError(f"{error.filename} cannot be listed: {error.strerror}") from error
    registry = known_registry()
    told: dict[Path, list[Finding]] = {}
    for recipe in found.recipes:
        told[recipe] = recipe_findings(recipe, registry, recipe in found.extended)
    for path, kind in found.alone:
        told[path] = list(description_findings(path, kind))
    findings = list(dict.fromkeys(each for some in told.values() for each in some))
    refused = [each for each in findings if each.severity is Severity.REFUSE]
    plugins_only = all(each.id.startswith("HRP") for each in refused)
    code = 0 if not refused else 4 if plugins_only else 3
    if asked.text and not quiet:
        for path, some in told.items():
            data(f"{path}: {'not fit' if some else 'fine'}")
    say(findings)
    if not quiet:
        talk(f"{len(told)} checked, {sum(map(bool, told.values()))} not fit; exit code {code}")
    asked.answer(lambda: recheck_data(told, found.others, code))
    return code
