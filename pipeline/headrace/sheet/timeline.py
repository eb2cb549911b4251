"""When a file waits, as a picture: its planned time from left to right, the pauses above it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from headrace.counting import count_text
from headrace.program.numbers import number_text
from headrace.sheet.telling import time_text

if TYPE_CHECKING:
    from markupsafe import Markup

    from headrace.sheet.facts import FileFacts

_WIDTH = 180.0
_HEIGHT = 23.0
_FROM, _TO = 5.0, 175.0
"""Where the line begins and ends (mm of paper), as all numbers here."""
_LINE = 15.5
_MARKS = 5.0
_RADIUS = 3.6
_APART = 7.8
"""So far the numbers of two pauses stand from one another at least."""
_LETTERS = 3.4
"""9.6 pt."""
_STEPS = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 36000, 86400)
"""Round times (s) between the ticks."""
_TICKS = 6


def timeline(file: FileFacts) -> Markup | None:
    """One `<svg>`; None where there is no pause whose time is known, or too many to be told apart.

    Its line is as long as the planned time, pauses left out. Numbers of pauses that come soon after
    one another stand side by side, and a stroke leads from each to its time.
    """
    from markupsafe import Markup

    pauses = [(pause.number, pause.after) for pause in file.pauses if pause.after is not None]
    whole = file.times.planned
    if not pauses or whole <= 0 or len(pauses) * _APART > _WIDTH:
        return None
    times = [after for _, after in pauses]
    ends = [_FROM + (_TO - _FROM) * min(after / whole, 1.0) for after in times]
    parts = [
        f'<path d="M{_n(_FROM)} {_n(_LINE)}H{_n(_TO)}" stroke-width="1"/>',
        *_ticks(whole),
    ]
    for (number, _), end, place in zip(pauses, ends, spread(ends), strict=True):
        parts.append(
            f'<path d="M{_n(place)} {_n(_MARKS + _RADIUS)}L{_n(end)} {_n(_LINE)}"'
            ' stroke-width=".35"/>'
            f'<circle cx="{_n(place)}" cy="{_n(_MARKS)}" r="{_n(_RADIUS)}" stroke-width=".5"/>'
            + _text(place, _MARKS + 1.2, str(number), "middle")
        )
    told = "; ".join(f"pause {number} after {time_text(after)}" for number, after in pauses)
    label = f"{count_text(len(pauses), 'pause')} in {time_text(whole)} of planned time: {told}."
    return Markup(
        f'<svg xmlns="http://www.w3.org/2000/svg" class="rs-line-of-time" role="img"'
        f' aria-label="{label}" width="{_n(_WIDTH)}mm" height="{_n(_HEIGHT)}mm"'
        f' viewBox="0 0 {_n(_WIDTH)} {_n(_HEIGHT)}">{"".join(parts)}</svg>'
    )


def spread(places: Sequence[float]) -> list[float]:
    """Places (mm, rising) moved apart in their order, none beyond the paper, by as little as need
    be: the sum of squares is the least (pooling of neighbours that are too near one another)."""
    rows: list[tuple[float, int]] = []
    for index, place in enumerate(places):
        middle, count = place - index * _APART, 1
        while rows and rows[-1][0] > middle:
            before, number = rows.pop()
            middle = (before * number + middle * count) / (number + count)
            count += number
        rows.append((middle, count))
    room = _WIDTH - len(places) * _APART
    starts = [
        _APART / 2 + max(0.0, min(room, middle - _APART / 2))
        for middle, count in rows
        for _ in range(count)
    ]
    return [start + index * _APART for index, start in enumerate(starts)]


def _ticks(whole: float) -> Iterator[str]:
    step = next((step for step in _STEPS if whole / step <= _TICKS), _STEPS[-1])
    yield _tick(_FROM, "0", "start")
    for number in range(1, min(_TICKS, int(whole / step)) + 1):
        place = _FROM + (_TO - _FROM) * number * step / whole
        if place < _TO - 32:
            yield _tick(place, _round(number * step), "middle")
    yield _tick(_TO, time_text(whole), "end")


def _tick(place: float, label: str, anchor: str) -> str:
    return (
        f'<path d="M{_n(place)} {_n(_LINE - 1)}v2" stroke-width=".35"/>'
        f"{_text(place, _LINE + 6, label, anchor)}"
    )


def _round(seconds: int) -> str:
    """A round time without the part that is nought."""
    if seconds % 3600 == 0:
        return f"{seconds // 3600} h"
    return f"{seconds // 60} min" if seconds % 60 == 0 else time_text(seconds)


def _text(x: float, y: float, text: str, anchor: str) -> str:
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(_LETTERS)}" text-anchor="{anchor}">'
        f"{text}</text>"
    )


def _n(value: float) -> str:
    return number_text(value, 2)
