"""Words with numbers as bytes, many at once.

Numbers are whole billionths of a unit, so that nothing is lost between reading and writing.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Bools = npt.NDArray[np.bool_]
Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]
Longs = npt.NDArray[np.int64]
Segments = tuple[Bytes, Longs, Longs]
"""Bytes, and where in them each of some texts begins and ends (n each)."""

PLACES = 9
ONE = 10**PLACES
_MINUS, _POINT, _BLANK = b"-. "


def in_billionths(values: Floats, places: int = PLACES) -> Longs:
    """Numbers rounded to so many places, in billionths (same shape)."""
    rounded: Longs = np.rint(values * 10.0**places).astype(np.int64) * 10 ** (PLACES - places)
    return rounded


def words(letters: Bytes, values: Longs, blank: Bools) -> Segments:
    """Words (n) of these letters and values, with a blank before them where `blank` says so; no
    zero stands at the end behind a point.

    >>> data, begun, end = words(*map(np.array, ([88], [-2_500_000_000], [True])))
    >>> data[begun[0] : end[0]].tobytes()
    b' X-2.5'
    """
    places = _places(values)
    rest = np.abs(values) // 10 ** (PLACES - places)
    most = int(rest.max(initial=0))
    if most < 1 << 31:
        rest = rest.astype(np.uint32)  # half as wide, twice as fast
    whole = max(1, len(str(most)) - places)
    unit = 2 + whole  # the column of the last digit before the point
    data = np.empty((len(values), unit + 2 + places), np.uint8)
    end = np.full(len(values), unit + 1)
    begun = np.full(len(values), unit)
    for place in range(places, 0, -1):
        over = rest // 10
        digit = (rest - over * 10).astype(np.uint8)
        data[:, unit + 1 + place] = digit + 48
        np.maximum(end, np.where(digit != 0, unit + 2 + place, 0), out=end)
        rest = over
    data[:, unit + 1] = _POINT
    for column in range(unit, unit - whole, -1):
        over = rest // 10
        digit = (rest - over * 10).astype(np.uint8)
        data[:, column] = digit + 48
        begun = np.where(digit != 0, column, begun)
        rest = over
    rows = np.arange(len(values))
    begun = begun - (values < 0)
    data[rows[values < 0], begun[values < 0]] = _MINUS
    begun -= 1
    data[rows, begun] = letters
    begun = begun - blank
    data[rows[blank], begun[blank]] = _BLANK
    offset = rows * data.shape[1]
    return data.reshape(-1), begun + offset, end + offset


def _places(values: Longs) -> int:
    """How many places all the numbers can do with."""
    for places in (3, 4, 5, 6):
        if not (values % 10 ** (PLACES - places)).any():
            return places
    return PLACES


def gathered(data: Bytes, begun: Longs, end: Longs) -> bytes:
    """Texts, given by where they begin and end in some bytes, one behind the other."""
    lengths = end - begun
    shift = begun - (np.cumsum(lengths) - lengths)
    places = np.repeat(shift.astype(np.int32), lengths)
    places += np.arange(len(places), dtype=np.int32)
    return bytes(data[places].tobytes())
