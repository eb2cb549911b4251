"""Talk on standard error, data on standard output. Colour only for a terminal that wants it, and
for a terminal lines are folded to its width; whoever else reads gets them as they are."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Mapping, Sequence
from shutil import get_terminal_size
from typing import TYPE_CHECKING, TextIO

import click

from headrace.findings import Finding, Severity, render
from headrace.findings.text import few, folded

if TYPE_CHECKING:
    from headrace.batch import Prepared

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
        rest = printable(render(finding, _width(sys.stderr))).removeprefix(word)
        shown = click.style(word, fg=_COLOURS[finding.severity], bold=True)
        click.echo(f"{chr(10) if number else ''}{shown}{rest}", err=True, color=colour)
        names = of.get(finding, ())
        if names and (finding.place is None or finding.place.file not in names):
            talk(f"    in: {few(names)}")


def printable(text: str) -> str:
    """Text with the control characters of its sources made harmless to a terminal."""
    if text.isprintable():
        return text
    return "".join(c if c == "\n" or c.isprintable() else "�" for c in text)


def _fitted(text: str, stream: TextIO) -> str:
    """Text as it goes to a stream."""
    width = _width(stream)
    if width is None:
        return printable(text)
    return "\n".join(part for line in printable(text).split("\n") for part in folded(line, width))


def _width(stream: TextIO) -> int | None:
    """The columns of a terminal; None for anything else."""
    return get_terminal_size().columns if stream.isatty() else None


def talk(text: str) -> None:
    """A line to standard error."""
    click.echo(_fitted(text, sys.stderr), err=True)


def data(text: str) -> None:
    """A line to standard output."""
    click.echo(_fitted(text, sys.stdout))


def many(lines: Iterable[str]) -> None:
    """Lines to standard output, many at a time."""
    waiting: list[str] = []
    for line in lines:
        waiting.append(_fitted(line, sys.stdout))
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


def tell(prepared: Prepared, quiet: bool, lines: bool = True) -> None:
    """A run's lines to standard output, unless something else is to go there; its findings and
    summary to standard error."""
    from headrace.report.outcomes import summary

    shown = tell_files(prepared, quiet, lines)
    if not quiet or prepared.exit_code:
        if shown:
            talk("")
        for line in summary(prepared):
            talk(line)


def tell_sheet(prepared: Prepared, quiet: bool, lines: bool = True) -> None:
    """The same of a run that wrote nothing but a run sheet."""
    from headrace.report.outcomes import paper_line
    from headrace.report.sheet_text import sheet_line

    if lines and not quiet:
        for file in prepared.files:
            data(sheet_line(file))
        if prepared.paper is not None:
            data(paper_line(prepared.paper))
    _tell_findings(prepared, quiet)


def tell_files(prepared: Prepared, quiet: bool, lines: bool = True) -> bool:
    """The same without the summary; whether there were findings."""
    from headrace.report.outcomes import asked_lines, file_line, paper_line, proof_line

    if lines and not quiet:
        for file in prepared.files:
            data(file_line(file))
            for line in asked_lines(file.record):
                data(f"  {line}")
            if file.record.proof is not None:
                data(f"  {proof_line(file.record.proof)}")
        if prepared.paper is not None:
            data(paper_line(prepared.paper))
    return _tell_findings(prepared, quiet)


def _tell_findings(prepared: Prepared, quiet: bool) -> bool:
    """The findings of a run, each with the jobs that it is of; whether there were any."""
    from headrace.cli.ending import debugging
    from headrace.report.outcomes import weighty

    records = [file.record for file in prepared.files]
    of: dict[Finding, list[str]] = {}
    for record in records:
        for finding in dict.fromkeys(record.findings):
            of.setdefault(finding, []).append(record.name)
    shown = weighty([*prepared.findings, *of], quiet)
    say(shown, of)
    if debugging():
        for details in (*(record.details for record in records), prepared.details):
            if details:
                talk(details)
    return bool(shown)
