"""What a timed run has changed, in lines."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.report.diff import name_from_here, rewritten
from headrace.timing.reading import watch_text

if TYPE_CHECKING:
    from headrace.machine import TimedRun


def change(before: bytes, after: bytes, path: Path) -> Iterator[bytes]:
    """The unified difference of a machine file; nothing where both are equal."""
    return rewritten(before, after, name_from_here(path))


def run_line(run: TimedRun, path: Path, written: bool) -> str:
    """What the run says, and what came of it."""
    took, planned = watch_text(run.took), watch_text(run.planned)
    what = f"{run.job}: {planned} planned, {took} by the watch; motion takes {run.factor:g} times"
    if not written:
        return f"{what} as long; nothing is written"
    return f"{what} as long; {path.name} says so now"
