"""Short lines as the arcs that they stand for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from headrace import Edit, Facet, Job, transform
from headrace_transforms.lines.line_blocks import Blocks, edits
from headrace_transforms.lines.plain_lines import PlainLines
from headrace_transforms.numbers.digits import PLACES
from headrace_transforms.numbers.modes import Mode
from headrace_transforms.numbers.style import ARC_TOLERANCE, MM_IN_INCH, inch_mode
from headrace_transforms.paths.arc_parts import BY_CENTRE, parts_of
from headrace_transforms.paths.arc_plan import switched
from headrace_transforms.paths.arc_text import plain_texts, with_code
from headrace_transforms.paths.arcs import CLOCKWISE, Arcs, Bools, Floats, Longs
from headrace_transforms.paths.bows import Bow, bows
from headrace_transforms.telling.refusing import refusal

_LINE = 1
"""The kind of a move by G1."""
_PLACES = {"mm": 5, "inch": 6}
"""Places of centres, where the machine leaves the choice."""
_KEPT = 0.9
"""The part of what the standard allows between both radii that is made use of."""


@transform(
    "lines-to-arcs",
    changes=[Facet.SPELLING, Facet.LINE_NUMBERS],
    options={
        "tolerance": {
            "type": "number",
            "description": "How far the path may come to lie from where it was; mm.",
            "exclusiveMinimum": 0,
            "maximum": 1,
            "default": 0.005,
        },
        "least": {
            "type": "integer",
            "description": "How many lines an arc takes the place of at the least, without unit.",
            "minimum": 3,
            "maximum": 1000,
            "default": 4,
        },
    },
    within=lambda _, *, tolerance, **__: tolerance,
)
def lines_to_arcs(job: Job, *, tolerance: float, least: int) -> Iterator[Edit]:
    """Put arcs by their centre in the place of many short lines that lie on one.

    The lines follow one another in the plane of X and Y, on one height or evenly rising, under one
    feed, and say nothing but where they go: a line with a comment, or with more than its move,
    stays. All their ends and middles lie within the tolerance of the arc, which begins and ends
    where they do. Line numbers go with the lines. Increments and G93 stay as they are.

        G1 X0.0394 Y0.6267         ->    G2 X10 Y0 I5 J0
        X0.1571 Y1.2434
        (and so on, to X10 Y0)
    """
    reads = job.machine.arcs
    if not (reads.centre and "G17" in reads.planes):
        raise refusal("arcs-not-read", "this machine reads no arcs by their centre in X and Y")
    helix = reads.helix and reads.feed == "path"
    arcs, stops = _Runs.of(job, helix=helix).arcs(job, tolerance, least)
    if not len(arcs):
        return
    program = job.program
    first = PlainLines.of(program, arcs.line)
    ones = np.ones(len(arcs), np.int64)
    parts = parts_of(arcs, ones, np.full(len(arcs), BY_CENTRE), _places(job, arcs.inch))
    data, lengths = plain_texts(parts, first, program.line_end.encode())
    counts = stops - arcs.line
    owner = np.repeat(np.arange(len(arcs)), counts)
    lines = np.repeat(arcs.line - (np.cumsum(counts) - counts), counts) + np.arange(len(owner))
    heads = np.diff(owner, prepend=-1) != 0
    sizes = np.zeros(len(lines), np.int64)
    sizes[heads] = lengths
    blocks = Blocks(lines, data, np.cumsum(sizes), heads.astype(np.int64))
    texts = _straight_again(job, lines)
    yield from edits(program, blocks, Blocks.of_texts(program, texts))


def _places(job: Job, inch: Bools) -> int:
    if job.machine.decimals is not None:
        return min(job.machine.decimals, PLACES)
    return _PLACES["inch" if inch.any() else "mm"]


@dataclass(frozen=True, slots=True, eq=False)
class _Runs:
    """Straight moves (n) that may be part of an arc: their lines, where they begin and end (n, 3;
    mm), and whether each goes on from the one before it in the same way (n)."""

    line: Longs
    start: Floats
    end: Floats
    goes_on: Bools

    @classmethod
    def of(cls, job: Job, *, helix: bool) -> _Runs:
        """The straight moves in the plane of X and Y, with `helix` those that rise too."""
        line, start, end, goes_on = [], [], [], []
        for block in job.trace.blocks:
            held = block.setting
            if held.plane != 17 or held.incremental or held.inverse_time:
                continue
            begun = np.column_stack([block.starts(axis) for axis in range(3)])
            ended = np.column_stack([block.ends[axis] for axis in range(3)])
            chosen = (block.kind == _LINE) & np.isfinite(begun + ended).all(axis=1)
            chosen &= (begun[:, :2] != ended[:, :2]).any(axis=1)
            if not helix:
                chosen &= begun[:, 2] == ended[:, 2]
            lines = block.line.astype(np.int64)
            same = np.zeros(len(lines), np.bool_)
            same[1:] = (np.diff(lines) == 1) & (block.feed[1:] == block.feed[:-1]) & chosen[:-1]
            line.append(lines[chosen])
            start.append(begun[chosen])
            end.append(ended[chosen])
            goes_on.append(same[chosen])
        if not line:
            none = np.zeros((0, 3))
            return cls(np.zeros(0, np.int64), none, none, np.zeros(0, np.bool_))
        runs = cls(
            np.concatenate(line),
            np.concatenate(start),
            np.concatenate(end),
            np.concatenate(goes_on),
        )
        return runs._plain(job)

    def _plain(self, job: Job) -> _Runs:
        """Those whose lines say nothing but where they go."""
        if not len(self.line):
            return self
        line = self.line
        plain = np.ones(len(line), np.bool_)
        for letter in "IJKR":
            plain &= ~np.isin(line, job.program.lines_with(letter))
        plain[np.flatnonzero(plain)] = _plain_moves(job, line[plain])
        goes_on = self.goes_on & np.concatenate([[False], plain[:-1]])
        return _Runs(line[plain], self.start[plain], self.end[plain], goes_on[plain])

    def arcs(self, job: Job, tolerance: float, least: int) -> tuple[Arcs, Longs]:
        """The arcs (k) that stand for these moves, each with its first line, and the line behind
        the last one of each (k)."""
        found: list[Bow] = []
        firsts = np.flatnonzero(~self.goes_on)
        inch = inch_mode(job, len(job.program)).at(self.line)
        places = _places(job, inch)
        spare = 10.0**-places * (MM_IN_INCH if inch.any() else 1.0)
        ends = np.append(firsts[1:], len(self.line))
        long = ends - firsts >= least
        for first, end in zip(firsts[long].tolist(), ends[long].tolist(), strict=True):
            points = np.vstack([self.start[first : first + 1], self.end[first:end]])
            for bow in bows(points, tolerance - spare, least):
                found.append(Bow(first + bow.first, first + bow.stop, bow.centre, bow.turn))
        begun = np.array([bow.first for bow in found], np.int64)
        last = np.array([bow.stop - 1 for bow in found], np.int64)
        turn = np.array([bow.turn for bow in found], np.float64)
        line = self.line[begun]
        stop = len(job.program)
        no = np.zeros(len(found), np.bool_)
        arcs = Arcs(
            line=line,
            kind=np.where(turn < 0, CLOCKWISE, CLOCKWISE + 1),
            plane=np.full(len(found), 17),
            start=self.start[begun],
            end=self.end[last],
            centre=np.array([bow.centre for bow in found], np.float64).reshape(-1, 2),
            turn=np.abs(turn),
            by_radius=no,
            increments=no,
            absolute=Mode.of(job, stop, (90.1, 91.1), job.start.absolute_centres).at(line),
            inch=inch_mode(job, stop).at(line),
            timed=no,
            swings=no,
            lifts=self.start[begun, 2] != self.end[last, 2],
        )
        good = _closes(arcs, places) & ~switched(job, arcs)
        return arcs.where(good), self.line[last][good] + 1


def _plain_moves(job: Job, lines: Longs) -> Bools:
    """Which lines hold nothing but a straight move, a feed and a line number."""
    if not len(lines):
        return np.zeros(0, np.bool_)
    told = PlainLines.of(job.program, lines)
    plain: Bools = told.plain & ((told.code == _LINE) | (told.code < 0))
    return plain


def _closes(arcs: Arcs, places: int) -> Bools:
    """Whether the radii at both ends are the same still when the centre is rounded (k)."""
    base = np.where(arcs.absolute[:, None], 0.0, arcs.start[:, :2])
    unit = arcs.factor[:, None]
    centre = np.round((arcs.centre - base) / unit, places) * unit + base
    first, last = (np.hypot(*(place[:, :2] - centre).T) for place in (arcs.start, arcs.end))
    allowed = np.where(arcs.inch, ARC_TOLERANCE["inch"], ARC_TOLERANCE["mm"])
    closes: Bools = np.abs(first - last) <= _KEPT * allowed
    return closes


def _straight_again(job: Job, gone: Longs) -> dict[int, Sequence[str]]:
    """Lines behind an arc that relied on the motion word of a straight move before it."""
    moves = job.trace.line
    straight = job.trace.kind == _LINE
    optional = job.program.lines_optional()
    texts: dict[int, Sequence[str]] = {}
    taken = np.zeros(len(job.program), np.bool_)
    taken[gone] = True
    last = gone[np.append(np.diff(gone) != 1, True)]
    for behind in np.searchsorted(moves, last, "right").tolist():
        while behind < len(moves) and straight[behind]:
            index = int(moves[behind])
            if taken[index]:
                break
            line = job.program[index]
            if not line.has("G", 0, 1):
                texts[index] = [with_code(job, line, "G1")]
            if index not in optional:
                break
            behind += 1  # a switch may leave this line out
    return texts
