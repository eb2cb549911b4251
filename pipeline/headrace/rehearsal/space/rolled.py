"""A job on a blank, rolled out: what the bit does on the surface, as if that were a sheet.

How a cut is meant does not hang on whether the bit goes over the wood or the wood under the bit. So
the checks of cutting look at the surface laid flat, with the feeds that it sees.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from headrace.job import Job
from headrace.language import Block
from headrace.language.modal import AXES
from headrace.machine import Blank, Machine, Rotary
from headrace.rehearsal.space.extents import Floats
from headrace.rehearsal.space.stretches import Stretch


def rolled_out(job: Job, space: Sequence[Stretch]) -> Iterator[Stretch]:
    """The stretches, those that turn the blank laid flat; as they are where there is no blank."""
    blank = job.setup.blank
    for stretch in space:
        block = stretch.block if blank is None else laid_flat(stretch.block, blank, job.machine)
        yield stretch if block is stretch.block else replace(stretch, block=block)


def turns(block: Block, letter: str) -> bool:
    """Whether a block turns an axis."""
    ends = block.ends[AXES.index(letter.upper())]
    return ends.strides != (0,) and bool((angles(block, letter) != 0).any())


def angles(block: Block, letter: str) -> Floats:
    """By how much each move turns an axis (n, degrees); NaN where that is not known, 0 where it is
    unknown before and behind a move, which does not name it then."""
    return _way(block, AXES.index(letter.upper()))


def counted(block: Block, letter: str, axis: Rotary) -> Floats:
    """The way that F counts of each straight move (n, mm, or degrees where the axis turns alone):
    RS274/NGC 2.1.2.5, if not described otherwise."""
    linear = np.sqrt(sum(_way(block, each) ** 2 for each in range(3)))
    turned = np.abs(angles(block, letter))
    both: Floats = np.hypot(linear, turned) if axis.counts == "all" else linear
    return np.where(linear == 0, turned, both)


def _way(block: Block, axis: int) -> Floats:
    start, end = block.starts(axis), block.ends[axis]
    way: Floats = end - start
    way[np.isnan(start) & np.isnan(end)] = 0.0
    return way


def laid_flat(block: Block, blank: Blank, machine: Machine) -> Block:
    """A block with turns as ways along the surface (an arc is as long as radius times angle), added
    to those that the head goes that way, and with the feeds along them; itself, where it turns
    nothing."""
    if not turns(block, blank.axis):
        return block
    axis = machine.rotary[blank.axis]
    a = AXES.index(blank.axis.upper())
    across = 1 if axis.along == "x" else 0
    mm = axis.sense * blank.around / 360.0
    ends, start = list(block.ends), list(block.start)
    ends[across] = np.nan_to_num(block.ends[across]) + block.ends[a] * mm
    start[across] = float(np.nan_to_num(block.start[across])) + block.start[a] * mm
    ends[a], start[a] = np.zeros(len(block)), 0.0
    flat = replace(block, ends=tuple(ends), start=tuple(start))
    length = np.sqrt(sum(_way(flat, each) ** 2 for each in range(3)))
    with np.errstate(invalid="ignore", divide="ignore"):
        per = 1.0 if block.setting.inverse_time else counted(block, blank.axis, axis)
        feed = np.where(length > 0, block.feed * length / per, block.feed)
    bows = block.kind > 1
    feed[bows] = block.feed[bows]
    return replace(flat, feed=feed, setting=replace(block.setting, inverse_time=False))
