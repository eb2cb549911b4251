"""What came of a whole run."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from headrace.batch.record import Record
from headrace.card.delivery import Fate
from headrace.card.names import Naming
from headrace.findings import Finding


@dataclass(frozen=True, slots=True)
class Written:
    """A file of the run: its record, its name on the card, and what became of it there.

    `naming` is None where nothing was to be written; `fate` is None where nothing was.
    """

    record: Record
    naming: Naming | None = None
    fate: Fate | None = None


@dataclass(frozen=True, slots=True)
class Paper:
    """A run sheet that was written: where to, and what became of what was there."""

    path: Path
    fate: Fate


@dataclass(frozen=True, slots=True)
class Prepared:
    """A whole run: its files in run order, and what else there is to tell.

    `paper` is the run sheet, where one was written; `fault` is the exit code of what kept it from
    being written, 0 for nothing; `details` of that are for whoever mends headrace.
    """

    files: tuple[Written, ...]
    findings: tuple[Finding, ...] = ()
    paper: Paper | None = None
    fault: int = 0
    details: str = ""

    @property
    def exit_code(self) -> int:
        """The gravest of all codes."""
        return max((self.fault, *(file.record.exit_code for file in self.files)))
