"""The command and its sub-commands, each loaded when it is used."""

from __future__ import annotations

import sys
from importlib import import_module
from typing import Any, NoReturn

import click

from headrace import __version__
from headrace.cli.ending import PipeClosed, ended

SUMMARIES = {
    "check": "Say whether a recipe and jobs, or jobs alone, are fit; write nothing.",
    "explain": "List all findings, or tell what one means, with an example.",
    "plan": "Show what a recipe would do to jobs; write nothing.",
    "prepare": "Prepare jobs by a recipe and write them to a card folder.",
    "schema": "Print the JSON Schema of a kind of file, for editors.",
    "transforms": "List the transforms that recipes may name, or tell all about one.",
}
"""The sub-commands, here so that the help needs none of them."""


class Commands(click.Group):
    """Sub-commands by their names; the module of each has its name too."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        return sorted(SUMMARIES)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        if cmd_name not in SUMMARIES:
            return None
        command = import_module(f"headrace.cli.{cmd_name}").command
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        with formatter.section("Commands"):
            formatter.write_dl(sorted(SUMMARIES.items()))

    def invoke(self, ctx: click.Context) -> Any:
        """Run the sub-command. What click would end with code 1, which means a refused job here,
        is told apart."""
        try:
            return super().invoke(ctx)
        except BrokenPipeError as error:
            raise PipeClosed from error

    def main(self, *args: Any, **extra: Any) -> NoReturn:
        """Run, turn whatever happens into words and an exit code, and end the process."""
        extra["standalone_mode"] = False
        sys.exit(ended(lambda: super(Commands, self).main(*args, **extra)))


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, message="%(prog)s %(version)s")
@click.pass_context
def headrace(ctx: click.Context) -> None:
    """Prepare CAM jobs for one described machine: recipe in, card folder out."""
    from headrace.cli.talking import plain_wanted

    if plain_wanted():
        ctx.color = False
