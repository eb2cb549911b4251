"""Whole files or none: written aside, synced, read back, and only then given their name.

A crash at any moment leaves under a name that a machine lists either what stood there before or
the whole new file. Unfinished files have names of their own, `HR` and six digits with the
extension HRT, so that the next run knows them and no machine runs them.
"""

from __future__ import annotations

import errno
import os
import re
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from headrace.card.names import STAGED_EXTENSION
from headrace.errors import CardError
from headrace.findings import Finding

_SPARE = 1 << 16
"""Bytes to leave free beside a file: a cluster for its tail and one for the directory."""

_CHUNK = 1 << 20
_STAGED = re.compile(rf"HR(\d{{6}}|_LIST|_NEXT)\.{STAGED_EXTENSION}", re.IGNORECASE)
_PLAIN_WORDS = {
    errno.ENOSPC: "the card is full",
    errno.EDQUOT: "the quota is used up",
    errno.EROFS: "the card is locked against writing",
    errno.EACCES: "writing there is not permitted",
    errno.EPERM: "writing there is not permitted",
    errno.EIO: "the card or its reader failed",
    errno.ENODEV: "the card is gone",
    errno.ENOENT: "the folder or file is gone",
    errno.EEXIST: "something of that name is there already",
    errno.EFBIG: "the file is larger than the card's file system allows",
    errno.ENAMETOOLONG: "the name is longer than the card's file system allows",
}


@dataclass(frozen=True, slots=True)
class Content:
    """What a file holds: its SHA-256 as hexadecimal digits, and its length in bytes."""

    sha256: str
    size: int

    @classmethod
    def of(cls, *parts: bytes | memoryview) -> Content:
        """The content of some bytes, one behind the other."""
        digest = sha256()
        for part in parts:
            digest.update(part)
        return cls(digest.hexdigest(), sum(len(part) for part in parts))


def staged_path(folder: Path, number: int) -> Path:
    """Where the file with this number of the run is kept until it is finished."""
    return folder / f"HR{number:06}.{STAGED_EXTENSION}"


@contextmanager
def in_plain_words(doing: str) -> Iterator[None]:
    """Turn an OSError into a CardError that says what was being done and what was the matter."""
    try:
        yield
    except OSError as error:
        said = _PLAIN_WORDS.get(error.errno or 0, error.strerror or type(error).__name__)
        name = "card-full" if error.errno in (errno.ENOSPC, errno.EDQUOT) else "card-unwritable"
        raise CardError(findings=[Finding.of(name, f"{doing}: {said}")]) from error


def content_of(path: Path) -> Content:
    """What stands in a file, read from the medium as far as the system allows. OSError."""
    digest = sha256()
    size = 0
    descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_BINARY", 0))
    try:
        if hasattr(os, "posix_fadvise"):
            os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)
        while part := os.read(descriptor, _CHUNK):
            digest.update(part)
            size += len(part)
    finally:
        os.close(descriptor)
    return Content(digest.hexdigest(), size)


def stage(path: Path, parts: Iterable[bytes | memoryview], content: Content) -> None:
    """Write the bytes to a name that no machine lists, and make sure that they are there.

    Raises CardError, and leaves nothing behind, where it does not fit, cannot be written, or
    reads back otherwise than as `content`.
    """
    with in_plain_words(f"{path.parent} cannot be written"):
        free = shutil.disk_usage(path.parent).free
        if free < content.size + _SPARE:
            what = f"{content.size + _SPARE} bytes are needed and {free} are free in {path.parent}"
            raise CardError(findings=[Finding.of("card-full", what)])
        if path.is_file() and not path.is_symlink():
            path.unlink()  # of a process that was ended before it was done
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
        descriptor = os.open(path, flags, 0o666)
        try:
            _filled(descriptor, parts)
            found = content_of(path)
        except BaseException:
            _forgotten(path)
            raise
    if found != content:
        _forgotten(path)
        what = f"{path.parent} gave back other bytes than were written"
        raise CardError(findings=[Finding.of("card-differs", what)])


def _forgotten(path: Path) -> None:
    """Take a staged file away, as far as that is possible: the next run does it else."""
    with suppress(OSError):
        path.unlink()


def _filled(descriptor: int, parts: Iterable[bytes | memoryview]) -> None:
    """Write everything, sync, close. OSError."""
    try:
        for part in parts:
            rest = memoryview(part)
            while rest:
                rest = rest[os.write(descriptor, rest[:_CHUNK]) :]
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def sync_folder(folder: Path) -> None:
    """Make the names in a folder last. OSError; nothing where the system has no such thing."""
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):
            raise
    finally:
        os.close(descriptor)


def leftovers(folder: Path) -> list[Path]:
    """Unfinished files of headrace's own in a folder, by name; nothing else ever. OSError."""
    with os.scandir(folder) as entries:
        found = [
            Path(entry.path)
            for entry in entries
            if _STAGED.fullmatch(entry.name) and entry.is_file(follow_symlinks=False)
        ]
    return sorted(found)


def remove_leftovers(folder: Path) -> list[str]:
    """Take away what an unfinished run left behind; the names that were there. OSError."""
    names = []
    for path in leftovers(folder):
        path.unlink()
        names.append(path.name)
    return names
