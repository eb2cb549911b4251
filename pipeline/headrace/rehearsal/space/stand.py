"""Where the head stands over the sheet."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan

from headrace.language.state import NAN
from headrace.rehearsal.space.frame import Frame


@dataclass(frozen=True, slots=True)
class Stand:
    """Where the head stands: X and Y from the sheet's corner, and how low tip and collet may be
    above its top; NaN where not known."""

    x: float = NAN
    y: float = NAN
    tip: float = NAN
    collet: float = NAN

    @property
    def on_sheet(self) -> bool:
        """Whether it is known over which place of the sheet."""
        return not (isnan(self.x) or isnan(self.y))

    @classmethod
    def of(cls, frame: Frame, numbers: tuple[float, ...]) -> Stand:
        """Where it stands by the numbers of a frame."""

        def added(number: float, span: float | None) -> float:
            return NAN if span is None else number + span

        x, y, z = numbers[:3]
        return cls(
            added(x, frame.sheet[0]),
            added(y, frame.sheet[1]),
            added(z, None if frame.tip is None else frame.tip.least),
            added(z, None if frame.collet is None else frame.collet.least),
        )

    def or_else(self, last: Stand) -> Stand:
        """The same, and where that is not known, what was known before."""
        return Stand(
            last.x if isnan(self.x) else self.x,
            last.y if isnan(self.y) else self.y,
            last.tip if isnan(self.tip) else self.tip,
            last.collet if isnan(self.collet) else self.collet,
        )
