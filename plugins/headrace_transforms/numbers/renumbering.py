"""Places said by other numbers: from the zero of another work offset system."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal

import numpy as np
import numpy.typing as npt

from headrace import EventKind, Job
from headrace_transforms.numbers.exact import Decimals
from headrace_transforms.numbers.exchanging import Exchange, Longs, require_read
from headrace_transforms.numbers.modes import Bools, Mode
from headrace_transforms.numbers.style import MM_IN_INCH, inch_mode
from headrace_transforms.numbers.systems import PLANES, Selected, Shift, way_between
from headrace_transforms.paths.arcs import ACROSS, AXES, CENTRES, Arcs
from headrace_transforms.telling.refusing import refusal

_IN_INCHES = Decimal(1).scaleb(-8)
"""Millimetres are said in inches with so many places: a path strays by less than a millionth."""
_LARGEST = 1e17
_TENS = 10 ** np.arange(19, dtype=np.int64)


def renumbered(job: Job, stop: int, selected: Selected, target: int) -> list[Exchange]:
    """The numbers of the lines before `stop`, all from the zero of one system.

    Raises JobRefused where a line says places in other ways than by plain numbers.
    """
    every = Exchange.of(job, stop)
    places = _Placing(job, stop, selected, target)
    require_read(job, every, places.on)
    shifts = {system: way_between(job, system, target) for system in places.systems}
    inch = inch_mode(job, stop)
    for each in every:
        axis = places.axes(each)
        for system, shift in shifts.items():
            here = (axis >= 0) & (selected.at(each.numerals.line) == system)
            at = np.flatnonzero(here)
            inches = inch.at(each.numerals.line[at])
            for which in range(3):
                for unit in (False, True):
                    mine = at[(axis[at] == which) & (inches == unit)]
                    if len(mine) and shift[which]:
                        each.put(mine, _added(job, each, mine, _in_unit(shift, which, unit)))
    return every


class _Placing:
    """Which words of a job say places in other systems than the target."""

    def __init__(self, job: Job, stop: int, selected: Selected, target: int) -> None:
        self.selected = selected
        self.target = target
        self.systems = {b.setting.system for b in job.trace.blocks if len(b)} - {target}
        self.increments = Mode.of(job, stop, (91.0, 90.0), job.start.incremental)
        self.planes = Selected.of(job, stop, PLANES, job.start.plane)
        homing = job.dialect.homing
        names = [] if homing is None else [homing / 10]
        self.others = job.program.lines_with("G", 10, 53, 92, *names)
        self.cycles = np.array([e.line for e in job.trace.events_of(EventKind.CYCLE)], np.int64)
        arcs = Arcs.of(job)
        self.centred = arcs.line[arcs.absolute & ~arcs.by_radius]
        self._require_whole_cycles(job)

    def on(self, line: int) -> bool:
        """Whether a line says places in another system."""
        only = np.array([line])
        return bool(self._absolute(only)[0] and self.selected.at(only)[0] != self.target)

    def axes(self, each: Exchange) -> Longs:
        """The axis along which each word (w) says a place, -1 where it says none."""
        numerals = each.numerals
        axis = np.full(len(numerals), -1)
        letters = np.full(256, -1)
        letters[list(AXES.encode())] = range(3)
        axis = np.where(self._absolute(numerals.line), letters[numerals.letter], -1)
        if len(self.cycles):
            at = np.flatnonzero(each.words("R"))
            at = at[np.isin(numerals.line[at], self.cycles) & self._absolute(numerals.line[at])]
            across = np.array([ACROSS.get(plane, -1) for plane in range(20)])
            axis[at] = across[self.planes.at(numerals.line[at])]
        if len(self.centred):
            letters[:] = -1
            letters[list(CENTRES.encode())] = range(3)
            centres = np.isin(numerals.line, self.centred) & (letters[numerals.letter] >= 0)
            axis = np.where(centres, letters[numerals.letter], axis)
        axis[self.selected.at(numerals.line) == self.target] = -1
        found: Longs = axis
        return found

    def _absolute(self, lines: npt.NDArray[np.integer]) -> Bools:
        """Which lines (n) name places by axis words."""
        absolute: Bools = ~self.increments.at(lines) & ~np.isin(lines, self.others)
        return absolute

    def _require_whole_cycles(self, job: Job) -> None:
        """No cycle that goes on in another system with the heights of the last one."""
        systems = self.selected.at(self.cycles)
        for at in np.flatnonzero(systems[1:] != systems[:-1]) + 1:
            line = job.program[int(self.cycles[at])]
            depth = AXES[ACROSS[int(self.planes.at(self.cycles[at : at + 1])[0])]]
            if not (line.has("R") and line.has(depth)):
                what = f"this cycle goes on with R and {depth} that were said in another system"
                raise refusal("cycle-in-force", what, place=job.program.place(line.index))
        boring = np.intersect1d(job.program.lines_with("G", 87), self.cycles)
        boring = boring[systems[np.searchsorted(self.cycles, boring)] != self.target]
        if len(boring):
            what = "this cycle says a further place, by K"
            raise refusal("cycle-in-force", what, place=job.program.place(int(boring[0])))


def _in_unit(shift: Shift, which: int, inch: bool) -> Decimal:
    """A way (mm) as it is said in inches, or in millimetres."""
    if not inch:
        return shift[which]
    inches = shift[which] / Decimal(str(MM_IN_INCH))
    return inches.quantize(_IN_INCHES, ROUND_HALF_EVEN).normalize()


def _added(job: Job, each: Exchange, at: Longs, further: Decimal) -> Decimals:
    """The numbers of some words with a further one added, exactly."""
    numerals = each.numerals
    exponent = further.as_tuple().exponent
    assert isinstance(exponent, int)
    own = max(0, -exponent)
    scale = np.maximum(numerals.scale[at], np.int8(own))
    size = np.maximum(
        np.abs(numerals.mantissa[at]) / 10.0 ** numerals.scale[at], abs(float(further))
    )
    large = size * 10.0**scale > _LARGEST
    if large.any():
        line = int(numerals.line[at[np.argmax(large)]])
        what = "with its many places this number cannot be moved"
        raise refusal("number-too-large", what, place=job.program.place(line))
    mantissa = numerals.mantissa[at] * _TENS[scale - numerals.scale[at]]
    mantissa += int(further.scaleb(own)) * _TENS[scale - own]
    return mantissa, scale
