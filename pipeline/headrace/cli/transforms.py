"""headrace transforms: what recipes may name."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry


@click.command(
    "transforms", short_help="List the transforms that recipes may name, or tell all about one."
)
@click.argument("name", required=False)
def command(name: str | None) -> int:
    """List the transforms that recipes may name; with NAME, tell all about one.

    The list has a transform a line: its name and what it is for. A plugin that cannot be loaded
    is reported, and the exit code is 4 then.
    """
    from headrace.cli.talking import data, say
    from headrace.plugins.registry import load_registry
    from headrace.report.transform_text import described

    registry = load_registry()
    if name is None:
        wide = max((len(known) for known in registry.transforms), default=0)
        for known, transform in registry.transforms.items():
            data(f"{known:<{wide}}  {transform.summary}")
    else:
        _known(name, registry)
        for line in described(registry.transforms[name]):
            data(line)
    say(registry.faults)
    return 4 if registry.faults else 0


def _known(name: str, registry: Registry) -> None:
    """Raise UsageError for a name that is none, with the nearest that is one."""
    if name in registry.transforms:
        return
    from difflib import get_close_matches

    near = get_close_matches(name, registry.transforms, 1)
    hint = f"did you mean {near[0]!r}?" if near else "see `headrace transforms` for all"
    raise click.UsageError(f"there is no transform {name!r}; {hint}")
