"""Numbers as people read them on the run sheet and in the terminal: plain ASCII, with units."""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal

from headrace.machine.span import Span
from headrace.program.numbers import number_text

_PLACES = 3
"""Decimals of a length in mm; an inch job's fourth of an inch is finer than any router."""

_MINUTE = 60
_HOUR = 3600
_IN_SECONDS = 3 * _MINUTE
"""A band that ends before this is told in seconds."""


def size_text(value: float, unit: str = "mm", places: int = _PLACES) -> str:
    """A number with its unit, which is empty where a table's head tells it.

    >>> size_text(12.02), size_text(17000, "rev/min")
    ('12.02 mm', '17000 rev/min')
    """
    return f"{number_text(value, places)} {unit}".rstrip()


def span_text(span: Span, unit: str = "mm", places: int = _PLACES) -> str:
    """A span with its unit; one number where both ends read the same.

    >>> span_text(Span(17.6, 18.1)), span_text(Span(12.02, 12.02))
    ('17.6 to 18.1 mm', '12.02 mm')
    """
    least, most = number_text(span.least, places), number_text(span.most, places)
    return (f"{least} {unit}" if least == most else f"{least} to {most} {unit}").rstrip()


def left_text(left: Span) -> str:
    """What stays uncut under a cut, or how far it goes into what lies below (mm).

    >>> left_text(Span(8.6, 9.1)), left_text(Span(-0.7, -0.2))
    ('8.6 to 9.1 mm stay uncut', '0.2 to 0.7 mm into the spoilboard')
    >>> left_text(Span(-0.3, 0.2))
    'from 0.3 mm into the spoilboard to 0.2 mm uncut'
    """
    if left.least >= 0:
        return f"{span_text(left)} stay uncut"
    if left.most <= 0:
        return f"{span_text(Span(-left.most, -left.least))} into the spoilboard"
    return f"from {size_text(-left.least)} into the spoilboard to {size_text(left.most)} uncut"


def time_text(seconds: float) -> str:
    """A time to the second; from an hour on, to the minute.

    >>> time_text(760), time_text(3930), time_text(0.2)
    ('12 min 40 s', '1 h 06 min', 'under 1 s')
    """
    if 0 < seconds < 1:
        return "under 1 s"
    whole = _whole(seconds, ROUND_HALF_UP)
    if whole < _MINUTE:
        return f"{whole} s"
    if whole < _HOUR:
        return f"{whole // _MINUTE} min {whole % _MINUTE:02d} s"
    return _hours(_whole(seconds / _MINUTE, ROUND_HALF_UP))


def band_text(low: float, high: float) -> str:
    """From `low` to `high`, in s, as a band: rounded outwards, so that it never tells too little.

    >>> band_text(613, 945), band_text(41.2, 54.9), band_text(3200, 4000)
    ('10 to 16 min', '41 to 55 s', '53 min to 1 h 07 min')
    """
    if high < _IN_SECONDS:
        return _band(_whole(low, ROUND_FLOOR), _whole(high, ROUND_CEILING), "s")
    least = _whole(low / _MINUTE, ROUND_FLOOR)
    most = _whole(high / _MINUTE, ROUND_CEILING)
    if most < _MINUTE:
        return _band(least, most, "min")
    return _hours(most) if least == most else f"{_hours(least)} to {_hours(most)}"


def _whole(value: float, rounding: str) -> int:
    return int(Decimal(repr(float(value))).to_integral_value(rounding))


def _band(least: int, most: int, unit: str) -> str:
    return (f"{least} {unit}" if least == most else f"{least} to {most} {unit}").rstrip()


def _hours(minutes: int) -> str:
    if minutes < _MINUTE:
        return f"{minutes} min"
    return f"{minutes // _MINUTE} h {minutes % _MINUTE:02d} min"
