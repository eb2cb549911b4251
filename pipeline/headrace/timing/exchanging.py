"""A file that people write, given other bytes: all of them, or none."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from headrace.errors import RecipeError
from headrace.findings import Finding, Place


def exchange(path: Path, before: bytes, after: bytes) -> None:
    """Give a file that holds `before` the bytes `after`, and keep who may read it.

    Raises RecipeError, with the file as it was, where that cannot be done, where somebody has
    taken away the permission to write to it, or where it holds something else by now.
    """
    whole = path.resolve()
    staged = whole.with_name(f".{whole.name}.{os.getpid()}")
    try:
        mode = whole.stat().st_mode & 0o777
        if not (mode & 0o222 and os.access(whole, os.W_OK)):
            raise _kept(path, "it is write-protected")
        descriptor = os.open(staged, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
        try:
            with os.fdopen(descriptor, "wb") as file:
                file.write(after)
                file.flush()
                os.fsync(file.fileno())
            staged.chmod(mode)
            if whole.read_bytes() != before:
                raise _kept(path, "it was changed meanwhile")
            staged.replace(whole)
        finally:
            with suppress(FileNotFoundError):
                staged.unlink()
    except OSError as error:
        raise _kept(path, error.strerror or str(error)) from error


def _kept(path: Path, why: str) -> RecipeError:
    what = f"{path} cannot be written: {why}"
    return RecipeError(findings=[Finding.of("machine-file-kept", what, Place(str(path), 1))])
