"""What the numbers of a file count from, event by event, in words."""

from __future__ import annotations

from math import isnan

from headrace.language import Event
from headrace.program import Line
from headrace.rehearsal.lengths import mm
from headrace.sheet.moves import Moves
from headrace.sheet.naming import system_name
from headrace.sheet.travel import at_corner, corner_text, on_machine, place_text

_INCH = 25.4

Numbers = dict[str, float | None]


class Zeros:
    """Follows the zeros of a file. Told of every event of its kind, and of the units in force."""

    def __init__(self, moves: Moves) -> None:
        self.moves = moves
        self.inch: bool = moves.job.start.units == "inch"
        self._system = moves.job.start.system
        self._last: tuple[int, float | None] = -1, None

    def told(self, event: Event, *, touched: bool) -> str:
        """What an event does to the numbers, in words without a stop; nothing where they stay as
        they are. `touched` tells that a touch comes right before it."""
        how, which, axes = event.value if isinstance(event.value, tuple) else ("", 0, "")
        if how == "system" and which == self._system:
            return ""
        was_z, self._last = self._z(event), (event.moves, None)
        if how == "system":
            self._system = which
            return f"counts from the zero of {system_name(which)}"
        if how == "shift" and which != 920:
            return "puts the shift by G92 back" if which == 923 else "ends the shift by G92"
        line = self.moves.job.program[event.line]
        numbers = {axis: self._number(line, axis) for axis in axes}
        if how == "origin":
            return self._origin(line, system_name(which), numbers, touched)
        self._last = event.moves, numbers.get("Z", was_z)
        if touched:
            return f"makes {_read(numbers)} there"
        return (
            self._corner(event, numbers)
            or _raised(was_z, numbers)
            or f"makes {_read(numbers)} here"
        )

    def _number(self, line: Line, axis: str) -> float | None:
        value = line.get(axis)
        return None if value is None else float(value) * (_INCH if self.inch else 1.0)

    def _z(self, event: Event) -> float | None:
        """What Z reads before an event; None where that is not known."""
        moves, number = self._last
        if moves == event.moves:
            return number
        found = self.moves.at(event.moves - 1)
        here = None if found is None else float(found[0].numbers(2)[found[1]])
        return None if here is None or isnan(here) else here

    def _corner(self, event: Event, numbers: Numbers) -> str:
        """A zero in X and Y where the head stands, if that place is known."""
        found = self.moves.at(event.moves - 1)
        there = None if found is None else on_machine(*found)
        if there is None or set(numbers) != {"X", "Y"} or set(numbers.values()) != {0.0}:
            return ""
        corner = at_corner(self.moves.job, there)
        what = corner_text(there) if corner else f"{place_text(there)} of the machine"
        return f"makes this place the zero of X and Y: {what}"

    def _origin(self, line: Line, system: str, numbers: Numbers, touched: bool) -> str:
        """G10: the zero of a system, in machine coordinates or (L20) from where the head stands."""
        if line.has("L", 20):
            return f"makes {_read(numbers)} {'there' if touched else 'here'} in {system}"
        known = {axis: number for axis, number in numbers.items() if number is not None}
        if len(known) < len(numbers):
            how = "from the touch" if touched else "at a worked-out place"
            return f"sets the zero of {system} along {' and '.join(numbers)} {how}"
        place = " ".join(f"{axis}{mm(number)}" for axis, number in known.items())
        told = f"puts the zero of {system} at {place} of the machine"
        corner = {"X", "Y"} <= set(known) and at_corner(self.moves.job, (known["X"], known["Y"]))
        return f"{told}, the sheet's corner" if corner else told


def _read(numbers: Numbers) -> str:
    """What axes are made to read."""
    return " and ".join(
        f"{axis} read {'another number' if number is None else mm(number)}"
        for axis, number in numbers.items()
    )


def _raised(was: float | None, numbers: Numbers) -> str:
    """Another Z number where the head stands, if it is known what it was before."""
    number = numbers.get("Z")
    if was is None or number is None or len(numbers) > 1:
        return ""
    return f"{'raises' if number > was else 'lowers'} the Z number from {mm(was)} to {mm(number)}"
