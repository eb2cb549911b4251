"""What one file does, for whoever looks at it: the facts of a run sheet as far as they hold for a
file that is on no card, and its extents in its own numbers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from headrace.job import Job
from headrace.language.modal import AXES
from headrace.language.trace import CCW
from headrace.machine import Assumed, Span
from headrace.program import Program
from headrace.rehearsal.space.extents import Floats, furthest
from headrace.rehearsal.space.stretches import Stretch, stretches
from headrace.sheet.cuts import cuts_of, on_surface
from headrace.sheet.depth import depth_of
from headrace.sheet.doing import doing
from headrace.sheet.facts import Depth, Pause, Reach, ToolUse
from headrace.sheet.modes import modes
from headrace.sheet.pauses import pauses
from headrace.sheet.reaches import reaches
from headrace.sheet.spans import clean
from headrace.sheet.tools import tool_uses
from headrace.timing.clock import clock_of
from headrace.timing.times import Times, times_of

_MM = 25.4


@dataclass(frozen=True, slots=True)
class Extent:
    """How far the numbers of a file go along one axis, as it writes them: all moves but homing and
    probing, and those that cut. `unit` is `mm`, `inch` or `degrees`."""

    axis: str
    moves: Span | None
    cuts: Span | None
    unit: str


@dataclass(frozen=True, slots=True)
class Shown:
    """A file. `does`, `reaches` and `depth` are what the machine does with it, and empty or None
    where no machine is described; `extents` are in the file's own numbers."""

    lines: int
    moves: int
    size: int
    does: tuple[str, ...]
    modes: tuple[str, ...]
    extents: tuple[Extent, ...]
    pauses: tuple[Pause, ...]
    tools: tuple[ToolUse, ...]
    reaches: tuple[Reach, ...]
    depth: Depth | None
    times: Times


def shown(job: Job, source: Program, assumed: Assumed, bare: bool) -> Shown:
    """The facts of a job; `source` is what CAM wrote, `assumed` what is taken for granted of it,
    and `bare` tells that no machine is described, so that nothing is told that would follow from
    one."""
    space = list(stretches(job))
    cuts = cuts_of(job, space)
    clock = clock_of(job)
    times = times_of(job, clock)
    stops = pauses(job, clock)
    told = modes(job, cuts, times, source, assumed)
    return Shown(
        lines=len(job.program),
        moves=len(job.trace),
        size=sum(len(part) for part in job.program.parts()),
        does=() if bare else doing(job, cuts, stops),
        modes=tuple(_of_the_file(told)) if bare else told,
        extents=extents(job, space),
        pauses=stops,
        tools=tool_uses(job, on_surface(job, cuts), times),
        reaches=() if bare else reaches(job, cuts),
        depth=None if bare else depth_of(job, cuts),
        times=_at_feeds(times) if bare else times,
    )


def _at_feeds(times: Times) -> Times:
    """The times without rapids, whose speed only a machine tells."""
    return replace(times, naive=times.naive - times.rapids, rapids=0.0)


def extents(job: Job, space: list[Stretch]) -> tuple[Extent, ...]:
    """X, Y and Z, arcs at their furthest included, and the axes that turn."""
    unit = job.trace.end.units or "mm"
    scale = _MM if unit == "inch" else 1.0
    linear = tuple(_extent(space, axis, scale, unit) for axis in range(3))
    turns = (_extent(space, axis, 1.0, "degrees") for axis in range(3, len(AXES)))
    return (*linear, *(extent for extent in turns if extent.moves is not None))


def _extent(space: list[Stretch], axis: int, scale: float, unit: str) -> Extent:
    moves: list[float] = []
    cuts: list[float] = []
    for stretch in space:
        block = stretch.block
        going = block.kind <= CCW
        if not going.any():
            continue
        ends = block.ends[axis]
        moves += _ends(ends[going])
        if block.cuts.any():
            cuts += _ends(ends[block.cuts], block.starts(axis)[block.cuts])
            if block.arcs is not None and axis < 3:
                found = (furthest(block, axis, up, stretch.spokes) for up in (False, True))
                arcs = [reached for reached in found if reached is not None]
                cuts += [number for number, row in arcs if block.cuts[row]]
    return Extent(AXES[axis], _span([*moves, *cuts], scale), _span(cuts, scale), unit)


def _ends(*columns: Floats) -> list[float]:
    """The least and the most of some numbers; nothing where none is known."""
    known = [column[~np.isnan(column)] for column in columns]
    return [float(end) for part in known if len(part) for end in (part.min(), part.max())]


def _span(numbers: list[float], scale: float) -> Span | None:
    if not numbers:
        return None
    return Span(clean(min(numbers) / scale), clean(max(numbers) / scale))


def _of_the_file(told: tuple[str, ...]) -> Iterator[str]:
    """Of sentences on modes those that follow from the file alone."""
    for sentence in told:
        if not sentence.startswith(("Zero in ", "Not described: ")):
            yield sentence
    yield "Zero: no set-up tells where it is; depths take Z0 for the top of the sheet."
