"""From the sheet to paper: where things lie, and lines on them in the sheet's own numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from headrace.picture.lettering import Box
from headrace.rehearsal.space.extents import Floats


@dataclass(frozen=True, slots=True)
class Plane:
    """`scale` mm of the real thing are 1 mm on paper, across; up they are drawn `stretch` times as
    large. `left` and `foot` are where the window's lower left corner lies on paper, `low` and
    `high` are that window's corners in mm."""

    scale: float
    left: float
    foot: float
    low: tuple[float, float]
    high: tuple[float, float]
    stretch: float = 1.0

    @property
    def size(self) -> tuple[float, float]:
        """How wide and how high the window is on paper."""
        return (
            (self.high[0] - self.low[0]) / self.scale,
            (self.high[1] - self.low[1]) / self.scale * self.stretch,
        )

    @property
    def box(self) -> Box:
        """The window on paper."""
        wide, high = self.size
        return Box(self.left, self.foot - high, self.left + wide, self.foot)

    def x(self, place: float) -> float:
        return self.left + (place - self.low[0]) / self.scale

    def y(self, place: float) -> float:
        return self.foot - (place - self.low[1]) / self.scale * self.stretch

    def xs(self, places: Floats) -> Floats:
        """Where places lie across the paper (n)."""
        across: Floats = self.left + (places - self.low[0]) / self.scale
        return across

    def ys(self, places: Floats) -> Floats:
        """Where places lie down the paper (n)."""
        down: Floats = self.foot - (places - self.low[1]) / self.scale * self.stretch
        return down

    def within(self, x: float, y: float) -> bool:
        """Whether a place lies in the window."""
        return self.low[0] <= x <= self.high[0] and self.low[1] <= y <= self.high[1]

    @property
    def matrix(self) -> str:
        """The `transform` that leads from the sheet's numbers to paper."""
        across, up = 1 / self.scale, self.stretch / self.scale
        return (
            f"matrix({across:.8g} 0 0 {-up:.8g} {self.left - self.low[0] * across:.6g}"
            f" {self.foot + self.low[1] * up:.6g})"
        )

    def wide(self, paper: float) -> str:
        """A width on paper (mm), in the sheet's numbers."""
        return f"{paper * self.scale:.4g}"

    def dashes(self, paper: Sequence[float]) -> str:
        """Dashes on paper (mm), in the sheet's numbers."""
        return " ".join(self.wide(length) for length in paper)

    @property
    def places(self) -> int:
        """Decimals that are seen on paper: a hundredth of a mm there."""
        return max(0, int(np.ceil(-np.log10(self.scale * 0.02) - 1e-9)))


def path_data(u: Floats, v: Floats, first: npt.ArrayLike, places: int) -> str:
    """The `d` of lines: points one behind the other (n), `first` are those where a line begins.
    Steps are written, not places, in as few letters as can be."""
    if not len(u):
        return ""
    tens = 10**places
    whole_u = np.round(u * tens).astype(np.int64)
    whole_v = np.round(v * tens).astype(np.int64)
    step_u = np.diff(whole_u, prepend=0).tolist()
    step_v = np.diff(whole_v, prepend=0).tolist()
    starts = set(np.asarray(first).tolist())
    told: dict[int, str] = {}

    def text(number: int) -> str:
        if number not in told:
            told[number] = _short(number, places)
        return told[number]

    parts: list[str] = []
    letter = ""
    count = len(step_u)
    for at in range(count):
        du, dv = step_u[at], step_v[at]
        if at in starts:
            parts.append(f"m{text(du)}{_after(text(dv))}")
            letter = "m"
            if at + 1 == count or at + 1 in starts:
                parts.append("h0")
                letter = "h"
            continue
        if dv == 0 and du == 0 and letter != "m":
            continue
        if dv == 0:
            parts.append(_more(text(du)) if letter == "h" else f"h{text(du)}")
            letter = "h"
        elif du == 0:
            parts.append(_more(text(dv)) if letter == "v" else f"v{text(dv)}")
            letter = "v"
        else:
            pair = f"{text(du)}{_after(text(dv))}"
            parts.append(_more(pair) if letter == "l" else f"l{pair}")
            letter = "l"
    return "".join(parts)


def _short(number: int, places: int) -> str:
    if not places:
        return str(number)
    sign, size = ("-", -number) if number < 0 else ("", number)
    whole, part = divmod(size, 10**places)
    fraction = f".{part:0{places}d}".rstrip("0").rstrip(".")
    return f"{sign}{whole or ''}{fraction}" if fraction else f"{sign}{whole}"


def _after(text: str) -> str:
    return text if text.startswith("-") else f" {text}"


_more = _after
