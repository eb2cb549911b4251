"""How far numbers have been moved (G92) since a touch, or the beginning, gave them their meaning.

Behind a touch the machine's own coordinates are not known, and a further G92 leaves them so. But
the numbers before and behind it are, and their difference is how far the zero has gone.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isnan

from headrace.language import Block, EventKind, Trace

Shift = tuple[float, float, float]
NONE: Shift = (0.0, 0.0, 0.0)


def shifts(blocks: Sequence[Block], trace: Trace) -> list[Shift]:
    """For each of the blocks of a trace (or joined ones) what to add to its X Y Z for numbers as
    they were first meant (mm); 0 along axes whose machine coordinates are known."""
    if not any(_moves(event.value) for event in trace.events_of(EventKind.ZERO)):
        return [NONE] * len(blocks)
    probed = {
        event.moves: set(event.value)
        for event in trace.events_of(EventKind.PROBE)
        if isinstance(event.value, dict)
    }
    found: list[Shift] = []
    now = list(NONE)
    moves = 0
    before: Block | None = None
    for block in blocks:
        if not len(block):
            found.append((now[0], now[1], now[2]))
            continue
        for axis in range(3):
            if axis in probed.get(moves, ()) or not isnan(block.setting.offset[axis]):
                now[axis] = 0.0
            elif before is not None and isnan(before.setting.offset[axis]):
                gone = before.ends[axis].item(-1) - block.start[axis]
                now[axis] += 0.0 if isnan(gone) else gone
        found.append((now[0], now[1], now[2]))
        moves += len(block)
        before = block
    return found


def _moves(value: object) -> bool:
    """Whether a zero event moves numbers, and does not only choose a system."""
    return isinstance(value, tuple) and value[0] != "system"
