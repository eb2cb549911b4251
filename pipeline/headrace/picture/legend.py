"""The key of a drawing: how each kind of line looks, and what it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from headrace.picture.lettering import SIZE, Lettering, wrapped

ROW = 4.6
"""From one line of the key to the next (mm of paper)."""
_SAMPLE = 9.0
_GAP = 1.2


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the key: a sample, drawn 9 mm wide about its middle height 0, and what it is."""

    sample: str
    text: str


def height(entries: Sequence[Entry], wide: float) -> float:
    """How high a key is in a column so wide (mm of paper)."""
    return sum(len(_lines(entry, wide)) for entry in entries) * ROW


def draw(entries: Sequence[Entry], letters: Lettering, left: float, top: float, wide: float) -> str:
    """A key in a column; its letters go to `letters`, its samples are given back."""
    samples = []
    y = top
    for entry in entries:
        middle = y + ROW / 2
        samples.append(f'<g transform="translate({left:.2f} {middle:.2f})">{entry.sample}</g>')
        for line in _lines(entry, wide):
            letters.put(line, left + _SAMPLE + _GAP, y + ROW / 2 + SIZE * 0.34)
            y += ROW
    return "".join(samples)


def _lines(entry: Entry, wide: float) -> list[str]:
    return wrapped(entry.text.split(), wide - _SAMPLE - _GAP)


def line_sample(
    kind: str, width: float, dashes: str = "", band: str = "", rounded: bool = False
) -> str:
    """A line as it is drawn; with a class for a `band` under it."""
    under = f'<path class="{band}" stroke-width="3" d="M1.5 0H7.5"/>' if band else ""
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    cap = ' stroke-linecap="round"' if rounded else ""
    return f'{under}<path class="{kind}" stroke-width="{width:g}"{dashed}{cap} d="M0 0H9"/>'
