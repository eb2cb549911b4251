"""Files in a person's own folders, written whole or not at all.

Until a file is whole it has a hidden name beside the one that is meant, so that a crash, a full
disk or another process leaves the old file or the new one. (Files of a card are written by `card/`,
which also keeps watch over the room on it and over what an unfinished run left behind.)
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path


class FileKept(Exception):
    """A file stays as it was: `path` is which, `why` is what keeps it."""

    def __init__(self, path: Path, why: str) -> None:
        super().__init__(f"{path} cannot be written: {why}")
        self.path = path
        self.why = why


@dataclass(frozen=True, slots=True)
class Change:
    """The bytes that a file holds, and those that it is to hold."""

    before: bytes
    after: bytes


@contextmanager
def staged(path: Path, data: bytes, mode: int = 0o666) -> Iterator[Path]:
    """A new file beside `path` that holds the bytes and lasts, to be renamed in the block; where
    it still has its name at the end of that, it goes. OSError."""
    waiting = path.with_name(f".{path.name}.{os.getpid()}")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    descriptor = os.open(waiting, flags, mode)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        yield waiting
    finally:
        with suppress(FileNotFoundError):
            waiting.unlink()


def exchange(changes: Mapping[Path, Change]) -> None:
    """Give files other bytes, all of them or none, and keep who may read them.

    Raises FileKept, with all as it was, where one cannot be written, where somebody has taken away
    the permission to write to it, or where it holds something else by now. A link is followed.
    """
    done: list[tuple[Path, Change]] = []
    with ExitStack() as all_staged:
        waiting = [
            (path, _ready(path, change, all_staged), change) for path, change in changes.items()
        ]
        try:
            for path, (whole, fresh), change in waiting:
                with _in_words(path):
                    if whole.read_bytes() != change.before:
                        raise FileKept(path, "it was changed meanwhile")
                    fresh.replace(whole)
                done.append((whole, change))
        except FileKept:
            for whole, change in reversed(done):
                _put_back(whole, change)
            raise


def _ready(path: Path, change: Change, all_staged: ExitStack) -> tuple[Path, Path]:
    """The file that a path leads to, and the one that is to take its place."""
    with _in_words(path):
        whole = path.resolve()
        mode = whole.stat().st_mode & 0o777
        if not (mode & 0o222 and os.access(whole, os.W_OK)):
            raise FileKept(path, "it is write-protected")
        fresh = all_staged.enter_context(staged(whole, change.after, mode))
        fresh.chmod(mode)
        return whole, fresh


def _put_back(whole: Path, change: Change) -> None:
    """Give a file back what it held, as far as that is possible."""
    with suppress(OSError), staged(whole, change.before, whole.stat().st_mode & 0o777) as old:
        old.chmod(whole.stat().st_mode & 0o777)
        if whole.read_bytes() == change.after:
            old.replace(whole)


@contextmanager
def _in_words(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise FileKept(path, error.strerror or str(error)) from error
