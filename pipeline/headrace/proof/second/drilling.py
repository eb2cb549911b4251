"""Canned cycles as single moves (3.5.16): drilling, dwelling, pecking, boring."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

CYCLES = frozenset({810, 820, 830, 840, 850, 860, 880, 890})
_FEEDS_OUT = frozenset({840, 850, 890})
_TURNS_OUT = {840: "ccw", 860: "off"}
_CLEARANCE = 0.254
"""Where a peck begins above the last one (mm)."""
_NEAR = 1e-9

Step = tuple[bool, dict[int, float], str | None]
"""Whether a move is rapid, where it goes along some axes, and how the spindle turns in it, where
that is otherwise than before."""


class Hole(NamedTuple):
    """The numbers that stick while a cycle is in force, as they were stated (mm)."""

    r: float = float("nan")
    bottom: float = float("nan")
    peck: float = float("nan")

    def stated(self, values: dict[bytes, float]) -> Hole:
        """With what a line says anew."""
        return Hole(
            values.get(b"R", self.r), values.get(b"Z", self.bottom), values.get(b"Q", self.peck)
        )


def drilled(
    code: int,
    hole: Hole,
    height: float,
    sideways: dict[int, float],
    step: dict[int, float],
    count: int,
    depth: int,
    incremental: bool,
    to_r: bool,
) -> Iterator[Step]:
    """The moves of `count` holes, from `height` along the axis `depth`.

    `sideways` is the first place, `step` what each repeat adds. In increments R counts from where
    the cycle begins and the bottom from R (3.5.16.1).
    """
    r = height + hole.r if incremental else hole.r
    bottom = r + hole.bottom if incremental else hole.bottom
    clear = r if to_r else max(height, r)
    if height < r:
        yield True, {depth: r}, None
    for number in range(count):
        place = {axis: value + number * step.get(axis, 0.0) for axis, value in sideways.items()}
        yield True, place, None
        yield True, {depth: r}, None
        if code == 830:
            level = r - hole.peck
            while level > bottom + _NEAR:
                yield False, {depth: level}, None
                yield True, {depth: clear}, None
                yield True, {depth: min(level + _CLEARANCE, clear)}, None
                level -= hole.peck
        yield False, {depth: bottom}, None
        if code != 880:  # there the operator takes the tool out
            yield code not in _FEEDS_OUT, {depth: clear}, _TURNS_OUT.get(code)
