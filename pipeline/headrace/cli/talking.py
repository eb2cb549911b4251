"""Talk on standard error: findings, progress. Colour only for a terminal that wants it."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from headrace.findings import Finding, Severity, render

if TYPE_CHECKING:
    from headrace.batch import Prepared, Record

_FEW = 5
_AT_ONCE = 1000
_NOBODY: Mapping[Finding, Sequence[str]] = {}
_COLOURS = {Severity.REFUSE: "red", Severity.WARN: "yellow", Severity.NOTE: "cyan"}


def plain_wanted() -> bool:
    """Whether there are to be no colours and no moving text: NO_COLOR with any value, or a
    terminal that knows none."""
    return bool(os.environ.get("NO_COLOR")) or os.environ.get("TERM") == "dumb"


def say(findings: Iterable[Finding], of: Mapping[Finding, Sequence[str]] = _NOBODY) -> None:
    """Findings to standard error, a blank line between two; `of` names the jobs of a finding,
    which are told where its place does not."""
    colour = False if plain_wanted() else None
    for number, finding in enumerate(findings):
        word = str(finding.severity)
        rest = printable(render(finding)).removeprefix(word)
        shown = click.style(word, fg=_COLOURS[finding.severity], bold=True)
        click.echo(f"{chr(10) if number else ''}{shown}{rest}", err=True, color=colour)
        names = of.get(finding, ())
        if names and (finding.place is None or finding.place.file not in names):
            more = f" and {len(names) - _FEW} more" if len(names) > _FEW else ""
            click.echo(printable(f"    in: {', '.join(names[:_FEW])}{more}"), err=True)


def printable(text: str) -> str:
    """Text with the control characters of its sources made harmless to a terminal."""
    if text.isprintable():
        return text
    return "".join(c if c == "\n" or c.isprintable() else "�" for c in text)


def talk(text: str) -> None:
    """A line to standard error."""
    click.echo(printable(text), err=True)


def data(text: str) -> None:
    """A line to standard output."""
    click.echo(printable(text))


def many(lines: Iterable[str]) -> None:
    """Lines to standard output, many at a time."""
    waiting: list[str] = []
    for line in lines:
        waiting.append(printable(line))
        if len(waiting) == _AT_ONCE:
            click.echo("\n".join(waiting))
            waiting = []
    if waiting:
        click.echo("\n".join(waiting))


def exact(text: bytes) -> None:
    """Bytes to standard output as they are; for a terminal, harmless ones."""
    if sys.stdout.isatty():
        click.echo(printable(text.decode("utf-8", "replace").replace("\r\n", "\n")), nl=False)
    else:
        click.echo(text, nl=False)


@contextmanager
def progress(length: int, label: str, quiet: bool) -> Iterator[Callable[[Record], None]]:
    """A bar on standard error, where that is a terminal; gives what is to be told each record."""
    if quiet or length < 2 or plain_wanted() or not sys.stderr.isatty():
        yield lambda _record: None
        return
    bar: Any
    with click.progressbar(length=length, label=label, file=sys.stderr) as bar:
        yield lambda _record: bar.update(1)


def tell(prepared: Prepared, quiet: bool) -> None:
    """A run's lines to standard output, its findings and summary to standard error."""
    from headrace.cli.ending import debugging
    from headrace.report.outcomes import asked_lines, file_line, proof_line, summary, weighty

    if not quiet:
        for file in prepared.files:
            data(file_line(file))
            for line in asked_lines(file.record):
                data(f"  {line}")
            if file.record.proof is not None:
                data(f"  {proof_line(file.record.proof)}")
    records = [file.record for file in prepared.files]
    of: dict[Finding, list[str]] = {}
    for record in records:
        for finding in dict.fromkeys(record.findings):
            of.setdefault(finding, []).append(record.name)
    shown = weighty([*prepared.findings, *of], quiet)
    say(shown, of)
    if debugging():
        for record in records:
            if record.details:
                talk(record.details)
    if not quiet or prepared.exit_code:
        if shown:
            talk("")
        for line in summary(prepared):
            talk(line)
