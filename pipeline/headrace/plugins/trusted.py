"""The list of the Python files that this user trusts, each by the digest of what it holds.

It lies in the folder for state that the user's system has (XDG Base Directory Specification, or
what stands for it elsewhere), and is the user's alone.
"""

from __future__ import annotations

import json
import os
import re
import stat
import sys
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from headrace.errors import PluginError
from headrace.findings import Finding, Place
from headrace.whole_file import staged

FOLDER_VARIABLE = "HEADRACE_STATE"
FORMAT = "headrace-trusted/1"
"""The first line; each other one has a SHA-256 and, as JSON text, the path where that was seen."""
_NAME = "trusted"
_LINE = re.compile(r'([0-9a-f]{64}) (".*")')
_LARGEST = 1 << 24
_PLAIN = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
"""A pipe in the place of the list is never waited for, and no line end is written otherwise."""


@dataclass(frozen=True, slots=True)
class Entry:
    """What is trusted: the bytes of this SHA-256; `seen` is where a file of them was."""

    sha256: str
    seen: str


class TrustedList:
    """The list at `path`. Where it is not there, nothing is trusted."""

    def __init__(self, path: Path) -> None:
        self.path = path

    @classmethod
    def of_user(cls) -> TrustedList:
        """That of whoever runs this. Raises PluginError where nothing tells where it is."""
        return cls(state_folder(os.environ) / _NAME)

    def entries(self) -> tuple[Entry, ...]:
        """All that is trusted, in the order in which it was. Raises PluginError."""
        try:
            text = self._text()
        except OSError as error:
            raise self._unfit(f"it cannot be read: {error.strerror or error}") from error
        return () if text is None else tuple(self._read(text))

    def holds(self, sha256: str) -> bool:
        """Whether the bytes of this digest are trusted. Raises PluginError."""
        return any(entry.sha256 == sha256 for entry in self.entries())

    def add(self, entries: Iterable[Entry]) -> None:
        """Trust these too. Raises PluginError, with the list as it was."""
        added = {entry.sha256: entry for entry in entries}

        def with_added(before: tuple[Entry, ...]) -> tuple[Entry, ...]:
            known = {entry.sha256 for entry in before}
            return (*before, *(added[each] for each in added if each not in known))

        self._change(with_added)

    def forget(self, digests: Collection[str]) -> None:
        """Trust these no longer. Raises PluginError, with the list as it was."""
        self._change(lambda before: tuple(e for e in before if e.sha256 not in digests))

    def _text(self) -> str | None:
        """What the file holds; None where there is none. OSError, PluginError."""
        try:
            descriptor = os.open(self.path, os.O_RDONLY | _PLAIN)
        except FileNotFoundError:
            return None
        with os.fdopen(descriptor, "rb") as file:
            status = os.fstat(file.fileno())
            if not stat.S_ISREG(status.st_mode):
                raise self._unfit("it is no file")
            if hasattr(os, "geteuid"):
                if status.st_uid != os.geteuid():
                    raise self._unfit("it belongs to another user")
                if status.st_mode & 0o022:
                    raise self._unfit("other users may write to it", f"chmod 600 {self.path}")
            data = file.read(_LARGEST + 1)
        try:
            return data.decode("ascii")
        except UnicodeDecodeError as error:
            raise self._unfit("it is broken", line=1 + data[: error.start].count(b"\n")) from error

    def _read(self, text: str) -> Iterator[Entry]:
        """The entries of such text. Raises PluginError, with the line."""
        first, *lines = text.split("\n")
        if first != FORMAT:
            raise self._unfit(f"it does not begin with `{FORMAT}`", line=1)
        if not lines or lines.pop() or len(text) > _LARGEST:
            raise self._unfit("it is cut short", line=1 + text.count("\n"))
        for number, line in enumerate(lines, 2):
            found = _LINE.fullmatch(line)
            try:
                seen = json.loads(found[2]) if found else None
            except ValueError:
                seen = None
            if found is None or not isinstance(seen, str):
                raise self._unfit("it is broken", line=number)
            yield Entry(found[1], seen)

    def _change(self, changed: Callable[[tuple[Entry, ...]], tuple[Entry, ...]]) -> None:
        """Write the list anew, whole or not at all, while no other process does."""
        try:
            self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            with _alone(self.path.with_name(f"{_NAME}.lock")):
                before = self.entries()
                after = changed(before)
                if after != before:
                    lines = (FORMAT, *(f"{e.sha256} {json.dumps(e.seen)}" for e in after))
                    text = "".join(f"{line}\n" for line in lines)
                    whole = self.path.resolve()
                    with staged(whole, text.encode("ascii"), 0o600) as fresh:
                        fresh.replace(whole)
        except OSError as error:
            raise self._unfit(f"it cannot be written: {error.strerror or error}") from error

    def _unfit(self, why: str, remedy: str | None = None, line: int | None = None) -> PluginError:
        what = f"the list of trusted Python files, {self.path}, does not count: {why}"
        place = None if line is None else Place(str(self.path), line)
        return PluginError(findings=[Finding.of("trust-list-unfit", what, place, remedy=remedy)])


def state_folder(given: Mapping[str, str], system: str = sys.platform) -> Path:
    """headrace's folder for what a user has decided, by the environment `given`.

    Raises PluginError where `HEADRACE_STATE` is no whole path, or there is no home.
    """
    if own := given.get(FOLDER_VARIABLE):
        if not Path(own).is_absolute():
            raise _nowhere(f"{FOLDER_VARIABLE} is {own!r}, and must be a path from the root")
        return Path(own)
    if system == "win32":
        base = given.get("LOCALAPPDATA", "")
    else:
        base = "" if system == "darwin" else given.get("XDG_STATE_HOME", "")
    if base and Path(base).is_absolute():  # others are not valid, says the specification
        return Path(base) / "headrace"
    homes = {"win32": "AppData/Local", "darwin": "Library/Application Support"}
    try:
        return Path.home() / homes.get(system, ".local/state") / "headrace"
    except RuntimeError as error:
        raise _nowhere("this user has no home folder") from error


def _nowhere(why: str) -> PluginError:
    what = f"there is no place for the list of trusted Python files: {why}"
    remedy = f"set {FOLDER_VARIABLE} to a folder that only you can write to"
    return PluginError(findings=[Finding.of("trust-list-unfit", what, remedy=remedy)])


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    """No other process is in here at the same time; one that comes waits. OSError."""
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(descriptor, msvcrt.LK_LOCK, 1)
        else:
            import fcntl

            fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)
