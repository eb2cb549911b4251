"""What a timed run has changed, in lines."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import diff_bytes, unified_diff
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.timing.reading import watch_text

if TYPE_CHECKING:
    from headrace.machine import TimedRun


def change(before: bytes, after: bytes, path: Path) -> Iterator[bytes]:
    """The unified difference of a machine file, line by line; nothing where both are equal."""
    old, new = (data.splitlines(keepends=True) for data in (before, after))
    name = path.as_posix().encode("utf-8", "surrogateescape")
    for line in diff_bytes(unified_diff, old, new, b"a/" + name, b"b/" + name):
        yield line if line.endswith(b"\n") else line + b"\n\\ No newline at end of file\n"


def run_line(run: TimedRun, path: Path, written: bool) -> str:
    """What the run says, and what came of it."""
    took, planned = watch_text(run.took), watch_text(run.planned)
    what = f"{run.job}: {planned} planned, {took} by the watch; motion takes {run.factor:g} times"
    if not written:
        return f"{what} as long; nothing is written"
    return f"{what} as long; {path.name} says so now"
