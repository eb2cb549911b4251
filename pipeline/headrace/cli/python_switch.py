"""The switch for Python files that recipes name, as the command line and the environment set it."""

from __future__ import annotations

import os

import click

VARIABLE = "HEADRACE_PYTHON"
SETTINGS = ("off", "trusted", "any")


def set_switch(ctx: click.Context, off: bool) -> None:
    """Judge `HEADRACE_PYTHON`, and let it be `off` while the command runs where that is asked for.

    Raises UsageError for a value that it cannot have.
    """
    said = os.environ.get(VARIABLE)
    if said and said not in SETTINGS:
        words = f"{', '.join(SETTINGS[:-1])} or {SETTINGS[-1]}"
        raise click.UsageError(f"{VARIABLE} is {said!r}: it can be {words}, or not be set")
    if off:
        os.environ[VARIABLE] = "off"
        ctx.call_on_close(lambda: _restore(said))


def _restore(said: str | None) -> None:
    if said is None:
        del os.environ[VARIABLE]
    else:
        os.environ[VARIABLE] = said
