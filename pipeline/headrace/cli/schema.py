"""headrace schema: the JSON Schemas of what people write, and of what headrace prints."""

from __future__ import annotations

import json

import click

from headrace.cli.asked import json_option
from headrace.cli.choices import schema_names
from headrace.report.schema import NAMES

WRITTEN_BY_PEOPLE = ("recipe", "machine", "setup")
KINDS = (*WRITTEN_BY_PEOPLE, *NAMES)


@click.command("schema", short_help="Print the JSON Schema of a kind of file, for editors.")
@click.argument(
    "kind", default="recipe", metavar="[KIND]", type=click.Choice(KINDS),
    shell_complete=schema_names,
)  # fmt: skip
@json_option
def command(_asked: object, kind: str) -> int:
    """Print the JSON Schema (2020-12) of KIND, which is a recipe if not given.

    That of a recipe holds the options of every installed transform, so that an editor completes
    and checks them without a network. The other files that people write are machine and setup, and
    those that headrace writes card-list and kept-list. The name of a command stands for what that
    prints with --json, and error for what any of them prints where an error ends it.
    """
    click.echo(json.dumps(_schema(kind), indent=2, ensure_ascii=False))
    return 0


def _schema(kind: str) -> dict[str, object]:
    if kind not in WRITTEN_BY_PEOPLE:
        from headrace.report.schema import output_schema

        return output_schema(kind)
    from headrace.plugins.registry import load_registry
    from headrace.recipe.schema_export import full_schema

    return full_schema(kind, load_registry())
