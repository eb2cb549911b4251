"""Where window, dimensions and key stand on a drawing's paper, and the largest scale for it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from headrace.picture import legend
from headrace.picture.crests import Area
from headrace.picture.dimension import scale_bar
from headrace.picture.drawing import Drawing
from headrace.picture.legend import Entry
from headrace.picture.lettering import Box, Lettering, wrapped
from headrace.picture.plane import Plane
from headrace.picture.scale import bar_length, scale_for, scale_text

WIDE = 180.0
"""Drawings are so wide (mm of paper)."""
_KEY = 35.0
_APART = 2.0
_BAR = 6.0
_EDGE = 1.0
_LINE = 4.2


@dataclass(frozen=True, slots=True)
class Margins:
    """Room around the window, for dimensions (mm of paper)."""

    left: float
    above: float
    right: float
    below: float


@dataclass(frozen=True, slots=True)
class Layout:
    """A window on its paper, and where the key stands."""

    plane: Plane
    height: float
    key: tuple[float, float]
    key_columns: int

    @classmethod
    def of(cls, window: Area, margins: Margins, high: float, entries: Sequence[Entry],
           note: Sequence[str]) -> Layout:  # fmt: skip
        """The window as large as it can be on paper `high` at most; the key stands to its right or
        below it."""
        size = window[1][0] - window[0][0], window[1][1] - window[0][1]
        sides = margins.left + margins.right + 2 * _EDGE
        ends = margins.above + margins.below + 2 * _EDGE + len(note) * _LINE
        column = legend.height(entries, _KEY) + _BAR
        across = int((WIDE - 2 * _EDGE) // (_KEY + _APART))
        row = _BAR + max(
            (legend.height(entries[at::across], _KEY) for at in range(across)), default=0.0
        )
        right = scale_for(size, (WIDE - sides - _KEY - _APART, high - ends))
        under = scale_for(size, (WIDE - sides, high - ends - row))
        beside = right <= under
        scale = right if beside else under
        wide, tall = size[0] / scale, size[1] / scale
        spare = WIDE - sides - wide - (_KEY + _APART if beside else 0.0)
        top = _EDGE + margins.above
        plane = Plane(scale, _EDGE + margins.left + spare / 2, top + tall, window[0], window[1])
        bottom = top + tall + margins.below
        if beside:
            body = max(bottom, _EDGE + column)
            key = (WIDE - _EDGE - _KEY, _EDGE + _BAR)
        else:
            body = bottom + row
            key = (_EDGE, bottom + _BAR)
        return cls(plane, body + len(note) * _LINE + _EDGE, key, 1 if beside else across)

    @classmethod
    def wider(cls, window: Area, wanted: Area, margins: Margins, high: float,
              entries: Sequence[Entry], note: Sequence[str]) -> Layout:  # fmt: skip
        """A window as it is `wanted`, if that takes no smaller scale."""
        least, most = (cls.of(area, margins, high, entries, note) for area in (window, wanted))
        return most if most.plane.scale == least.plane.scale else least

    def paper(self) -> Box:
        """The whole paper."""
        return Box(_EDGE, _EDGE, WIDE - _EDGE, self.height - _EDGE)

    def draw_key(self, entries: Sequence[Entry], letters: Lettering) -> str:
        """The key, and the scale with its bar above it."""
        left, top = self.key
        scale = self.plane.scale
        high = max(legend.height(entries[at :: self.key_columns], _KEY)
                   for at in range(self.key_columns))  # fmt: skip
        right = left + self.key_columns * (_KEY + _APART) - _APART
        letters.take(Box(left, top - _BAR, right, top + high))
        parts = [scale_bar(bar_length(scale, 20.0), scale, left, top - 3.0, letters)]
        for at in range(self.key_columns):
            column = left + at * (_KEY + _APART)
            parts.append(legend.draw(entries[at :: self.key_columns], letters, column, top, _KEY))
        return "".join(parts)

    def draw_note(self, note: Sequence[str], letters: Lettering) -> None:
        """What is not drawn, in lines at the foot."""
        y = self.height - _EDGE - (len(note) - 1) * _LINE - 1.0
        for line in note:
            letters.put(line, _EDGE, y)
            y += _LINE


def note_lines(sentences: Iterable[str], width: float = WIDE - 2 * _EDGE) -> list[str]:
    """Sentences in lines that fit on the paper."""
    return wrapped(" ".join(sentences).split(), width)


def drawing(view: str, title: str, text: str, layout: Layout, prefix: str,
            defs: str, plane: str, over: Sequence[str], within: str = "") -> Drawing:  # fmt: skip
    """The finished drawing: `plane` is in the sheet's numbers, `within` and `over` are in those of
    the paper; the first two are cut off at the window's edges."""
    width, height = WIDE, layout.height
    name = f"{prefix}-{view}"
    scale = layout.plane.scale
    full = f"{title}, scale {scale_text(scale)}"
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="hr-drawing" role="img"'
        f' aria-labelledby="{name}-title {name}-desc" width="{width:.2f}mm"'
        f' height="{height:.2f}mm" viewBox="0 0 {width:.2f} {height:.2f}">'
        f'<title id="{name}-title">{escape(full)}</title><desc id="{name}-desc">{escape(text)}'
        f'</desc><defs>{_clip(name, layout.plane)}{defs}</defs><rect class="hr-paper"'
        f' width="{width:.2f}" height="{height:.2f}"/><g clip-path="url(#{name}-clip)">'
        f'<g class="hr-plane" transform="{layout.plane.matrix}">{plane}</g>{within}</g>'
        f"{''.join(over)}</svg>"
    )
    return Drawing(view, full, text, scale, round(width, 2), round(height, 2), svg)


def _clip(name: str, plane: Plane) -> str:
    box = plane.box
    return (
        f'<clipPath id="{name}-clip"><rect x="{box.left:.2f}" y="{box.top:.2f}"'
        f' width="{box.right - box.left:.2f}" height="{box.bottom - box.top:.2f}"/></clipPath>'
    )
