"""A time as a watch shows it: 12:34, or 1:02:10."""

from __future__ import annotations

import re

_SHOWN = re.compile(r"(?:(\d{1,3}):(?=\d\d:))?(\d{1,4}):([0-5]\d(?:\.\d+)?)|(\d{1,7}(?:\.\d+)?)")


def seconds_of(text: str) -> float | None:
    """What a watch shows in s; None for a text that no watch shows.

    >>> seconds_of("12:34"), seconds_of("1:02:10"), seconds_of("754"), seconds_of("12.34.5")
    (754.0, 3730.0, 754.0, None)
    """
    shown = _SHOWN.fullmatch(text.strip())
    if shown is None:
        return None
    hours, minutes, seconds, alone = shown.groups()
    if hours is not None and int(minutes) > 59:
        return None
    return float(alone or seconds) + 60.0 * int(minutes or 0) + 3600.0 * int(hours or 0)


def watch_text(seconds: float) -> str:
    """A time to the second, as a watch shows it.

    >>> watch_text(754.4), watch_text(3730), watch_text(9)
    ('12:34', '1:02:10', '0:09')
    """
    minutes, left = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{left:02d}" if hours else f"{minutes}:{left:02d}"
