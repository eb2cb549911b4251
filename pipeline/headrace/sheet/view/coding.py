"""Whole numbers in few bits: columns of them as Exp-Golomb codes, one behind the other.

A number v in a code of order k is w = v + 2^k, written in binary behind as many zeros as w has bits
more than k + 1 (S. W. Golomb, "Run-length encodings", 1966; J. Teuhola, 1978). Bits go into bytes
from the highest to the lowest. A column is how many numbers it has (order 8), its own order
(order 2), and the numbers.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Whole = npt.NDArray[np.int64]

_COUNT, _ORDER = 8, 2


def coded(columns: Sequence[Whole]) -> bytes:
    """The columns, numbers from 0 to 2^40 each."""
    values: list[Whole] = []
    orders: list[Whole] = []
    for column in columns:
        order, _ = order_of(column)
        values += [np.array([len(column), order]), column]
        orders += [np.array([_COUNT, _ORDER]), np.full(len(column), order)]
    order_of_each = np.concatenate(orders)
    written = np.concatenate(values) + (1 << order_of_each)
    widths = 2 * _bits(written) - 1 - order_of_each
    ends = np.cumsum(widths)
    left = np.repeat(ends, widths) - np.arange(1, ends[-1] + 1)
    bits = (np.repeat(written, widths) >> np.minimum(left, 62)) & 1
    return np.packbits(bits.astype(np.uint8)).tobytes()


def order_of(column: Whole) -> tuple[int, int]:
    """The order that suits a column, and how many bits its numbers then take."""
    if not len(column):
        return 0, 0
    middle = int(column.mean()).bit_length()
    tries = range(max(0, middle - 3), middle + 2)
    costs = [int((2 * _bits(column + (1 << k)) - 1 - k).sum()) for k in tries]
    best = min(range(len(costs)), key=costs.__getitem__)
    return tries[best], costs[best]


def unsigned(column: Whole) -> Whole:
    """Numbers of either sign as such from 0: 0, -1, 1, -2 become 0, 1, 2, 3."""
    return np.where(column < 0, -2 * column - 1, 2 * column)


def _bits(numbers: Whole) -> Whole:
    """How many bits each number has (below 2^53)."""
    return np.frexp(numbers.astype(np.float64))[1].astype(np.int64)
