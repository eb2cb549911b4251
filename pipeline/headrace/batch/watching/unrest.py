"""Which files are being written at this moment, and for how long already."""

from __future__ import annotations

import os
import signal
from collections.abc import Collection, Iterable
from pathlib import Path

PATIENCE = 1.0
"""How long a file may be written (s) before that is told, and others are no longer kept waiting."""

HELD = 2.0
"""How long a file that a program holds open for writing rests (s) before it is taken as it is."""


class Unrest:
    """Files that have changed within the last moment, or that a program holds open for writing."""

    def __init__(self) -> None:
        self.moving: frozenset[Path] = frozenset()
        self.lasting: frozenset[Path] = frozenset()
        """Those that have been moving for longer than it takes to save a file."""
        self.held: frozenset[Path] = frozenset()
        """Those that rest, though a program holds them open for writing."""
        self._since: dict[Path, float] = {}
        self._last: dict[Path, float] = {}

    def see(self, changed: Collection[Path], now: float) -> None:
        """Files have changed since the last look; `now` (s) by a clock that never goes back."""
        for path in changed:
            if path in self.held:  # it was taken as it was: this is another change
                self._since.pop(path, None)
            self._since.setdefault(path, now)
            self._last[path] = now
        held = [path for path in self._last if path not in changed and is_held(path)]
        self.held = frozenset(path for path in held if now - self._last[path] > HELD)
        self.moving = frozenset({*changed, *held} - self.held)
        self.lasting = frozenset(path for path in self.moving if now - self._since[path] > PATIENCE)
        self._forget({*self.moving, *self.held})

    def _forget(self, kept: Iterable[Path]) -> None:
        kept = frozenset(kept)
        self._since = {path: since for path, since in self._since.items() if path in kept}
        self._last = {path: last for path, last in self._last.items() if path in kept}


def is_held(path: Path) -> bool:
    """Whether a program has the file open for writing; False where the system does not tell.

    Linux gives a read lease on a file only where nobody writes it (Linux man-pages, fcntl(2),
    "Leases"). The lease is given back at once, and a program that asks for the file in between
    waits for that moment.
    """
    try:
        import fcntl
    except ImportError:
        return False
    if not hasattr(fcntl, "F_SETLEASE"):
        return False
    try:
        descriptor = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    except OSError:
        return False
    try:
        # what tells that the lease is asked back; the usual signal would end this process
        fcntl.fcntl(descriptor, fcntl.F_SETSIG, signal.SIGURG)
        fcntl.fcntl(descriptor, fcntl.F_SETLEASE, fcntl.F_RDLCK)
        fcntl.fcntl(descriptor, fcntl.F_SETLEASE, fcntl.F_UNLCK)
    except BlockingIOError:
        return True
    except OSError:
        return False
    finally:
        os.close(descriptor)
    return False
