"""How the command ends: errors in words, never as a traceback, and an exit code for each."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable

import click

from headrace.errors import HeadraceError

INTERNAL, INTERRUPTED, PIPE_CLOSED = 70, 130, 141


class PipeClosed(Exception):
    """Whoever read the output has gone."""


def ended(run: Callable[[], object]) -> int:
    """The exit code of `run`. With HEADRACE_DEBUG=1 the details of errors are shown too."""
    try:
        code = run()
        sys.stdout.flush()
        return code if isinstance(code, int) else 0
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (KeyboardInterrupt, click.Abort):
        click.echo("interrupted; unfinished files were taken away", err=True)
        return INTERRUPTED
    except (PipeClosed, BrokenPipeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        return PIPE_CLOSED
    except HeadraceError as error:
        from headrace.cli.talking import say

        say(error.findings)
        if not error.findings:
            click.echo(f"error: {error.message}", err=True)
        _details()
        return error.exit_code
    except Exception as error:
        said = f"{type(error).__name__}: {error}".splitlines()[0]
        click.echo(f"error: a fault of headrace itself: {said}", err=True)
        if not _details():
            click.echo("   do: set HEADRACE_DEBUG=1 to see the details", err=True)
        return INTERNAL


def debugging() -> bool:
    """Whether details are wanted."""
    return os.environ.get("HEADRACE_DEBUG", "") not in ("", "0")


def _details() -> bool:
    if not debugging():
        return False
    import traceback

    click.echo(traceback.format_exc(), err=True)
    return True
