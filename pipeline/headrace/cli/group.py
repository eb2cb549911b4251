"""The command and its sub-commands, each loaded when it is used."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import TYPE_CHECKING, Any, NoReturn

import click

from headrace import __version__
from headrace.cli.asked import Asked
from headrace.cli.ending import PipeClosed, ended

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

SUMMARIES = {
    "check": "Say whether a recipe and jobs, or jobs alone, are fit; write nothing.",
    "completion": "Print what makes a shell complete the command's words.",
    "describe": "Describe your machine: an interview that writes its file.",
    "explain": "List all findings, or tell what one means, with an example.",
    "keep": "Keep what a recipe makes of jobs, or check that it still does.",
    "new": "Begin a recipe, a transform or a package of transforms.",
    "origin": "Tell which file and line each value of a recipe is from.",
    "picture": "Draw what one file does, as SVG or PNG.",
    "plan": "Show what a recipe would do to jobs; write nothing.",
    "prepare": "Prepare jobs by a recipe and write them to a card folder.",
    "recheck": "Check the recipes that changed files lead to.",
    "schema": "Print the JSON Schema of a kind of file, for editors.",
    "sheet": "Write the run sheet of a prepared card: one page to take along.",
    "show": "Show what one file does, also without a machine; write nothing.",
    "timed": "Tell how long a job took, so that planned times become true.",
    "transforms": "List the transforms that recipes may name, or tell all about one.",
    "trust": "Let Python files that recipes name run, or no longer.",
    "upgrade": "Rewrite recipes of older formats in the newest one.",
    "verify": "Say whether a card holds what was written to it.",
    "watch": "Prepare jobs whenever they, or the recipe, change.",
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

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem[str]]:
        """The sub-commands that begin so, without loading them, and options."""
        from click.shell_completion import CompletionItem

        named = [
            CompletionItem(name, help=summary)
            for name, summary in sorted(SUMMARIES.items())
            if name.startswith(incomplete)
        ]
        return named + click.Command.shell_complete(self, ctx, incomplete)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the sub-command. What click would end with code 1, which means a refused job here,
        is told apart."""
        try:
            return super().invoke(ctx)
        except BrokenPipeError as error:
            raise PipeClosed from error

    def main(self, args: Sequence[str] | None = None, **extra: Any) -> NoReturn:  # type: ignore[override]
        """Run, turn whatever happens into words and an exit code, and end the process."""
        if "_HEADRACE_COMPLETE" in os.environ:  # a shell asks, and not a person
            import headrace.cli.completion  # noqa: F401
        words = sys.argv[1:] if args is None else list(args)
        asked = Asked.of(words, SUMMARIES)
        extra |= {"standalone_mode": False, "obj": asked}
        sys.exit(ended(lambda: super(Commands, self).main(words, **extra), asked))


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, message="%(prog)s %(version)s")
@click.option(
    "--no-python", is_flag=True,
    help="Run no Python file that a recipe names, trusted or not; as HEADRACE_PYTHON=off.",
)  # fmt: skip
@click.pass_context
def headrace(ctx: click.Context, no_python: bool) -> None:
    """Prepare CAM jobs for one described machine: recipe in, card folder out."""
    from headrace.cli.python_switch import set_switch
    from headrace.cli.talking import plain_wanted

    set_switch(ctx, no_python)
    if plain_wanted():
        ctx.color = False
