"""Spans over many numbers, as the run sheet keeps them: without the dust of binary fractions."""

from __future__ import annotations

from collections.abc import Iterable
from math import isnan

from headrace.machine.span import Span

_PLACES = 6
"""A millionth of a millimetre is nothing."""


def clean(value: float) -> float:
    """A number to six places, never -0."""
    return round(value, _PLACES) + 0.0


def spanned(values: Iterable[float]) -> Span | None:
    """From the least to the greatest of some numbers that are known; None where none is."""
    known = [value for value in values if not isnan(value)]
    return Span(clean(min(known)), clean(max(known))) if known else None


def joined(spans: Iterable[Span | None]) -> Span | None:
    """What several spans reach over together; None where there is none."""
    return spanned(end for span in spans if span is not None for end in (span.least, span.most))
