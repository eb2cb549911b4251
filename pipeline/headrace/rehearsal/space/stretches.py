"""A job's moves, stretch by stretch, each with what its numbers mean on machine and sheet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain

import numpy as np
import numpy.typing as npt

from headrace.findings import Place
from headrace.job import Job
from headrace.language import Block
from headrace.language.modal import PLANES
from headrace.language.state import NAN
from headrace.language.trace import CCW, LINE
from headrace.machine import Setup, Tool
from headrace.rehearsal.shifts import Shift, shifts
from headrace.rehearsal.space.blocks import blocks_of
from headrace.rehearsal.space.extents import Floats, Furthest, Spokes, furthest, outermost
from headrace.rehearsal.space.frame import Frame
from headrace.rehearsal.space.stand import Stand

Rows = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Stretch:
    """A block of moves. `frame` is for its `numbers`, `start` where the head stands before it."""

    job: Job
    block: Block
    frame: Frame
    start: Stand

    def __len__(self) -> int:
        return len(self.block)

    @cached_property
    def setup(self) -> Setup:
        """The set-up with the bit that is in the collet."""
        return self.job.setup.with_tool(self.block.setting.tool)

    @property
    def tool(self) -> Tool:
        """The bit that is in the collet."""
        return self.setup.tool

    def field(self, name: str) -> str:
        """Where something of this bit is said."""
        return self.setup.field(self.tool, name)

    def place(self, row: int) -> Place:
        """The line of a move."""
        return self.job.program.place(self.line(row))

    def line(self, row: int) -> int:
        """The line of a move, by its number."""
        return self.block.base + int(self.block.rel[row])

    def numbers(self, axis: int) -> Floats:
        """Where the moves end along an axis: machine coordinates where the axis stands at a place
        in these, else the numbers in force (n)."""
        if axis in self._placed:
            return np.broadcast_to(np.float64(self._placed[axis]), len(self))
        return self.block.ends[axis]

    def furthest(self, axis: int, up: bool) -> Furthest | None:
        """The highest or lowest number along an axis, arcs included, and its move's row."""
        if (axis, up) not in self._found:
            placed = self._placed.get(axis)
            self._found[axis, up] = (
                furthest(self.block, axis, up, self.spokes) if placed is None else (placed, 0)
            )
        return self._found[axis, up]

    @cached_property
    def begun(self) -> tuple[float, float, float]:
        """Where the first move begins: X and Y from the sheet's corner (as numbers, where that is
        not described), Z as a number of the frame; NaN where not known."""
        frame, start = self.frame, self.start
        offset = self.block.setting.offset
        numbers = [
            number + offset[axis] if axis in self._placed else number
            for axis, number in enumerate(self.block.start[:3])
        ]
        return (
            numbers[0] if frame.sheet[0] is None else start.x,
            numbers[1] if frame.sheet[1] is None else start.y,
            numbers[2] if frame.tip is None else start.tip - frame.tip.least,
        )

    @cached_property
    def spokes(self) -> Spokes | None:
        """From the arcs' centres to where they begin; None where there are no arcs."""
        return Spokes.of(self.block)

    @cached_property
    def lengths(self) -> Floats:
        """How far each move goes (n, mm), arcs along their turn; NaN where that is not known."""
        total = np.zeros(len(self))
        for axis in range(3):
            if self.block.ends[axis].strides != (0,):
                total += self._ways(axis) ** 2
            else:
                total[:1] += self._ways(axis)[:1] ** 2
        lengths: Floats = np.sqrt(total)
        arcs, spokes = self.block.arcs, self.spokes
        if arcs is not None and spokes is not None:
            across = PLANES[self.block.setting.plane][2]
            rise = np.nan_to_num(self._ways(across)[arcs.rows])
            lengths[arcs.rows] = np.hypot(spokes.length * arcs.turn, rise)
        return lengths

    def _ways(self, axis: int) -> Floats:
        """How far each move goes along an axis (n, mm); NaN where that is not known."""
        ends = self.block.ends[axis]
        return np.diff(ends, prepend=self.block.start[axis])

    @cached_property
    def _placed(self) -> dict[int, float]:
        return dict(self.block.setting.placed)

    @cached_property
    def _found(self) -> dict[tuple[int, bool], Furthest | None]:
        return {}

    @cached_property
    def lowest(self) -> Furthest | None:
        """The lowest Z number that a move goes to, probes and homing left out, and its row."""
        found = self.furthest(2, False)
        if found is None or self.block.kind[found[1]] <= CCW:
            return found
        return outermost(np.where(self.block.kind <= CCW, self.numbers(2), NAN), False)

    @cached_property
    def lowest_cut(self) -> Furthest | None:
        """The lowest Z number that a cut of the job's own goes to, and its row."""
        found = self.furthest(2, False)
        if found is None:
            return None
        cuts = LINE <= self.block.kind[found[1]] <= CCW
        if cuts and self.job.program.own(np.array([self.line(found[1])])).all():
            return found
        return outermost(np.where(self.own_cuts, self.numbers(2), NAN), False)

    @cached_property
    def own_cuts(self) -> npt.NDArray[np.bool_]:
        """Which moves are cuts of the job's own (n)."""
        cuts = self.block.cuts
        if cuts.any():
            rows = np.flatnonzero(cuts)
            cuts[rows] = self.job.program.own(self.block.line[rows])
        return cuts

    @cached_property
    def end(self) -> Stand:
        """Where the head stands behind it."""
        x, y, z = (float(self.numbers(axis)[-1]) for axis in range(3))
        return Stand.of(self.frame, (x, y, z))


def stretches(job: Job) -> Iterator[Stretch]:
    """The stretches of a job, in order."""
    last = Stand()
    frames: dict[tuple[int | None, bytes], Frame] = {}

    def frame_of(tool: int | None, offset: list[float], shift: Shift) -> Frame:
        key = (tool, np.array([*offset, *shift]).tobytes())
        if key not in frames:
            frames[key] = Frame.of(job.machine, job.setup.with_tool(tool), offset, shift)
        return frames[key]

    blocks = blocks_of(job.trace.blocks)
    for block, shift in zip(blocks, shifts(blocks, job.trace), strict=True):
        offset = list(block.setting.offset[:3])
        tool = block.setting.tool
        here = Stand.of(frame_of(tool, offset, shift), block.start)
        for axis, _ in block.setting.placed:
            if axis < 3:
                offset[axis] = 0.0
        stretch = Stretch(job, block, frame_of(tool, offset, shift), here.or_else(last))
        yield stretch
        last = stretch.end


def by_tool(space: Sequence[Stretch]) -> list[list[Stretch]]:
    """The stretches of each bit, in the order in which the bits are first in the collet."""
    found: dict[Tool, list[Stretch]] = {}
    for stretch in space:
        found.setdefault(stretch.tool, []).append(stretch)
    return list(found.values())


def described(setup: Setup) -> bool:
    """Whether a set-up says anything about where things are."""
    sheet = setup.sheet
    tools = ((tool.stick_out, tool.diameter) for tool in (setup.tool, *setup.tools))
    told = (sheet.thickness, sheet.corner, sheet.size, *chain.from_iterable(tools))
    return any(value is not None for value in (*told, setup.clamps, setup.safe_height))
