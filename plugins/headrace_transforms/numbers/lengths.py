"""Lengths and feeds in the units that are in force where a step writes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from headrace import Machine, State, number_text
from headrace_transforms.telling.refusing import refusal

_FARTHEST = 0.05
"""By so much (mm) a zero may be off for the places that the machine reads, as all other numbers."""
_REMEDY = "put the step `units` with `to: mm` before it, or export in mm"


@dataclass(frozen=True, slots=True)
class Units:
    """A unit of length: millimetres in it, and the decimals that a length is written with."""

    factor: float
    places: int

    @classmethod
    def of(cls, state: State, purpose: str) -> Units:
        """The unit in force, as finely as any job has it; JobRefused where it is not known."""
        if state.units is None:
            raise refusal("units-unknown", f"{purpose} cannot tell which units are in force")
        return cls(25.4, 5) if state.units == "inch" else cls(1.0, 4)

    @classmethod
    def read_by(cls, machine: Machine, state: State, purpose: str) -> Units:
        """The unit in force with no more decimals than the machine reads. A unit that it does not
        read at all stays fine: a step behind this one must turn it into another."""
        units = cls.of(state, purpose)
        most = machine.decimals if state.units in machine.units else None
        return units if most is None else cls(units.factor, min(units.places, most))

    def require_fine(self, numbers: Mapping[str, float], purpose: str) -> None:
        """JobRefused where numbers that make a zero (mm) cannot be written closely enough."""
        for letter, wanted in numbers.items():
            off = abs(self.written(wanted) - wanted)
            if off > _FARTHEST:
                what = (
                    f"{purpose} would put the zero of {letter} off by {number_text(off)} mm: the"
                    f" machine reads no more than {self.places} places behind the point"
                )
                raise refusal("rounding-coarse", what, remedy=_REMEDY)

    def text(self, mm: float) -> str:
        """A length (mm) or feed (mm/min), as it is written."""
        return number_text(mm / self.factor, self.places)

    def words(self, numbers: Mapping[str, float]) -> str:
        """Axis words for lengths (mm) by their letters, in this order."""
        return " ".join(f"{letter}{self.text(mm)}" for letter, mm in numbers.items())

    def written(self, mm: float) -> float:
        """The length (mm) that the written number means."""
        return float(self.text(mm)) * self.factor
