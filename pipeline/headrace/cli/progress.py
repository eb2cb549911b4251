"""How far a batch is, on standard error.

On a terminal it is one line that is written over, and is gone in the end. Elsewhere, and where
nothing is to move, it is a plain line each half minute: short runs say nothing, and the log of a
long one shows that it is alive.
"""

from __future__ import annotations

import sys
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from shutil import get_terminal_size
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from headrace.batch import Record

_MOVING, _PLAIN = 0.1, 30.0
"""Seconds between two lines, at least."""
_SMOOTHED = 15.0
"""Seconds over which the rate is taken: the largest jobs come first, so an older rate is wrong."""
_FIRST = 1.0
"""Seconds before there is a rate."""


class Pace:
    """How far a run of `count` jobs is, in words. Times are in seconds, of any clock."""

    def __init__(self, count: int, label: str, begun: float) -> None:
        self._count = count
        self._label = label
        self._seen = deque([(begun, 0)])

    def line(self, done: int, now: float) -> str:
        """What to say when so many are done; the rate is that of the last while."""
        seen = self._seen
        while len(seen) > 1 and seen[1][0] <= now - _SMOOTHED:
            seen.popleft()
        since, before = seen[0]
        seen.append((now, done))
        said = f"{self._label}: {done} of {max(self._count, done)} jobs"
        if now - since < _FIRST or done == before:
            return said
        rate = (done - before) / (now - since)
        return f"{said}, {rate:.3g} jobs/s, {_left((self._count - done) / rate)}"


@contextmanager
def progress(count: int, label: str, quiet: bool) -> Iterator[Callable[[Record], None]]:
    """Gives what is to be told each record of a run of `count` jobs."""
    from headrace.cli.talking import plain_wanted

    if quiet or count < 2:
        yield lambda _record: None
        return
    moving = sys.stderr.isatty() and not plain_wanted()
    line = _Line(Pace(count, label, time.monotonic()), moving)
    try:
        yield line.told
    finally:
        line.clear()


class _Line:
    """The line on standard error."""

    def __init__(self, pace: Pace, moving: bool) -> None:
        self._pace = pace
        self._moving = moving
        self._done = 0
        self._width = 0
        self._next = time.monotonic() + (0.0 if moving else _PLAIN)

    def told(self, _record: Record) -> None:
        self._done += 1
        now = time.monotonic()
        if now < self._next:
            return
        self._next = now + (_MOVING if self._moving else _PLAIN)
        text = self._pace.line(self._done, now)
        if self._moving:
            self._over(text[: get_terminal_size().columns - 1])
        else:
            sys.stderr.write(f"{text}\n")
            sys.stderr.flush()

    def clear(self) -> None:
        if self._width:
            sys.stderr.write(f"\r{' ' * self._width}\r")
            sys.stderr.flush()

    def _over(self, text: str) -> None:
        sys.stderr.write(f"\r{text.ljust(self._width)}")
        sys.stderr.flush()
        self._width = len(text)


def _left(seconds: float) -> str:
    """A time that is left, no finer than it can be known."""
    if seconds < 10:
        return "a few seconds left"
    if seconds < 55:
        return f"about {round(seconds, -1):.0f} s left"
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"about {minutes} min left"
    return f"about {minutes // 60} h {minutes % 60} min left"
