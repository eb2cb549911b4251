"""What `show` and `picture` take, and the file that they look at."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial, update_wrapper
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import click

from headrace.cli import choices
from headrace.cli.shared import set_option
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.batch.looking import Look

Looked: TypeAlias = "tuple[list[Look], list[Finding]]"
"""The files, and findings that belong to none of them."""

_file = click.Path(exists=True, dir_okay=False, path_type=Path)
_OPTIONS = (
    click.argument("file", type=_file, shell_complete=choices.jobs),
    click.option(
        "--recipe", type=_file, metavar="FILE", shell_complete=choices.recipes,
        help="Look at what this recipe makes of FILE, instead of at FILE as it is.",
    ),
    click.option(
        "--machine", type=_file, metavar="FILE", shell_complete=choices.recipes,
        help="The machine on which FILE, as it is, would run.",
    ),
    click.option(
        "--setup", type=_file, metavar="FILE", shell_complete=choices.recipes,
        help="With --machine: what is on the machine.",
    ),
    click.option(
        "--units", type=click.Choice(["mm", "inch"]),
        help="Without --recipe: the unit of lengths where FILE states none.",
    ),
    set_option,
)  # fmt: skip


def looking(command: Callable[..., Any]) -> Callable[..., Any]:
    """The arguments that say which file is looked at, and how; the command gets `looked`, which
    goes through the file when it is called: what came of it, and findings that belong to no file.
    """

    def with_looked(
        *args: Any,
        file: Path,
        recipe: Path | None,
        machine: Path | None,
        setup: Path | None,
        units: str | None,
        overrides: tuple[str, ...],
        **others: Any,
    ) -> int:
        _judged(recipe, machine, setup, units, overrides)
        looked = partial(_looks, file, recipe, machine, setup, units, overrides)
        return int(command(*args, file=file, looked=looked, **others))

    # with the options that it has already
    taken: Callable[..., Any] = update_wrapper(with_looked, command)
    for option in reversed(_OPTIONS):
        taken = option(taken)
    return taken


def _judged(
    recipe: Path | None,
    machine: Path | None,
    setup: Path | None,
    units: str | None,
    overrides: Sequence[str],
) -> None:
    """Raise UsageError for options that do not go together."""
    if recipe is not None:
        for given, name in ((machine, "--machine"), (setup, "--setup")):
            if given is not None:
                raise click.UsageError(f"{name} goes without --recipe; a recipe names its own")
        if units is not None:
            raise click.UsageError("--units goes without --recipe, which has `assume: {units: mm}`")
    elif machine is None:
        if setup is not None:
            raise click.UsageError("--setup goes with --machine")
        if overrides:
            raise click.UsageError("--set goes with --recipe or --machine")


def _looks(
    file: Path,
    recipe: Path | None,
    machine: Path | None,
    setup: Path | None,
    units: str | None,
    overrides: Sequence[str],
) -> Looked:
    from headrace.batch.looking import looked_at, looked_at_bare
    from headrace.cli.shared import planned
    from headrace.plugins.registry import load_registry
    from headrace.recipe import load_alone
    from headrace.recipe.bare import bare_plan

    if recipe is not None:
        plan, registry, faults = planned(recipe, overrides)
        return list(looked_at(file, plan, registry)), faults
    if machine is not None:
        plan = load_alone(machine, setup, units, overrides)
        return list(looked_at(file, plan, load_registry())), []
    return [looked_at_bare(file, bare_plan(units))], []
