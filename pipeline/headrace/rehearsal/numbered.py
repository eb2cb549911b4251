"""The moves of a trace by their numbers, from 0, over all its blocks."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import accumulate

from headrace.language import Block


class Numbered:
    """Moves, looked up without walking along them."""

    def __init__(self, blocks: Sequence[Block]) -> None:
        self._blocks = blocks
        self._begun = [0, *accumulate(len(block) for block in blocks)]

    def __len__(self) -> int:
        return self._begun[-1]

    def at(self, move: int) -> tuple[Block, int]:
        """The block that a move is in, and its row."""
        which = bisect_right(self._begun, move) - 1
        return self._blocks[which], move - self._begun[which]

    def start(self, move: int, axis: int) -> float:
        """Where a move begins along an axis, in the numbers in force; NaN where not known."""
        block, row = self.at(move)
        return float(block.ends[axis][row - 1] if row else block.start[axis])

    def end(self, move: int, axis: int) -> float:
        """Where a move ends along an axis, in the numbers in force; NaN where not known."""
        block, row = self.at(move)
        return float(block.ends[axis][row])
