"""Rapids that go by the corner instead of slantwise: up before across, across before down."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from headrace.language.modal import AXES
from headrace.language.trace import RAPID
from headrace.proof.path import SAME, Bools, Path


def straightened(old: Path, new: Path) -> Path:
    """`new` with two rapids of one line made one again, where `old` has one rapid from that line
    and the way between them leads by the corner. All else stays as it is."""
    if old.ids is None or new.ids is None or len(new) <= len(old):
        return new
    first = _pairs(new) & _by_the_corner(new)
    first[:-1] &= _alone(old, new)[:-1]
    if not first.any():
        return new
    second = np.concatenate([[False], first[:-1]])
    starts = [column.copy() for column in new.starts]
    for column, begun in zip(starts, new.starts, strict=True):
        column[second] = begun[first]
    held = []
    for place in new.held:
        was = None if place is None else place.copy()
        if was is not None:
            was[second] = was[first]
        held.append(was)
    return replace(new, starts=starts, held=held).where(~first)


def _pairs(path: Path) -> Bools:
    """Which moves are rapids of a line that the next one belongs to as well, a rapid too."""
    assert path.ids is not None
    rapid = path.kind == RAPID
    pairs = np.zeros(len(path), np.bool_)
    pairs[:-1] = rapid[:-1] & rapid[1:] & (path.ids[:-1] == path.ids[1:])
    return pairs


def _by_the_corner(path: Path) -> Bools:
    """Where a move and the next one go up and then across, or across and then down."""
    across = np.zeros(len(path), np.bool_)
    across[:-1] = True
    up, down = across.copy(), across.copy()
    for axis in range(len(AXES)):
        begun, middle, end = path.starts[axis][:-1], path.ends[axis][:-1], path.ends[axis][1:]
        with np.errstate(invalid="ignore"):
            stays, arrives = np.abs(middle - begun) <= SAME, np.abs(middle - end) <= SAME
            if axis == 2:
                up[:-1] &= arrives & (end >= begun)
                down[:-1] &= stays & (end <= begun)
            else:
                unmoved = stays | (np.isnan(begun) & np.isnan(middle))
                there = arrives | (np.isnan(end) & np.isnan(middle))
                up[:-1] &= unmoved
                down[:-1] &= there
    return up | down


def _alone(old: Path, new: Path) -> Bools:
    """Which moves of `new` belong to a line of which `old` has one move, and `new` two."""
    assert old.ids is not None
    assert new.ids is not None
    top = int(max(old.ids.max(initial=-1), new.ids.max(initial=-1))) + 1
    counted = [np.bincount(path.ids, minlength=top) for path in (old, new) if path.ids is not None]
    alone: Bools = ((counted[0] == 1) & (counted[1] == 2))[new.ids]
    return alone
