"""Where a job goes into the sheet, in order."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headrace.picture.lettering import Lettering, spot
from headrace.picture.plane import Plane
from headrace.picture.way import CUT, Rows, Way
from headrace.rehearsal.space.extents import Floats

_DOT = 0.4
"""Of dots that lie nearer to one another on paper (mm) one is drawn."""
_TOGETHER = 1.2
"""Places nearer to one another on paper (mm) share a label."""
_SAME = 0.05
_OUT = 0.05
"""A bit is out of the sheet where it is higher than this over its top (mm)."""
_FEW = 100
_SHOWN = 40
"""Of more than a hundred places about so many have numbers."""
_MANY = 1500
"""Of more places only those with numbers have dots."""


@dataclass(frozen=True, eq=False, slots=True)
class Entries:
    """The places (n) where bits go into the sheet, in order (mm); `bits` are which of `numbers` is
    in. Going in again at one place, as for a deeper pass or to clear chips, counts once."""

    x: Floats
    y: Floats
    bits: Rows
    numbers: tuple[int | None, ...]

    def __len__(self) -> int:
        return len(self.x)

    @classmethod
    def of(cls, way: Way) -> Entries:
        """Those of a way."""
        engaged = way.engaged
        higher = way.z.copy()
        np.fmax(higher[1:], way.z[:-1], out=higher[1:])
        away = np.cumsum(~engaged & ~((way.kind == CUT) & (higher <= _OUT)))
        cuts = np.flatnonzero(engaged)
        rows = cuts[np.diff(away[cuts], prepend=-1) != 0] - 1
        x, y = way.x[rows], way.y[rows]
        numbers = tuple(dict.fromkeys(leg.number for leg in way.legs))
        legs = np.searchsorted([leg.stop for leg in way.legs], rows, "right")
        bits = np.array([numbers.index(leg.number) for leg in way.legs], np.int64)[legs]
        anew = np.ones(len(rows), np.bool_)
        anew[1:] = (np.hypot(np.diff(x), np.diff(y)) > _SAME) | (np.diff(bits) != 0)
        return cls(x[anew], y[anew], bits[anew], numbers)


def draw(entries: Entries, plane: Plane, letters: Lettering) -> tuple[str, int]:
    """A dot at each place, a ring around the first of each bit, and numbers where there is room;
    and how many numbers are shown."""
    if not len(entries):
        return "", 0
    x, y = plane.xs(entries.x), plane.ys(entries.y)
    heads, group = _apart(x, y, entries.bits, _TOGETHER)
    every = 1 if len(heads) <= _FEW else -(-len(heads) // _SHOWN)
    dotted = _apart(x, y, entries.bits, _DOT)[0] if len(heads) <= _MANY else heads[::every]
    dots = "".join(f"M{x[at]:.2f} {y[at]:.2f}h0" for at in dotted.tolist())
    parts = [f'<path class="hr-line" stroke-width="1.1" stroke-linecap="round" d="{dots}"/>']
    firsts = np.unique(entries.bits, return_index=True)[1]
    for at in firsts.tolist():
        parts.append(f'<circle class="hr-ring" cx="{x[at]:.2f}" cy="{y[at]:.2f}" r="1.3"/>')
        letters.take(spot(float(x[at]), float(y[at]), 1.3))
    shown = 0
    counts = np.bincount(group)
    lasts = np.zeros(len(heads), np.int64)
    lasts[group] = np.arange(len(group))
    for number in range(0, len(heads), every):
        head, last, count = int(heads[number]), int(lasts[number]), int(counts[number])
        text = _numbers(head + 1, last + 1, count)
        if len(entries.numbers) > 1:
            text = f"{bit_name(entries.numbers[int(entries.bits[head])])} {text}"
        first = head in firsts
        reaches = (0.5, 3.0, 6.0) if first else (0.3, 0.8) if every > 1 else (0.3, 0.8, 3.0)
        around = spot(float(x[head]), float(y[head]), 1.3 if first else 0.6)
        if letters.near(text, around, reaches):
            shown += count
    return "".join(parts), shown


def bit_name(number: int | None) -> str:
    """How a bit is called: T2; T? for one without a number."""
    return f"T{'?' if number is None else number}"


def _apart(x: Floats, y: Floats, bits: Rows, near: float) -> tuple[Rows, Rows]:
    """The first of places of a bit that lie together on paper, in order, and to which of these each
    place belongs (n)."""
    places = np.column_stack([np.round(x / near), np.round(y / near), bits])
    _, first, group = np.unique(places, axis=0, return_index=True, return_inverse=True)
    order = np.argsort(first)
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order))
    return first[order], rank[group.reshape(-1)]


def _numbers(first: int, last: int, count: int) -> str:
    if count == 1:
        return str(first)
    return f"{first}–{last}" if last - first == count - 1 else f"{first} …"
