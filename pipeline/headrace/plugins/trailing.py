"""What cuts where the axis itself does not: the tip of a blade that swivels freely."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Trailing:
    """The tip of a blade that trails the axis by `offset` (mm), in X and Y.

    It swivels where it is pulled at a depth of `bite` (mm) or more below Z0, the top of the sheet,
    and keeps its direction at Z0 and above. From the tip to the axis it points to `heading` at
    first (degrees from +X towards +Y), in each file; behind a change of the tool nobody knows where
    another one points to. What turns it on the spot goes no faster than the line's own cut. Where
    moves of the job are in such a contract, it speaks of the path of this tip, not of the axis.
    """

    offset: float
    bite: float
    heading: float = 0.0

    def __post_init__(self) -> None:
        if not 0 < self.offset < float("inf") or not 0 < self.bite < float("inf"):
            raise ValueError("a blade trails by more than 0 mm, and swivels at a depth above 0 mm")
        if not abs(self.heading) <= 360:
            raise ValueError(f"a blade points to -360 to 360 degrees, not {self.heading}")

    def __str__(self) -> str:
        return (
            f"traced by a tip {self.offset:.6g} mm behind the axis, if it points to"
            f" {self.heading:.6g} degrees at first and does not turn above the sheet"
        )
