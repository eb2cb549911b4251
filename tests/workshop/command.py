"""The command line within this process."""

from __future__ import annotations

from click.testing import CliRunner, Result

from headrace.cli.group import headrace


def run(*args: object) -> Result:
    """What `headrace` answers to these words."""
    return CliRunner().invoke(headrace, [str(arg) for arg in args])
