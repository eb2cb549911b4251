"""Staged files take their names: a free one, or that of a file which they replace.

A file that is replaced changes names with the new one, so that the name a machine lists leads to
the old bytes or to the new ones at each moment. Where the file system cannot do that, the old
file gets an unlisted name first, and then the new one gets the name that is free: cut short in
between, the name is missing and never wrong, and the next run gives it back.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from headrace.card.exchange import exchange, give
from headrace.card.manifest import LIST_NAME
from headrace.card.names import STAGED_EXTENSION
from headrace.card.writing import (
    Content,
    content_of,
    differs,
    stage,
    sync_file,
    sync_folder,
    sync_whole,
)
from headrace.errors import CardError

NEXT_NAME = f"HR_NEXT.{STAGED_EXTENSION}"
"""A list on its way to the name of the card's list; behind that, the list that was."""

LAST_NAME = f"HR_LAST.{STAGED_EXTENSION}"
"""The list that was, where names cannot change places."""

_MANY = 33
"""Files from which on one sync of the whole file system is less work than one of each."""


def replace(staged: Path, name: Path, aside: Path) -> None:
    """Let a staged file take the name of another one, whose bytes go to `staged` or `aside`.
    OSError."""
    if exchange(staged, name):
        return
    give(name, aside)
    sync_file(aside)
    sync_folder(name.parent)
    give(staged, name)


def make_last(folder: Path, paths: Sequence[Path]) -> None:
    """Sync files whose names have changed, then the folder. OSError.

    The files too: on FAT it is a file's own sync that writes into the directory entry of its new
    name where the file begins. Of many files, all that the file system holds is synced at once.
    """
    if len(paths) < _MANY or not sync_whole(folder):
        for path in paths:
            if path.is_file():
                sync_file(path)
    sync_folder(folder)


def put_list(folder: Path, data: bytes) -> None:
    """Make these bytes the card's list, as files are replaced. Raises OSError or CardError."""
    content = Content.of(data)
    listed, staged, aside = (folder / name for name in (LIST_NAME, NEXT_NAME, LAST_NAME))
    if listed.is_file() and content_of(listed) == content:
        return
    stage(staged, [data], content)
    sync_folder(folder)
    if os.path.lexists(listed):
        if aside.is_file() and not aside.is_symlink():
            aside.unlink()  # of no use, as the list has its name
        replace(staged, listed, aside)
    else:
        give(staged, listed)
    make_last(folder, (listed, staged))
    if content_of(listed) != content:
        raise CardError(findings=[differs(LIST_NAME)])
