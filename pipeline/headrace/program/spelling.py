"""Decimal numbers spelt in bulk: columns of exact decimals, laid out in registers."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Bools = npt.NDArray[np.bool_]
Longs = npt.NDArray[np.int64]
Registers = npt.NDArray[np.uint64]
Scales = npt.NDArray[np.int8]

_PLACES = 7
"""Places behind the point, and before it, of the numbers that are written in bulk."""
_TENS = 10 ** np.arange(2 * _PLACES + 1, dtype=np.int64)
_ZEROS = np.uint64(int.from_bytes(b"0" * 8))
_ONES = np.uint64(0x0101010101010101)


def fits(mantissa: Longs, scale: Scales) -> Bools:
    """Which numbers (n) can be spelt in bulk."""
    sizes = np.abs(mantissa)
    found: Bools = (scale <= _PLACES) & (sizes < _TENS[np.minimum(scale, _PLACES) + _PLACES])
    return found


def spelt(mantissa: Longs, scale: Scales, points: Bools) -> tuple[bytes, Longs]:
    """Numbers, one behind the other, and how many characters each has (n).

    Every number is laid out in sixteen characters: sign and seven digits, point and seven digits;
    what it does not need is empty, and taken out of all of them at once.
    """
    sizes = np.abs(mantissa) * _TENS[_PLACES - scale]
    whole = sizes // 10**_PLACES
    head, tail = _eight_digits(whole), _eight_digits(sizes - whole * 10**_PLACES)
    fields = np.empty((len(mantissa), 2), np.dtype("<u8"))
    # from the highest digit on, and the last one in any case
    filled = _filled(head) | np.uint64(1 << 56)
    kept_head = ~((filled & (~filled + np.uint64(1))) - np.uint64(1))
    signs = np.where(mantissa < 0, np.uint64(ord("-")), np.uint64(0))
    fields[:, 0] = ((head | _ZEROS) & kept_head) | signs
    # up to the last digit that counts; the point stands where the first of eight would
    filled = _filled(tail)
    for step in (8, 16, 32):
        filled |= filled >> np.uint64(step)
    kept_tail = filled * np.uint64(255) | np.where(points, np.uint64(255), np.uint64(0))
    fields[:, 1] = ((tail | _ZEROS) ^ np.uint64(ord("0") ^ ord("."))) & kept_tail
    lengths = _bytes_in(kept_head) + _bytes_in(kept_tail) + (mantissa < 0)
    return fields.tobytes().translate(None, b"\0"), lengths


def _eight_digits(value: Longs) -> Registers:
    """The eight decimal digits of each number, the highest in the lowest byte: divided in halves,
    each register at once, as pairs, and as single digits."""
    high = value // 10_000
    fours = high.view(np.uint64) | ((value - high * 10_000).view(np.uint64) << np.uint64(32))
    high_pairs = ((fours * np.uint64(10486)) >> np.uint64(20)) & np.uint64(0x0000007F0000007F)
    pairs = high_pairs | ((fours - high_pairs * np.uint64(100)) << np.uint64(16))
    high_digits = ((pairs * np.uint64(103)) >> np.uint64(10)) & np.uint64(0x000F000F000F000F)
    digits: Registers = high_digits | ((pairs - high_digits * np.uint64(10)) << np.uint64(8))
    return digits


def _filled(digits: Registers) -> Registers:
    """A 1 in each byte whose digit is none of zero."""
    carried = (digits + np.uint64(0x7F7F7F7F7F7F7F7F)) & np.uint64(0x8080808080808080)
    return carried >> np.uint64(7)


def _bytes_in(mask: Registers) -> Longs:
    """How many bytes of each register are set."""
    count: Longs = (((mask & _ONES) * _ONES) >> np.uint64(56)).view(np.int64)
    return count
