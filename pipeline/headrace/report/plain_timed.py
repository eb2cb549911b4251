"""A timed run as plain data."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.report.plain import Data, finding_list

if TYPE_CHECKING:
    from headrace.findings import Finding
    from headrace.machine import TimedRun


def timed_data(
    run: TimedRun, machine: Path, recipe: Path, findings: Iterable[Finding], written: bool
) -> Data:
    """A run that was held against its plan; `written` tells whether the machine file has it."""
    return {
        "format": "headrace-timed/1",
        "exit-code": 0,
        "recipe": str(recipe),
        "machine-file": str(machine),
        "written": written,
        "job": run.job,
        "took": run.took,
        "planned": run.planned,
        "factor": run.factor,
        "findings": finding_list(findings),
    }
