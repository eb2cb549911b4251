"""Ways on which nothing is cut, told in words: up, down, and where to."""

from __future__ import annotations

from collections.abc import Iterable
from math import isnan

import numpy as np

from headrace.job import Job
from headrace.language.trace import CCW
from headrace.rehearsal.lengths import NEAR, mm
from headrace.rehearsal.space.lanes import ends_of
from headrace.rehearsal.space.stretches import Stretch
from headrace.sheet.heights import height_text
from headrace.sheet.moves import Moves

_UPRIGHT = ("lifts", "comes down")
_MOST = 8
"""So many moves in a row are told one by one."""
_ENDS = 2
"""Of more, so many at the beginning and at the end."""

SAME = 0.01
"""Places (mm) that are told as one: a file in inches has its own rounding."""

Pair = tuple[float, float]


def travelled(moves: Moves, first: int, last: int) -> list[str]:
    """What the moves `first` to before `last` do, in a few words each; homing and probing are left
    out. Of many moves the first and the last ones are told."""
    ways = [
        part.begun + row
        for part, rows in moves.between(first, last)
        for row in _moving(part.stretch, rows)
    ]
    if len(ways) <= _MOST:
        return _each(moves, ways)
    between = f"moves on without cutting ({len(ways) - 2 * _ENDS} moves)"
    return [*_each(moves, ways[:_ENDS]), between, *_each(moves, ways[-_ENDS:])]


def _each(moves: Moves, ways: Iterable[int]) -> list[str]:
    return _shortened(text for move in ways if (text := _told(moves, move)))


def _shortened(told: Iterable[str]) -> list[str]:
    """The same without ways up that go on with the next one, nor such ways down."""
    found: list[str] = []
    for text in told:
        verb = text.split(" to ")[0]
        if found and verb in _UPRIGHT and found[-1].startswith(verb):
            found.pop()
        found.append(text)
    return found


def only_lifts(moves: Moves, first: int, last: int) -> bool:
    """Whether these moves only go straight up."""
    return all(text.startswith("lifts") for text in travelled(moves, first, last))


def _moving(stretch: Stretch, rows: slice) -> list[int]:
    kinds = stretch.block.kind[rows]
    return [rows.start + int(row) for row in np.flatnonzero(kinds <= CCW)]


def _told(moves: Moves, move: int) -> str:
    found = moves.at(move)
    assert found is not None, "only moves that are there are told"
    stretch, row = found
    start, end = ends_of(stretch, np.array([row]))
    goes = [
        _goes_along(stretch, row, axis, start[0, axis], end[0, axis])
        and not _stays_placed(moves, move, axis)
        for axis in range(3)
    ]
    sideways, height = goes[0] or goes[1], _height(stretch, row) if goes[2] else ""
    if sideways:
        return f"{_goes(stretch, row)} and {height} at once" if height else _goes(stretch, row)
    if not height:
        return ""
    if isnan(start[0, 2]):
        return f"goes to {height}"
    return f"{_UPRIGHT[int(end[0, 2] < start[0, 2])]} to {height}"


def _goes_along(stretch: Stretch, row: int, axis: int, start: float, end: float) -> bool:
    """Whether a move goes along an axis; where it began is not known, its line tells."""
    if isnan(start):
        return stretch.job.program[stretch.line(row)].has("XYZ"[axis])
    return not isnan(end) and abs(end - start) > NEAR


def _stays_placed(moves: Moves, move: int, axis: int) -> bool:
    """Whether an axis stands at the same place in machine coordinates before and behind a move,
    whatever the numbers, or another bit, make of it."""
    placed = [
        dict(found[0].block.setting.placed).get(axis)
        for at in (move - 1, move)
        if (found := moves.at(at)) is not None
    ]
    return len(placed) == 2 and placed[0] is not None and placed[0] == placed[1]


def _height(stretch: Stretch, row: int) -> str:
    return height_text(stretch, float(stretch.numbers(2)[row]))


def _goes(stretch: Stretch, row: int) -> str:
    job, there = stretch.job, on_machine(stretch, row)
    park = (job.machine.park.get("x"), job.machine.park.get("y"))
    if there is not None and _same(there, park):
        return f"parks at {place_text(there)} of the machine"
    on_sheet = _on_sheet(stretch, row)
    if on_sheet is not None and _same(on_sheet, (0.0, 0.0)):
        return f"goes to {corner_text(there)}"
    if on_sheet is not None and _same(on_sheet, job.setup.plate.at):
        return f"goes over the plate's place, {place_text(on_sheet)} from the sheet's corner"
    if on_sheet is not None:
        return f"goes to {place_text(on_sheet)} from the sheet's corner"
    if there is not None:
        return f"goes to {place_text(there)} of the machine"
    return f"goes to {place_text((_number(stretch, 0, row), _number(stretch, 1, row)))}"


def corner_text(machine: Pair | None) -> str:
    """The sheet's corner, and where that is on the machine."""
    there = "" if machine is None else f" ({place_text(machine)} of the machine)"
    return f"the sheet's corner{there}"


def place_text(place: Pair) -> str:
    """A place in X and Y; an axis that is not known is left out."""
    named = zip("XY", place, strict=True)
    return " ".join(f"{axis}{mm(at)}" for axis, at in named if not isnan(at))


def on_machine(stretch: Stretch, row: int) -> Pair | None:
    """Where a move ends in X and Y in machine coordinates; None where that is not known."""
    found = []
    for axis in (0, 1):
        add, number = stretch.frame.machine[axis], _number(stretch, axis, row)
        if add is None or isnan(number):
            return None
        found.append(number + add.least)
    return found[0], found[1]


def _on_sheet(stretch: Stretch, row: int) -> Pair | None:
    x, y = stretch.frame.sheet
    if x is None or y is None:
        return None
    place = _number(stretch, 0, row) + x, _number(stretch, 1, row) + y
    return None if isnan(place[0]) or isnan(place[1]) else place


def _number(stretch: Stretch, axis: int, row: int) -> float:
    return float(stretch.numbers(axis)[row])


def _same(place: Pair, other: tuple[float | None, float | None] | None) -> bool:
    return other is not None and all(
        two is not None and abs(one - two) <= SAME for one, two in zip(place, other, strict=True)
    )


def at_corner(job: Job, machine: Pair | None) -> bool:
    """Whether a place in machine coordinates is the sheet's corner."""
    corner = job.setup.sheet.corner
    return machine is not None and corner is not None and _same(machine, corner)
