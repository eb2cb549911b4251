"""What files were found to hold, for as long as they stand as they did then.

Reading a whole card takes time. A run that follows another one in the same process reads again
only what may have changed since.
"""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import TypeAlias

from headrace.card.writing import Content, content_of

Sign: TypeAlias = "tuple[int, ...] | None"
"""How a file stands: device, number, kind, size, times (ns). None where there is none."""

_SETTLED = 4_000_000_000
"""How old a file must be (ns) before its times tell it from what is written next: FAT counts in
steps of two seconds (FAT specification, "Date and Time Formats")."""


def sign_of(path: Path) -> Sign:
    """How a file stands, or what a link to it leads to."""
    try:
        found = os.stat(path)  # noqa: PTH116  # a path's own takes twice as long
    except (OSError, ValueError):
        return None
    times = (found.st_mtime_ns, found.st_ctime_ns)
    return (found.st_dev, found.st_ino, found.st_mode, found.st_size, *times)


class Seen:
    """Files by their paths, with what they held and how they stood."""

    def __init__(self) -> None:
        self._known: dict[Path, tuple[Sign, Content]] = {}

    def content_of(self, path: Path) -> Content:
        """What stands in a plain file. OSError."""
        sign = sign_of(path)
        known = self._known.pop(path, None)
        content = known[1] if known is not None and known[0] == sign else content_of(path)
        settled = sign is not None and max(sign[-2:]) < time.time_ns() - _SETTLED
        if settled and sign == sign_of(path):
            self._known[path] = (sign, content)
        return content

    def forget(self) -> None:
        """Forget all of them."""
        self._known.clear()
