"""headrace transforms: what recipes may name."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from headrace.cli.asked import Asked, json_option
from headrace.cli.choices import transform_names

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.plugins.transform import Transform


@click.command(
    "transforms", short_help="List the transforms that recipes may name, or tell all about one."
)
@click.argument("name", required=False, shell_complete=transform_names)
@json_option
def command(asked: Asked, name: str | None) -> int:
    """List the transforms that recipes may name; with NAME, tell all about one.

    The list has a transform a line: its name and what it is for. A plugin that cannot be loaded
    is reported, and the exit code is 4 then.
    """
    from headrace.cli.talking import many, say
    from headrace.plugins.registry import load_registry
    from headrace.report.plain_transforms import transforms_data
    from headrace.report.transform_text import described, listed

    registry = load_registry()
    told = list(registry.transforms.values()) if name is None else [_known(name, registry)]
    if asked.text:
        many(listed(told) if name is None else described(told[0]))
    say(registry.faults)
    code = 4 if registry.faults else 0
    asked.answer(lambda: transforms_data(told, registry.faults, code))
    return code


def _known(name: str, registry: Registry) -> Transform:
    """The transform of this name. Raises UsageError for one that is none, with the nearest."""
    if name in registry.transforms:
        return registry.transforms[name]
    from difflib import get_close_matches

    near = get_close_matches(name, registry.transforms, 1)
    all_known = "`headrace transforms` shows all that are installed"
    hint = f"did you mean {near[0]!r}?" if near else all_known
    raise click.UsageError(f"there is no transform {name!r}; {hint}")
