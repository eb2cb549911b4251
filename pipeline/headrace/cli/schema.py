"""headrace schema: the JSON Schemas of what people write, and of what headrace prints."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from headrace.cli import choices
from headrace.cli.asked import Asked, json_option
from headrace.report.schema import NAMES

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry

WRITTEN_BY_PEOPLE = ("recipe", "machine", "setup")
KINDS = (*WRITTEN_BY_PEOPLE, *NAMES)


@click.command("schema", short_help="Print the JSON Schema of a kind of file, for editors.")
@click.argument(
    "kind", required=False, metavar="[KIND]", type=click.Choice(KINDS),
    shell_complete=choices.schema_names,
)  # fmt: skip
@click.option(
    "--for", "recipes", multiple=True, metavar="RECIPE",
    type=click.Path(exists=True, path_type=Path), shell_complete=choices.recipes,
    help="Add the steps of the Python files that this recipe names, or the recipes in this folder."
    " May be given several times.",
)  # fmt: skip
@click.option(
    "--to", "folder", type=click.Path(path_type=Path), metavar="FOLDER",
    shell_complete=choices.folders,
    help="Write those of recipe, machine and setup to FOLDER, which is made if it is not there."
    " Schemas that headrace wrote there before are replaced, nothing else ever.",
)  # fmt: skip
@json_option
def command(asked: Asked, kind: str | None, recipes: tuple[Path, ...], folder: Path | None) -> int:
    """Print the JSON Schema (2020-12) of KIND, which is a recipe if not given.

    That of a recipe holds the options of every installed transform, so that an editor completes
    and checks them without a network. The other files that people write are machine and setup, and
    those that headrace writes card-list and kept-list. The name of a command stands for what that
    prints with --json, and error for what any of them prints where an error ends it.

    An editor finds the files by a first line such as this, with the path from the YAML file:

    \b
        # yaml-language-server: $schema=schemas/recipe.json

    \b
        headrace schema --to schemas
        headrace schema --to recipes/schemas --for recipes
    """
    if folder is None:
        _print(kind or "recipe", recipes)
        return 0
    if kind is not None:
        raise click.UsageError(f"--to writes all three of them: leave {kind} out")
    _write(asked, folder, recipes)
    return 0


def _print(kind: str, recipes: Sequence[Path]) -> None:
    if recipes and kind != "recipe":
        raise click.UsageError(f"--for adds steps to the schema of a recipe; {kind} has none")
    if kind in WRITTEN_BY_PEOPLE:
        from headrace.recipe.schema_export import full_schema
        from headrace.recipe.schema_files import schema_file

        text = schema_file(full_schema(kind, _registry(recipes))).decode()
        click.echo(text, nl=False)
        return
    import json

    from headrace.report.schema import output_schema

    click.echo(json.dumps(output_schema(kind), indent=2, ensure_ascii=False))


def _write(asked: Asked, folder: Path, recipes: Sequence[Path]) -> None:
    """Write the three files, all of them or none. Raises UsageError for what is in the way."""
    from headrace.cli.talking import data
    from headrace.recipe.schema_files import schema_files, write_schemas
    from headrace.report.plain_schema import schema_data
    from headrace.whole_file import FileKept

    files = schema_files(_registry(recipes))
    try:
        fates = write_schemas(folder, files)
    except FileKept as error:
        raise click.UsageError(f"{error}; nothing is written") from error
    if asked.text:
        for path, fate in fates.items():
            data(f"{path}  {fate}")
    asked.answer(lambda: schema_data(fates))


def _registry(recipes: Sequence[Path]) -> Registry:
    """All installed transforms, and those that the recipes bring."""
    from headrace.cli.leave import known_registry
    from headrace.recipe.schema_export import with_own_transforms

    try:
        return with_own_transforms(known_registry(), recipes)
    except OSError as error:
        raise click.UsageError(f"{error.filename} cannot be listed: {error.strerror}") from error
