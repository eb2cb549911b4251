"""Answers for programs: one JSON document on standard output, a SARIF log, or both.

They are there however a command ends: also where it was misused, and where an error ended it.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Container, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import takewhile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from headrace.findings import Finding
    from headrace.report.sarif import Told


WITH_LOG = ("check", "prepare")
"""The commands that take `--sarif`."""


@dataclass(frozen=True, slots=True)
class Asked:
    """In which forms a command line asks for its answer. `command` is the sub-command, where one
    is named; `sarif` is where the log goes, `-` for standard output."""

    command: str | None = None
    json: bool = False
    sarif: str | None = None

    @classmethod
    def of(cls, words: Sequence[str], commands: Container[str]) -> Asked:
        """What the words of a command line ask for; it need not be a right one."""
        options = list(takewhile(lambda word: word != "--", words))
        first = next((word for word in options if not word.startswith("-")), None)
        command = first if first in commands else None
        sarif = _value_of("--sarif", options) if command in WITH_LOG else None
        return cls(command, "--json" in options, sarif)

    @property
    def text(self) -> bool:
        """Whether standard output is for people."""
        return not self.json and self.sarif != "-"

    def answer(self, document: Callable[[], dict[str, Any]]) -> None:
        """Print a document, where that is asked for."""
        if self.json:
            from headrace.report.plain import text_of

            click.echo(text_of(document()))

    def line(self, document: Callable[[], dict[str, Any]]) -> None:
        """Print one document of several, a line each, where that is asked for."""
        if self.json:
            from headrace.report.plain import text_of

            click.echo(text_of(document(), in_one_line=True))

    def log(self, exit_code: int, told: Callable[[], Iterable[Told]], said: str = "") -> None:
        """Write the SARIF log, where that is asked for. `said` is what ended the command, where
        no finding tells it.

        Raises UsageError where it cannot be written.
        """
        if self.sarif is None:
            return
        from headrace.report.sarif import sarif_log

        text = json.dumps(sarif_log(list(told()), exit_code, said), indent=1) + "\n"
        if self.sarif == "-":
            click.echo(text, nl=False)
        else:
            _written(Path(self.sarif), text)

    def ended(self, exit_code: int, said: str, findings: Sequence[Finding] = ()) -> int:
        """Answer for a command that an error has ended; its exit code."""
        from headrace.report.plain import error_data
        from headrace.report.sarif import told_of

        give = self.line if self.command == "watch" else self.answer
        give(lambda: error_data(self.command, exit_code, said, findings))
        if not (self.json and self.sarif == "-"):
            with suppress(click.UsageError):  # it has been told already
                self.log(exit_code, lambda: told_of(findings), "" if findings else said)
        return exit_code


def _value_of(option: str, words: Sequence[str]) -> str | None:
    """What the last such option is given, as the next word or behind a sign of equality."""
    value = None
    for word, following in zip(words, [*words, None][1:], strict=True):
        if word == option:
            value = following
        elif word.startswith(f"{option}="):
            value = word.removeprefix(f"{option}=")
    return value


def json_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """The option `--json`; the command gets what is asked for as its first argument."""
    told = "Print one JSON document instead of text; `headrace schema` describes it."
    option = click.option("--json", is_flag=True, expose_value=False, help=told)
    return option(click.pass_obj(command))


def sarif_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """The option `--sarif`, for a command that has `--json` as well."""
    told = "Write the findings to FILE as SARIF 2.1.0; `-` means standard output, without text."
    return click.option(
        "--sarif", metavar="FILE", expose_value=False, callback=_judged, help=told
    )(command)  # fmt: skip


def _judged(ctx: click.Context, _option: click.Parameter, target: str | None) -> None:
    if target == "-" and ctx.obj.json:
        raise click.UsageError("standard output holds one document: --json or --sarif -, not both")
    if target not in (None, "-"):
        _refuse_unfit(Path(str(target)))


def _refuse_unfit(path: Path) -> None:
    """Raise UsageError where a log cannot go there, or something else would be lost."""
    if not path.parent.is_dir():
        raise click.UsageError(f"{path.parent} is no folder, so the SARIF log cannot go there")
    if os.path.lexists(path) and not _is_our_log(path):
        what = f"{path} is there and is no SARIF log that headrace wrote"
        raise click.UsageError(f"{what}: name another file, or move that one away")


def _is_our_log(path: Path) -> bool:
    try:
        log = json.loads(path.read_bytes())
        return path.is_file() and log["runs"][0]["tool"]["driver"]["name"] == "headrace"
    except (OSError, ValueError, KeyError, IndexError, TypeError, RecursionError):
        return False


def _written(path: Path, text: str) -> None:
    """The whole file or none."""
    from headrace.whole_file import staged

    _refuse_unfit(path)
    try:
        with staged(path, text.encode("ascii")) as waiting:
            waiting.replace(path)
    except OSError as error:
        what = f"the SARIF log {path} cannot be written: {error.strerror or error}"
        raise click.UsageError(what) from error
