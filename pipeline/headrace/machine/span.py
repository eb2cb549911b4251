"""A length that is known only to lie between two numbers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Span:
    """From `least` to `most`, both in mm, both possible."""

    least: float
    most: float

    @classmethod
    def of(cls, value: float | tuple[float, float] | list[float] | dict[str, float]) -> Span:
        """From a single number, a pair, or a mapping with `least` and `most`."""
        if isinstance(value, dict):
            return cls(float(value["least"]), float(value["most"]))
        if isinstance(value, (tuple, list)):
            return cls(float(value[0]), float(value[1]))
        return cls(float(value), float(value))

    def __add__(self, other: Span | float) -> Span:
        if isinstance(other, Span):
            return Span(self.least + other.least, self.most + other.most)
        return Span(self.least + other, self.most + other)

    def __sub__(self, other: Span | float) -> Span:
        if isinstance(other, Span):
            return Span(self.least - other.most, self.most - other.least)
        return Span(self.least - other, self.most - other)

    def __rsub__(self, other: float) -> Span:
        return Span(other - self.most, other - self.least)

    def __contains__(self, value: float) -> bool:
        return self.least <= value <= self.most
