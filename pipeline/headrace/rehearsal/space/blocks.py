"""The moves of a trace in blocks that are as long as can be, where the same numbers go on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from math import isnan

import numpy as np

from headrace.language import Block
from headrace.language.trace import ArcColumns
from headrace.rehearsal.lengths import NEAR

_LONGEST = 1 << 15
"""Blocks are joined up to so many moves."""


def blocks_of(blocks: Sequence[Block]) -> list[Block]:
    """The blocks of a trace, cut where a number means something else from there on, and joined
    where it goes on meaning the same."""
    return list(_joined(_apart(blocks)))


def _apart(blocks: Sequence[Block]) -> Iterator[Block]:
    """The blocks, cut where the job names a place for an axis that stood at one in machine
    coordinates: a long run of moves may hold both."""
    for block in blocks:
        if block.setting.placed and len(block) > 1:
            yield from _by_naming(block)
        else:
            yield block


def _by_naming(block: Block) -> Iterator[Block]:
    placed = dict(block.setting.placed)
    leaves = {axis: _leaves(block, axis, place) for axis, place in placed.items()}
    begun = 0
    for row in sorted({*leaves.values(), len(block)}):
        still = tuple((axis, place) for axis, place in placed.items() if leaves[axis] >= row)
        if row > begun:
            setting = replace(block.setting, placed=still)
            yield replace(block.part(begun, row), setting=setting)
        begun = row


def _leaves(block: Block, axis: int, place: float) -> int:
    """The first move that ends elsewhere than at a place in machine coordinates."""
    ends, number = block.ends[axis], place - block.setting.offset[axis]
    if ends.strides == (0,):
        return len(block)
    away = ~np.isnan(ends) if isnan(number) else ~(np.abs(ends - number) <= NEAR)
    return int(away.argmax()) if away.any() else len(block)


def _joined(blocks: Iterable[Block]) -> Iterator[Block]:
    """The blocks, short ones joined with their neighbours where the same numbers go on: what the
    spindle does meanwhile is of no account here."""
    waiting: list[Block] = []
    rows = 0
    for block in blocks:
        count = len(block)
        if not count:
            continue
        if waiting and (rows + count > _LONGEST or not _goes_on(waiting[-1], block)):
            yield _one(waiting)
            waiting, rows = [], 0
        waiting.append(block)
        rows += count
    if waiting:
        yield _one(waiting)


def _goes_on(block: Block, following: Block) -> bool:
    """Whether the numbers mean the same, and one block begins where the other ends."""
    one, other = block.setting, following.setting
    return (
        one.plane == other.plane
        and one.tool == other.tool
        and one.inverse_time == other.inverse_time
        and one.offset == other.offset
        and one.placed == other.placed
        and _same([values.item(-1) for values in block.ends], following.start)
    )


def _same(ends: Sequence[float], start: Sequence[float]) -> bool:
    for end, begun in zip(ends, start, strict=True):
        if end != begun and not (isnan(end) and isnan(begun)):
            return False
    return True


def _one(blocks: Sequence[Block]) -> Block:
    first = blocks[0]
    if len(blocks) == 1:
        return first
    lengths = [len(block) for block in blocks]
    begun = np.cumsum([0, *lengths[:-1]])
    arcs = [(block.arcs, at) for block, at in zip(blocks, begun, strict=True) if block.arcs]
    columns = None
    if arcs:
        columns = ArcColumns(
            np.concatenate([arc.rows + np.int32(at) for arc, at in arcs]),
            np.concatenate([arc.centre_u for arc, _ in arcs]),
            np.concatenate([arc.centre_v for arc, _ in arcs]),
            np.concatenate([arc.turn for arc, _ in arcs]),
        )
    return Block(
        base=0,
        rel=np.concatenate([block.rel for block in blocks])
        + np.repeat(np.array([block.base for block in blocks], np.int32), lengths),
        kind=np.concatenate([block.kind for block in blocks]),
        start=first.start,
        ends=tuple(np.concatenate(axis) for axis in zip(*(b.ends for b in blocks), strict=True)),
        feed=np.concatenate([block.feed for block in blocks]),
        arcs=columns,
        setting=first.setting,
    )
