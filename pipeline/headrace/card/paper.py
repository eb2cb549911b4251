"""A single file for people, written whole or not at all, beside card files or anywhere else.

Until it is whole it has a name of its own, `HR_PAGE` with the extension HRT, which no machine runs
and which the next run on a card takes away. An earlier file gives way only if it is one of ours, as
whoever writes can tell.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path
from typing import TypeAlias

from headrace.card.delivery import Fate
from headrace.card.exchange import exchange, give
from headrace.card.names import STAGED_EXTENSION
from headrace.card.placing import make_last
from headrace.card.writing import Content, content_of, differs, in_plain_words, stage, sync_folder
from headrace.errors import CardError
from headrace.findings import Finding

InTheWay: TypeAlias = Callable[[Path], Iterable[Finding]]
"""Tells what keeps a file that is there from being replaced; nothing where it is ours."""

_STAGED = f"HR_PAGE.{STAGED_EXTENSION}"


def need_free(path: Path, in_the_way: InTheWay) -> None:
    """Raise CardError where a file cannot be written to `path`, as far as a look tells."""
    with in_plain_words(f"{path.parent} cannot be looked at"):
        if not path.parent.is_dir():
            what = f"there is no folder {path.parent} for {path.name}"
            raise CardError(findings=[Finding.of("folder-missing", what)])
        if os.path.lexists(path) and (faults := [*in_the_way(path)]):
            raise CardError(findings=faults)


def put(path: Path, data: bytes, in_the_way: InTheWay) -> Fate:
    """Write a file. Whoever calls holds its folder.

    Raises CardError, with all as it was, where that cannot be done.
    """
    need_free(path, in_the_way)
    content = Content.of(data)
    staged = path.with_name(_STAGED)
    with in_plain_words(f"{path} cannot be written"):
        there = os.path.lexists(path)
        if there and content_of(path) == content:
            return Fate.UNCHANGED
        stage(staged, [data], content)
        try:
            sync_folder(path.parent)
            if not there:
                give(staged, path)
            elif not exchange(staged, path):
                staged.replace(path)
            make_last(path.parent, [path, staged])
            if content_of(path) != content:
                _taken_back(path, staged)
                raise CardError(findings=[differs(str(path))])
        finally:
            with suppress(OSError):  # the next run takes it away else
                staged.unlink()
    return Fate.REPLACED if there else Fate.WRITTEN


def _taken_back(path: Path, before: Path) -> None:
    """Give a name back to what it was taken from, as long as that is there. OSError."""
    if os.path.lexists(before):
        before.replace(path)
    else:
        path.unlink()
