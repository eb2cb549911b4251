"""A machine file given other bytes: all of them, or none."""

from __future__ import annotations

from pathlib import Path

from headrace import whole_file
from headrace.errors import RecipeError
from headrace.findings import Finding, Place
from headrace.whole_file import Change, FileKept


def exchange(path: Path, before: bytes, after: bytes) -> None:
    """Give a machine file that holds `before` the bytes `after`, and keep who may read it.

    Raises RecipeError, with the file as it was, where that cannot be done.
    """
    try:
        whole_file.exchange({path: Change(before, after)})
    except FileKept as kept:
        place = Place(str(path), 1)
        raise RecipeError(findings=[Finding.of("machine-file-kept", str(kept), place)]) from kept
