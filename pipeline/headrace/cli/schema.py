"""headrace schema: the JSON Schemas, with the options of all installed transforms."""

from __future__ import annotations

import json
from typing import Literal

import click


@click.command("schema", short_help="Print the JSON Schema of a kind of file, for editors.")
@click.argument("kind", default="recipe", type=click.Choice(["recipe", "machine", "setup"]))
def command(kind: Literal["recipe", "machine", "setup"]) -> int:
    """Print the JSON Schema (2020-12) of KIND, which is a recipe if not given.

    That of a recipe holds the options of every installed transform, so that an editor completes
    and checks them without a network.
    """
    from headrace.plugins.registry import load_registry
    from headrace.recipe.schema_export import full_schema

    click.echo(json.dumps(full_schema(kind, load_registry()), indent=2, ensure_ascii=False))
    return 0
