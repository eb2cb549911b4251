"""Letters on a drawing, and room for them: no label lies over another.

Widths are those of DejaVu Sans, which is wider than most.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from html import escape

SIZE = 3.2
"""Letters are so high (mm of paper): 9 pt."""
LINE = 4.0
"""From one line of a label to the next (mm)."""
_ABOVE, _BELOW = 0.76, 0.24
_WIDTHS = {
    **dict.fromkeys("ijlIJ|", 0.295), **dict.fromkeys(" .,'", 0.32), **dict.fromkeys(":;-/", 0.365),
    **dict.fromkeys("()[]!frt", 0.415), **dict.fromkeys("csz–?", 0.55),
    **dict.fromkeys("akvxyeoFLTYPE", 0.62), **dict.fromkeys("bdghnpquS0123456789", 0.637),
    **dict.fromkeys("ABCKRVXZ", 0.7), **dict.fromkeys("DGHNOQU", 0.79),
    **dict.fromkeys("wM×−+=<>~", 0.87),
}  # fmt: skip
"""How wide letters are, as a share of their height: from the table of the font, rounded up."""


def text_width(text: str) -> float:
    """How wide a line of text is (mm of paper)."""
    return SIZE * sum(_WIDTHS.get(letter, 1.0) for letter in text)


@dataclass(frozen=True, slots=True)
class Box:
    """A box on paper (mm), Y down."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box, gap: float = 0.2) -> bool:
        """Whether two boxes come nearer to one another than `gap`."""
        return (
            self.left < other.right + gap
            and other.left < self.right + gap
            and self.top < other.bottom + gap
            and other.top < self.bottom + gap
        )

    def within(self, other: Box) -> bool:
        return (
            self.left >= other.left
            and self.right <= other.right
            and self.top >= other.top
            and self.bottom <= other.bottom
        )


def box_of(text: str, x: float, y: float, anchor: str = "start", upright: bool = False) -> Box:
    """The box around a text whose base line begins, ends or has its middle at `x`, `y`. With
    `upright` it runs upwards."""
    wide = text_width(text)
    before = {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
    if upright:
        return Box(x - SIZE * _ABOVE, y - wide + before, x + SIZE * _BELOW, y + before)
    return Box(x - before, y - SIZE * _ABOVE, x - before + wide, y + SIZE * _BELOW)


@dataclass
class Lettering:
    """The labels of a drawing (`elements`), and the boxes that they take."""

    room: Box
    elements: list[str] = field(default_factory=list)
    _taken: dict[tuple[int, int], list[Box]] = field(default_factory=dict)
    _lines: list[Box] = field(default_factory=list)

    def take(self, box: Box) -> None:
        """Keep letters away from a box."""
        for cell in _cells(box):
            self._taken.setdefault(cell, []).append(box)

    def shun(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """Keep letters away from an upright or level line, where there is other room."""
        self._lines.append(Box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)))

    def free(self, box: Box) -> bool:
        """Whether a box is on the paper and meets none that is taken."""
        return box.within(self.room) and not any(
            box.meets(other) for cell in _cells(box) for other in self._taken.get(cell, ())
        )

    def put(
        self, text: str, x: float, y: float, anchor: str = "start", upright: bool = False
    ) -> None:
        """A label at a place that is kept free for it."""
        self.take(box_of(text, x, y, anchor, upright))
        align = "" if anchor == "start" else f' text-anchor="{anchor}"'
        turn = f' transform="rotate(-90 {x:.2f} {y:.2f})"' if upright else ""
        self._write("hr-text hr-off", text, x, y, align + turn)

    def near(self, text: str, around: Box, reaches: Sequence[float] = (0.8, 3.5)) -> bool:
        """A label, of one line or more, beside a box, with a line that leads to it where it is
        further away than a mm; False, and nothing written, where there is no room."""
        lines = text.split("\n")
        wide, high = max(map(text_width, lines)) / 2, (len(lines) * LINE - LINE + SIZE) / 2
        middle_x, middle_y = (around.left + around.right) / 2, (around.top + around.bottom) / 2
        half_x, half_y = (around.right - around.left) / 2, (around.bottom - around.top) / 2
        places = [
            Box(x - wide, y - high, x + wide, y + high)
            for reach in reaches
            for across, down in _AROUND
            for x in (middle_x + across * (half_x + reach + wide),)
            for y in (middle_y + down * (half_y + reach + high),)
        ]
        free = [box for box in places if self.free(box)]
        if not free:
            return False
        clear = (box for box in free if not any(box.meets(line) for line in self._lines))
        box = next(clear, free[0])
        if not box.meets(around, 1.2):
            self._lead(around, box)
        for number, line in enumerate(lines):
            base = box.top + number * LINE + SIZE * _ABOVE
            self._write("hr-text hr-on", line, box.left, base)
        self.take(box)
        return True

    def _write(self, kind: str, text: str, x: float, y: float, more: str = "") -> None:
        self.elements.append(
            f'<text class="{kind}" x="{x:.2f}" y="{y:.2f}"{more}>{escape(text)}</text>'
        )

    def _lead(self, around: Box, box: Box) -> None:
        x = min(max((box.left + box.right) / 2, around.left), around.right)
        y = min(max((box.top + box.bottom) / 2, around.top), around.bottom)
        near_x = min(max(x, box.left), box.right)
        near_y = min(max(y, box.top), box.bottom)
        self.elements.append(
            f'<path class="hr-dim" stroke-width="0.18" d="M{x:.2f} {y:.2f}'
            f'L{near_x:.2f} {near_y:.2f}"/>'
        )


def _cells(box: Box) -> list[tuple[int, int]]:
    """The squares of the paper in which a box, or what is near it, lies."""
    left, right = int((box.left - 0.5) // _SQUARE), int((box.right + 0.5) // _SQUARE)
    top, bottom = int((box.top - 0.5) // _SQUARE), int((box.bottom + 0.5) // _SQUARE)
    return [(x, y) for x in range(left, right + 1) for y in range(top, bottom + 1)]


def spot(x: float, y: float, around: float = 0.0) -> Box:
    """The box around a place."""
    return Box(x - around, y - around, x + around, y + around)


_SQUARE = 8.0
_AROUND = ((0, -1), (1, -1), (1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1))


def spread(wanted: Sequence[float], lengths: Sequence[float], low: float, high: float,
           gap: float = 0.8) -> list[float]:  # fmt: skip
    """Middles for things of some lengths in a row, in order of `wanted`, each as near to where it
    is wanted as the others and the ends `low` and `high` allow."""
    order = sorted(range(len(wanted)), key=lambda at: (wanted[at], at))
    found = [0.0] * len(wanted)
    reached = low
    for at in order:
        found[at] = max(wanted[at], reached + lengths[at] / 2)
        reached = found[at] + lengths[at] / 2 + gap
    reached = high
    for at in reversed(order):
        found[at] = min(found[at], reached - lengths[at] / 2)
        reached = found[at] - lengths[at] / 2 - gap
    return found


def wrapped(words: Iterable[str], width: float) -> list[str]:
    """Words in lines of at most a width (mm)."""
    lines: list[str] = []
    for word in words:
        if lines and text_width(f"{lines[-1]} {word}") <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines
