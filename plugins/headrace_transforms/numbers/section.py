"""Some lines of a job with their numbers, each brought to a style by itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from headrace import Numerals
from headrace_transforms.numbers.exact import Decimals, in_inches, in_mm, rounded, same
from headrace_transforms.numbers.modes import Bools, Mode
from headrace_transforms.numbers.style import MM_IN_INCH, Floats, Style

Longs = npt.NDArray[np.int64]

_TENS = 10.0 ** np.arange(19)
_WHOLE_TENS = 10 ** np.arange(19, dtype=np.int64)


def _letters(letters: str) -> Bools:
    table = np.zeros(256, bool)
    table[list(letters.encode())] = True
    return table


_LENGTHS = _letters("XYZIJKRQF")
_ANGLES = _letters("ABC")
_OTHERS = _letters("SP")
"""Numbers that lose zeros only."""
_POINTED = _letters("XYZABCIJKRQF")


@dataclass(slots=True, eq=False)
class Section:
    """Some lines of a job with their numbers (w words), and what becomes of these: `number` are
    the new ones, `which` words are written anew, `exact` tells where nothing is lost."""

    numerals: Numerals
    was_inch: Bools
    to_inch: Bools
    number: Decimals
    which: Bools
    exact: Bools
    point: bool

    @classmethod
    def of(cls, numerals: Numerals, style: Style, inch: Mode, inverse: Mode) -> Section:
        """Each number by itself."""
        letter, old = numerals.letter, (numerals.mantissa, numerals.scale)
        was, to = inch.at(numerals.line), style.inch(numerals.line, inch)
        lengths = _LENGTHS[letter]
        if inverse.lasting is not False:  # there F counts moves a minute
            lengths &= (letter != ord("F")) | ~inverse.at(numerals.line)
        mantissa, scale = old[0].copy(), old[1].copy()
        exact = np.ones(len(letter), bool)
        other = lengths & (was != to)
        long = (numerals.scale > style.places) & (_LENGTHS | _ANGLES)[letter] & ~other
        for here, convert in ((other & was, in_mm), (other & to, in_inches), (long, rounded)):
            at = np.flatnonzero(here)
            if len(at):
                given = old[0][at], old[1][at]
                new = convert(*given, style.places)
                mantissa[at], scale[at] = new
                exact[at] = _exactly(convert, given, new)
        which = (other & (old[0] != 0)) | (numerals.scale > style.places) & (other | long)
        zeros = np.flatnonzero(_OTHERS[letter] & (numerals.scale > style.places))
        if len(zeros):
            less = _WHOLE_TENS[np.minimum(old[1][zeros] - style.places, 18)]
            zeros = zeros[old[0][zeros] % less == 0]
            which[zeros] = True
        if style.point:
            which |= _POINTED[letter] & ~numerals.pointed
        if style.unit is not None:
            codes = np.flatnonzero(letter == ord("G"))
            one = _WHOLE_TENS[np.minimum(scale[codes], 18)]
            units = (mantissa[codes] == 20 * one) | (mantissa[codes] == 21 * one)
            codes, one = codes[units], one[units]
            wanted = np.where(to[codes], 20, 21) * one
            which[codes] |= mantissa[codes] != wanted
            mantissa[codes] = wanted
        return cls(numerals, was, to, (mantissa, scale), which, exact, style.point)

    def words(self, letter: str) -> Longs:
        """Where a letter's words are."""
        return np.flatnonzero(self.numerals.letter == ord(letter))

    def put(self, at: Longs, number: Decimals) -> None:
        """Other new numbers for some words."""
        numerals = self.numerals
        old = numerals.mantissa[at], numerals.scale[at]
        self.number[0][at], self.number[1][at] = number
        self.which[at] = ~same(old, number) | (old[1] > number[1])
        if self.point:
            self.which[at] |= ~numerals.pointed[at]

    def steps(self, at: Longs, places: int) -> Floats:
        """What some words say exactly, in last places of the new unit."""
        value = self.numerals.mantissa[at] / _TENS[self.numerals.scale[at]] * 10.0**places
        factor = np.where(self.was_inch[at], MM_IN_INCH, 1.0)
        factor = factor / np.where(self.to_inch[at], MM_IN_INCH, 1.0)
        return np.asarray(value * factor)

    def written(self) -> bytes:
        """The lines with their new numbers."""
        point = self.point and _POINTED[self.numerals.letter]
        return self.numerals.written(self.which, *self.number, point)


def _exactly(convert: object, old: Decimals, new: Decimals) -> Bools:
    if convert is in_mm:
        return same(new, (old[0] * 254, old[1] + np.int8(1)))
    return same(new, old) if convert is rounded else old[0] == 0
