"""Lengths and feeds in the units that are in force where a step writes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from headrace import State, number_text
from headrace_transforms.telling.refusing import refusal


@dataclass(frozen=True, slots=True)
class Units:
    """A unit of length: millimetres in it, and the decimals that a length is written with."""

    factor: float
    places: int

    @classmethod
    def of(cls, state: State, purpose: str) -> Units:
        """The unit in force; JobRefused where it is not known."""
        if state.units is None:
            raise refusal("units-unknown", f"{purpose} cannot tell which units are in force")
        return cls(25.4, 5) if state.units == "inch" else cls(1.0, 4)

    def text(self, mm: float) -> str:
        """A length (mm) or feed (mm/min), as it is written."""
        return number_text(mm / self.factor, self.places)

    def words(self, numbers: Mapping[str, float]) -> str:
        """Axis words for lengths (mm) by their letters, in this order."""
        return " ".join(f"{letter}{self.text(mm)}" for letter, mm in numbers.items())

    def written(self, mm: float) -> float:
        """The length (mm) that the written number means."""
        return float(self.text(mm)) * self.factor
