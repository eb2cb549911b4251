"""A small workshop in a folder of its own, in which commands are run in this process."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from headrace.cli import talking
from headrace.cli.group import headrace as command
from headrace.findings import CATALOGUE, Finding, render
from headrace.findings.example import Example

HIVES = "/hives"
"""What the workshop's folder is called in what is shown."""


@dataclass(frozen=True)
class Ran:
    """What a command said and how it ended; `card` tells whether it wrote to the card."""

    findings: tuple[Finding, ...]
    exit_code: int
    card_touched: bool
    output: str

    def of(self, name: str) -> list[Finding]:
        return [finding for finding in self.findings if finding.name == name]


@dataclass(frozen=True)
class Trial:
    """The workshop of an example; `folder` is empty at first, and is where commands are run."""

    folder: Path
    example: Example
    patch: pytest.MonkeyPatch

    @property
    def card(self) -> Path:
        return self.folder / "card"

    def lay(self, files: Mapping[str, bytes]) -> None:
        self.card.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            path = self.folder / name
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(content)

    def run(self, line: str) -> Ran:
        """A command line, behind the word `headrace`."""
        told: list[Finding] = []
        say = talking.say

        def heard(findings: Iterable[Finding], of: Mapping[Finding, Sequence[str]] = {}) -> None:
            kept = list(findings)
            told.extend(kept)
            say(kept, of)

        before = self._held()
        with self.patch.context() as patch:
            patch.chdir(self.folder)
            patch.setattr(talking, "say", heard)
            result = CliRunner().invoke(command, shlex.split(line))
        return Ran(tuple(told), result.exit_code, self._held() != before, result.output)

    def _held(self) -> dict[str, bytes]:
        """Everything on the card."""
        return {path.name: path.read_bytes() for path in self.card.glob("*") if path.is_file()}

    def said(self, finding: Finding) -> list[str]:
        """A finding as it is shown, without the lines that every finding of its kind has."""
        kind = CATALOGUE[finding.name]
        own = replace(
            finding,
            why="" if finding.why == kind.why else finding.why,
            remedy="" if finding.remedy == kind.remedy else finding.remedy,
        )
        return render(own).replace(str(self.folder), HIVES).splitlines()
