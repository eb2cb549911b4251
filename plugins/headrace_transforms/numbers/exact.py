"""Exact decimals in columns: brought to another unit, and rounded half to even.

A number is `mantissa / 10**scale`; columns have one length n.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Longs = npt.NDArray[np.int64]
Scales = npt.NDArray[np.int8]
Decimals = tuple[Longs, Scales]

MOST = 18
_TENS = 10 ** np.arange(MOST + 1, dtype=np.int64)
_LARGEST = (1 << 62) - 1
_INCH = 254
"""Tenths of a millimetre in an inch."""


def in_mm(mantissa: Longs, scale: Scales, places: int) -> Decimals:
    """Inches in millimetres: exactly, or with at most so many places."""
    if (np.abs(mantissa) > _LARGEST // _INCH).any():
        return _quotient(mantissa, scale + np.int8(1), places, (_INCH, 1))
    return rounded(mantissa * _INCH, scale + np.int8(1), places)


def in_inches(mantissa: Longs, scale: Scales, places: int) -> Decimals:
    """Millimetres in inches, with at most so many places."""
    return _quotient(mantissa, scale, places, (10, _INCH))


def rounded(mantissa: Longs, scale: Scales, places: int) -> Decimals:
    """The same numbers, with at most so many places."""
    longer = np.flatnonzero(scale > places)
    if not len(longer):
        return mantissa, scale
    if len(longer) == len(scale):
        return _quotient(mantissa, scale, places, (1, 1))
    mantissa, scale = mantissa.copy(), scale.copy()
    mantissa[longer], scale[longer] = _quotient(mantissa[longer], scale[longer], places, (1, 1))
    return mantissa, scale


def same(first: Decimals, second: Decimals) -> npt.NDArray[np.bool_]:
    """Which numbers are equal (n), however many zeros they end with."""
    apart = first[1] - second[1]
    left, right = np.minimum(np.maximum(-apart, 0), MOST), np.minimum(np.maximum(apart, 0), MOST)
    equal: npt.NDArray[np.bool_] = first[0] * _TENS[left] == second[0] * _TENS[right]
    return equal


def _quotient(mantissa: Longs, scale: Scales, places: int, factor: tuple[int, int]) -> Decimals:
    """The numbers times a fraction (above, below), rounded half to even to so many places."""
    above, below = factor
    scales = np.full(len(scale), places, np.int8)
    up, down = np.maximum(places - scale, 0), np.minimum(np.maximum(scale - places, 0), MOST)
    large = _LARGEST // above // _TENS[np.minimum(up, MOST)] < np.abs(mantissa)
    large |= _LARGEST // (2 * below) < _TENS[down]
    if large.any():
        found = np.empty(len(mantissa), np.int64)
        found[~large] = _quotient(mantissa[~large], scale[~large], places, factor)[0]
        found[large] = [
            _half_even(
                above * int(m) * 10 ** max(places - int(s), 0),
                below * 10 ** max(int(s) - places, 0),
            )
            for m, s in zip(mantissa[large], scale[large], strict=True)
        ]
        return found, scales
    dividend, parts = mantissa * (above * _TENS[up]), below * _TENS[down]
    if (parts == parts[:1]).all() and len(parts):
        parts = parts[:1]
        whole = dividend // int(parts[0])  # by one number NumPy divides much faster
    else:
        whole = dividend // parts
    twice = 2 * (dividend - whole * parts)
    whole += (twice > parts) | ((twice == parts) & (whole & 1 == 1))
    return whole, scales


def _half_even(dividend: int, divisor: int) -> int:
    whole, rest = divmod(dividend, divisor)
    return whole + (2 * rest > divisor or (2 * rest == divisor and whole & 1 == 1))
