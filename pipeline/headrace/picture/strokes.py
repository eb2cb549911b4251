"""The pieces of a way that are drawn alike, in lines with as few points as are seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headrace.picture.depths import NOTHING, Bytes
from headrace.picture.thinning import thinned
from headrace.picture.way import Rows
from headrace.rehearsal.space.extents import Floats


@dataclass(frozen=True, eq=False, slots=True)
class Strokes:
    """Lines of points (m) one behind the other: `code` is what all points of a line are drawn as,
    `row` which point of the way each is, `begins` where lines begin (k)."""

    u: Floats
    v: Floats
    code: Bytes
    row: Rows
    begins: Rows

    def __len__(self) -> int:
        return len(self.u)

    @classmethod
    def of(cls, u: Floats, v: Floats, codes: Bytes, within: float) -> Strokes:
        """The lines that lead through points (n), thinned; the piece that leads to each point is
        drawn as its code says. Lines that stay at one place are one point."""
        edges = np.flatnonzero(np.diff(codes)) + 1
        first = np.concatenate([np.zeros(1, np.int64), edges])[: len(codes)]
        stop = np.concatenate([edges, np.full(1, len(codes), np.int64)])[: len(first)]
        drawn = codes[first] != NOTHING
        first, stop = first[drawn] - 1, stop[drawn]
        sizes = stop - first
        begins = np.cumsum(sizes) - sizes
        row = np.arange(int(sizes.sum())) + np.repeat(first - begins, sizes)
        ends = np.zeros(len(row), np.bool_)
        ends[begins] = True
        ends[begins + sizes - 1] = True
        line_u, line_v = u[row], v[row]
        keep = thinned(line_u, line_v, ends, within)
        code = np.repeat(codes[stop - 1], sizes)
        starts = np.zeros(len(row), np.bool_)
        starts[begins] = True
        return cls(line_u[keep], line_v[keep], code[keep], row[keep], np.flatnonzero(starts[keep]))

    def part(self, code: int, first: int, stop: int) -> Strokes:
        """The lines with a code, of the points `first` to `stop` of the way."""
        mine = self.code == code
        if len(self):
            line = np.cumsum(np.bincount(self.begins, minlength=len(self)))[: len(self)] - 1
            lead = self.row[self.begins][line] + 1
            mine &= (lead >= first) & (lead < stop)
        starts = np.zeros(len(self), np.bool_)
        starts[self.begins] = True
        return Strokes(
            self.u[mine], self.v[mine], self.code[mine], self.row[mine],
            np.flatnonzero(starts[mine]),
        )  # fmt: skip

    def pieces(self) -> tuple[Rows, Rows]:
        """The points at which straight pieces begin and end (k each); lines of one point are a
        piece from it to itself."""
        starts = np.zeros(len(self) + 1, np.bool_)
        starts[self.begins] = True
        starts[-1] = True
        ends = np.arange(len(self))
        alone = starts[:-1] & starts[1:]
        last = ends[~starts[:-1] | alone]
        return np.where(starts[last], last, last - 1), last

    def lines_of(self, first: Rows, last: Rows) -> Strokes:
        """Lines of some of the pieces, from `first` to `last` (k each); those that follow one
        another are one line."""
        anew = np.ones(len(first), np.bool_)
        anew[1:] = first[1:] != last[:-1]
        counts = np.where(anew & (first != last), 2, 1)
        stops = np.cumsum(counts)
        points = np.empty(int(counts.sum()), np.int64)
        points[stops - counts] = first
        points[stops - 1] = last
        code = np.repeat(self.code[last], counts)
        begins = (stops - counts)[anew]
        return Strokes(self.u[points], self.v[points], code, self.row[points], begins)
