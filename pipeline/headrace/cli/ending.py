"""How the command ends: errors in words, never as a traceback, and an exit code for each."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from contextlib import suppress

import click

from headrace.cli.asked import Asked
from headrace.errors import HeadraceError

INTERNAL, INTERRUPTED, PIPE_CLOSED, TERMINATED = 70, 130, 141, 143


class PipeClosed(Exception):
    """Whoever read the output has gone."""


class Terminated(KeyboardInterrupt):
    """The system asks the process to end: it ends as when it is interrupted."""


def heed_termination() -> None:
    """From now on let SIGTERM raise Terminated."""
    import signal

    def terminated(_number: int, _frame: object) -> None:
        raise Terminated

    signal.signal(signal.SIGTERM, terminated)


def ended(run: Callable[[], object], asked: Asked) -> int:
    """The exit code of `run`. With HEADRACE_DEBUG=1 the details of errors are shown too."""
    try:
        return _told(run, asked)
    except (PipeClosed, BrokenPipeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        return PIPE_CLOSED
    except OSError as error:  # not even that could be told: the disk that it goes to may be full
        with suppress(OSError):
            os.write(2, f"error: {error}\n".encode(errors="replace"))
        return INTERNAL


def _told(run: Callable[[], object], asked: Asked) -> int:
    """Errors in words on standard error, and in the forms that are asked for."""
    try:
        code = run()
        sys.stdout.flush()
        return code if isinstance(code, int) else 0
    except click.ClickException as error:
        error.show()
        return asked.ended(error.exit_code, error.format_message())
    except (KeyboardInterrupt, click.Abort) as error:
        # click gives an interruption another name, and tells of the first one as its cause
        by_system = isinstance(error, Terminated) or isinstance(error.__cause__, Terminated)
        code, how = (TERMINATED, "ended") if by_system else (INTERRUPTED, "interrupted")
        said = f"{how}; nothing unfinished is left behind"
        click.echo(said, err=True)
        return asked.ended(code, said)
    except (PipeClosed, BrokenPipeError):
        raise
    except HeadraceError as error:
        from headrace.cli.talking import say

        say(error.findings)
        if not error.findings:
            click.echo(f"error: {error.message}", err=True)
        _details()
        return asked.ended(error.exit_code, error.message, error.findings)
    except Exception as error:
        fault = f"{type(error).__name__}: {error}".splitlines()[0]
        said = f"a fault of headrace itself: {fault}"
        click.echo(f"error: {said}", err=True)
        if not _details():
            click.echo("   do: set HEADRACE_DEBUG=1 to see the details", err=True)
        return asked.ended(INTERNAL, said)


def debugging() -> bool:
    """Whether details are wanted."""
    return os.environ.get("HEADRACE_DEBUG", "") not in ("", "0")


def _details() -> bool:
    if not debugging():
        return False
    import traceback

    click.echo(traceback.format_exc(), err=True)
    return True
