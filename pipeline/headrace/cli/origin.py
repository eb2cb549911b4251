"""headrace origin: where each value of a recipe is from."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from headrace.cli.asked import Asked, json_option
from headrace.cli.shared import recipe_argument, set_option

if TYPE_CHECKING:
    from headrace.recipe.said import Said


@click.command("origin", short_help="Tell which file and line each value of a recipe is from.")
@recipe_argument
@click.argument("names", nargs=-1, metavar="[NAME]...")
@set_option
@json_option
def command(asked: Asked, recipe: Path, names: tuple[str, ...], overrides: tuple[str, ...]) -> int:
    """Tell for each value of RECIPE, of its parents, its machine and its set-up which file and line
    it is from; of several that say it, the one that counts. Nothing is run and nothing is written.

    NAME is a value, or all that lies below it, as --set calls it. Items of lists have numbers, from
    1. What nobody says is not here: `headrace transforms NAME` and `headrace schema` tell what
    holds then.

    \b
        headrace origin recipes/speed-window.yaml
        headrace origin recipes/speed-window.yaml steps machine.spindle
    """
    from headrace.cli.talking import many
    from headrace.errors import RecipeError
    from headrace.recipe import compose
    from headrace.recipe.said import said
    from headrace.report.origin_text import lines
    from headrace.report.plain_origin import origin_data

    composed, findings = compose(recipe, overrides)
    if composed is None or findings:
        raise RecipeError(findings=findings)
    values = _wanted(list(said(composed)), names)
    if asked.text:
        many(lines(values))
    asked.answer(lambda: origin_data(recipe, values))
    return 0


def _wanted(values: Sequence[Said], names: Sequence[str]) -> list[Said]:
    """Those of these names, and below them; all where none is asked for. Raises UsageError."""
    for name in names:
        if not any(_is_in(each.name, name) for each in values):
            raise click.UsageError(_unknown(name, values))
    return [each for each in values if not names or any(_is_in(each.name, n) for n in names)]


def _is_in(name: str, wanted: str) -> bool:
    return name == wanted or name.startswith(f"{wanted}.")


def _unknown(wanted: str, values: Sequence[Said]) -> str:
    from headrace.recipe.wording import nearest

    known: dict[str, None] = {}
    for each in values:
        parts = each.name.split(".")
        known |= dict.fromkeys(".".join(parts[:count]) for count in range(1, len(parts) + 1))
    close = nearest(wanted, known)
    hint = f"; did you mean {close!r}?" if close else ""
    return f"no file says anything of {wanted!r}{hint}"
