"""Standard output is for what was asked for: what plugins print goes to standard error."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock
from typing import TextIO


class _Turns:
    """How many threads run code of plugins, and where standard output leads when none does."""

    def __init__(self) -> None:
        self.lock = Lock()
        self.inside = 0
        self.output: TextIO = sys.stdout


_turns = _Turns()


@contextmanager
def aside() -> Iterator[None]:
    """While this lasts, in whatever thread, `print` talks and gives no data."""
    with _turns.lock:
        if _turns.inside == 0:
            _turns.output, sys.stdout = sys.stdout, sys.stderr
        _turns.inside += 1
    try:
        yield
    finally:
        with _turns.lock:
            _turns.inside -= 1
            if _turns.inside == 0:
                sys.stdout = _turns.output
