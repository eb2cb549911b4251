"""Axes that turn, in sentences of what a file does."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from headrace.language.modal import AXES
from headrace.rehearsal.lengths import mm
from headrace.sheet.moves import Moves


def turned(moves: Moves, first: int, last: int) -> Iterator[str]:
    """What the moves from `first` to before `last` turn, as in `turns A to 90 degrees`."""
    for name in AXES[3:]:
        number = _reached(moves, name, first, last)
        if number is not None:
            yield f"turns {name} to {mm(number)} degrees"


def _reached(moves: Moves, name: str, first: int, last: int) -> float | None:
    """The number to which an axis is turned in the end; None where it is not turned."""
    axis, found = AXES.index(name), None
    for part, rows in moves.between(first, last):
        block = part.stretch.block
        ends, starts = block.ends[axis][rows], block.starts(axis)[rows]
        turns = np.flatnonzero((ends != starts) & ~np.isnan(ends))
        found = float(ends[turns[-1]]) if len(turns) else found
    return found
