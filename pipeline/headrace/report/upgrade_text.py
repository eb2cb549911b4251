"""Files in the newest format, in lines."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from headrace.report.diff import name_from_here, rewritten

if TYPE_CHECKING:
    from headrace.recipe.upgrading import Upgraded


def difference(file: Upgraded) -> Iterator[bytes]:
    """The unified difference; nothing where the file is of the newest format already."""
    return rewritten(file.before, file.after, name_from_here(file.path))


def upgraded_line(file: Upgraded, written: bool) -> str:
    """What comes of a file, or came of it."""
    if not file.changes:
        return f"{file.path}: {file.stated} is the newest; nothing to do"
    what = f"{file.path}: {file.stated} -> {file.newest}"
    return f"{what}, written" if written else f"{what}; nothing is written without --write"
