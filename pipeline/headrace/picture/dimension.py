"""Dimensions: how long something is, in a row outside of what is drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from headrace.picture.depths import mm2
from headrace.picture.lettering import Box, Lettering, spread, text_width

ROW = 5.0
"""From one row of dimensions to the next (mm of paper)."""
_TICK = 0.9


@dataclass(frozen=True, slots=True)
class Row:
    """Places in a row along an axis: on paper (`at`, mm), and the lengths between them as text."""

    at: tuple[float, ...]
    texts: tuple[str, ...]

    @classmethod
    def of(cls, at: Sequence[float], places: Sequence[float]) -> Row:
        """Between places of the sheet (mm), drawn `at` places of the paper."""
        return cls(tuple(at), tuple(mm2(second - first) for first, second in pairwise(places)))


def below(row: Row, y: float, letters: Lettering, ends: tuple[float, float]) -> str:
    """A row across the paper at height `y`; its letters stand above the line and between `ends`."""
    parts = [f"M{min(row.at):.2f} {y:.2f}H{max(row.at):.2f}"]
    parts += [f"M{x - _TICK / 2:.2f} {y + _TICK / 2:.2f}l{_TICK} {-_TICK}" for x in row.at]
    for text, x in _placed(row, ends):
        letters.put(text, x, y - 0.7, "middle")
    return _line(parts)


def beside(row: Row, x: float, letters: Lettering, ends: tuple[float, float]) -> str:
    """A row up the paper at `x`; its letters stand left of the line, upwards."""
    parts = [f"M{x:.2f} {min(row.at):.2f}V{max(row.at):.2f}"]
    parts += [f"M{x - _TICK / 2:.2f} {y + _TICK / 2:.2f}l{_TICK} {-_TICK}" for y in row.at]
    for text, y in _placed(row, ends):
        letters.put(text, x - 0.7, y, "middle", upright=True)
    return _line(parts)


def _placed(row: Row, ends: tuple[float, float]) -> list[tuple[str, float]]:
    """The texts, each at the middle of its length or as near as the others let it."""
    pairs = list(zip(row.at[:-1], row.at[1:], strict=True))
    wanted = [(first + last) / 2 for first, last in pairs]
    middles = spread(wanted, [text_width(text) for text in row.texts], *ends)
    return list(zip(row.texts, middles, strict=True))


def _line(parts: Sequence[str]) -> str:
    return f'<path class="hr-dim" stroke-width="0.18" d="{"".join(parts)}"/>'


def lead(x: float, y: float, to_x: float, to_y: float) -> str:
    """A thin line that leads from what is measured to its row."""
    return f'<path class="hr-dim" stroke-width="0.13" d="M{x:.2f} {y:.2f}L{to_x:.2f} {to_y:.2f}"/>'


def scale_bar(length: float, scale: float, left: float, y: float, letters: Lettering) -> str:
    """A bar of a round length, drawn to scale, with its length beside it."""
    wide = length / scale
    letters.put(f"{mm2(length)} mm", left + wide + 1.2, y + 1.1)
    half = wide / 2
    return (
        f'<path class="hr-mark" stroke-width="0.25" d="M{left:.2f} {y - 0.8:.2f}v1.6h{wide:.2f}'
        f'v-1.6h{-wide:.2f}"/><path class="hr-mark" stroke-width="1.6"'
        f' d="M{left:.2f} {y:.2f}h{half:.2f}"/>'
    )


def ends_of(box: Box, upright: bool) -> tuple[float, float]:
    """Between which places the letters of a row must stay."""
    return (box.top, box.bottom) if upright else (box.left, box.right)
