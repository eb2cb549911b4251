"""Whole files or none: written aside, synced, read back, and only then given their name.

A crash at any moment leaves under a name that a machine lists either what stood there before or
the whole new file. Unfinished files have names of their own, `HR` and six digits with the
extension HRT, so that the next run knows them and no machine runs them; `HR_` and five digits is
a file that is being replaced.
"""

from __future__ import annotations

import errno
import os
import re
import sys
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from headrace.card.names import STAGED_EXTENSION
from headrace.card.room import Room
from headrace.errors import CardError
from headrace.findings import Finding

_CHUNK = 1 << 20
_READING = (
    os.O_RDONLY
    | getattr(os, "O_BINARY", 0)
    | getattr(os, "O_NOFOLLOW", 0)
    | getattr(os, "O_NONBLOCK", 0)
)
"""Never through a link, and never waiting for a pipe."""

_STAGED = re.compile(
    rf"HR(\d{{6}}|_\d{{5}}|_LIST|_NEXT|_LAST|_PAGE)\.{STAGED_EXTENSION}", re.IGNORECASE
)
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


def aside_path(staged: Path) -> Path:
    """Where the file that a staged one replaces waits, if names cannot change places."""
    return staged.with_name(f"HR_{staged.stem[-5:]}.{STAGED_EXTENSION}")


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
    """What stands in a plain file, read from the medium as far as the system allows. OSError."""
    digest = sha256()
    size = 0
    descriptor = os.open(path, _READING)
    try:
        _past_the_cache(descriptor)
        while part := os.read(descriptor, _CHUNK):
            digest.update(part)
            size += len(part)
    finally:
        os.close(descriptor)
    return Content(digest.hexdigest(), size)


def _past_the_cache(descriptor: int) -> None:
    """Have what is read next come from the medium, where the system lets; written and synced
    bytes only. OSError."""
    if hasattr(os, "posix_fadvise"):
        os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)
    elif sys.platform == "darwin":
        import fcntl

        fcntl.fcntl(descriptor, fcntl.F_NOCACHE, 1)


def stage(path: Path, parts: Iterable[bytes | memoryview], content: Content) -> None:
    """Write the bytes to a name that no machine lists, and make sure that they are there.

    Raises CardError, and leaves nothing behind, where it does not fit, cannot be written, or
    reads back otherwise than as `content`.
    """
    with in_plain_words(f"{path.parent} cannot be written"):
        Room.of(path.parent).need([content.size], path.parent)
        if path.is_file() and not path.is_symlink():
            path.unlink()  # of a process that was ended before it was done
        descriptor = _begun(path)
        try:
            _filled(descriptor, parts)
            found = content_of(path)
        except BaseException:
            _forgotten(path)
            raise
    if found != content:
        _forgotten(path)
        raise CardError(findings=[differs(str(path.parent))])


def differs(name: str) -> Finding:
    """That a card, or a file on it, gives back other bytes."""
    return Finding.of("card-differs", f"{name} gave back other bytes than were written")


def _begun(path: Path) -> int:
    """A new file, open for writing. Raises CardError where the folder takes no more; OSError."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    try:
        return os.open(path, flags, 0o666)
    except OSError as error:
        if error.errno != errno.ENOSPC or Room.of(path.parent).free < 2:
            raise
        what = f"{path.parent} takes no more files, though there is room on the card"
        remedy = "take files off that folder, or give a folder on the card: its top folder is small"
        raise CardError(findings=[Finding.of("card-full", what, remedy=remedy)]) from error


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


def sync_file(path: Path) -> None:
    """Make a file last that stands already, with its place in the folder. OSError."""
    # some systems sync only what is open for writing
    flags = os.O_RDWR | getattr(os, "O_BINARY", 0) if os.name == "nt" else _READING
    descriptor = os.open(path, flags)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def sync_whole(folder: Path) -> bool:
    """Make everything last that is on the file system of a folder, all at once; False where the
    system has no such call. OSError."""
    if sys.platform != "linux":
        return False
    import ctypes

    try:
        call = ctypes.CDLL(None, use_errno=True).syncfs
    except AttributeError:
        return False
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        if call(descriptor) == 0:
            return True
        fault = ctypes.get_errno()
    finally:
        os.close(descriptor)
    if fault in (errno.ENOSYS, errno.EINVAL, errno.ENOTSUP):
        return False
    raise OSError(fault, os.strerror(fault), str(folder))


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


def remove_leftovers(folder: Path, but: Collection[Path] = ()) -> list[str]:
    """Take away what an unfinished run left behind; the names that were there. OSError."""
    names = []
    for path in leftovers(folder):
        if path not in but:
            path.unlink()
            names.append(path.name)
    return names
