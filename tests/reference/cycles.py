"""Canned cycles, unrolled to single moves (section 3.5.16). Lengths mm, times seconds.

Moves that would go nowhere are left out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

from reference.arcs import PLANE_AXES

_SAME = 1e-9  # mm


@dataclass(frozen=True, slots=True)
class Go:
    """A straight move to a point in program coordinates; kind is rapid or feed."""

    kind: str
    end: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Do:
    """Something between moves: an event's kind and data."""

    kind: str
    data: object = None


@dataclass(frozen=True, slots=True)
class Cycle:
    """All numbers of one cycle line, with positions in program coordinates.

    hole: the first position, in the plane's two axes; step: what each repeat adds to it.
    r, bottom, clear, back: positions on the depth axis. aside: I and J of a back bore.
    spindle: cw, ccw or off, as it is before. peck_clearance: see Options.
    """

    code: str
    plane: int
    start: tuple[float, ...]
    hole: tuple[float, float]
    step: tuple[float, float]
    repeats: int
    r: float
    bottom: float
    clear: float
    path: str
    spindle: str
    dwell: float
    peck: float
    peck_clearance: float
    aside: tuple[float, float]
    back: float


class _To(Protocol):
    """Moves to a point that differs in the plane's axes `u`, `v` or along the depth `w`."""

    def __call__(self, kind: str, **changes: float) -> Iterator[Go]: ...


def unroll(cycle: Cycle) -> Iterator[Go | Do]:
    """Preliminary motion and then each repeat (section 3.5.16.1).

    Exact path holds while the cycle runs (the sample run of table 10).
    """
    first, second, depth = PLANE_AXES[cycle.plane]
    point = list(cycle.start)

    def to(kind: str, **changes: float) -> Iterator[Go]:
        before = tuple(point)
        for name, value in changes.items():
            point[{"u": first, "v": second, "w": depth}[name]] = value
        if any(abs(a - b) > _SAME for a, b in zip(before, point, strict=True)):
            yield Go(kind, tuple(point))

    if point[depth] < cycle.r:
        yield from to("rapid", w=cycle.r)
    if cycle.path != "G61":
        yield Do("path", "G61")
    u, v = cycle.hole
    for _ in range(cycle.repeats):
        yield from to("rapid", u=u, v=v)
        yield from to("rapid", w=cycle.r)
        if cycle.code == "G87":
            yield from _back_bore(cycle, u, v, to)
        else:
            yield from _hole(cycle, to)
        u, v = u + cycle.step[0], v + cycle.step[1]
    if cycle.path != "G61":
        yield Do("path", cycle.path)


def _hole(cycle: Cycle, to: _To) -> Iterator[Go | Do]:
    """One hole of any cycle but the back bore, from R to the clear level."""
    if cycle.code == "G83":
        yield from _pecks(cycle, to)
        return
    if cycle.code == "G84":
        yield Do("synch", True)
    yield from to("feed", w=cycle.bottom)
    if cycle.code in ("G82", "G86", "G88", "G89"):
        yield Do("dwell", cycle.dwell)
    if cycle.code in ("G84", "G86", "G88"):
        yield Do("spindle", "off")
    if cycle.code == "G84":
        yield Do("spindle", "ccw")
    if cycle.code == "G88":
        # Section 3.5.16.9: the operator takes the tool out by hand. As far as the file can
        # know, the tool is still at the bottom.
        yield Do("stop")
    if cycle.code in ("G84", "G85", "G89"):
        yield from to("feed", w=cycle.clear)
    elif cycle.code != "G88":
        yield from to("rapid", w=cycle.clear)
    if cycle.code == "G84":
        yield Do("synch", False)
        yield Do("spindle", "off")
        yield Do("spindle", "cw")
    if cycle.code in ("G86", "G88"):
        yield Do("spindle", cycle.spindle)


def _pecks(cycle: Cycle, to: _To) -> Iterator[Go | Do]:
    """Section 3.5.16.4."""
    pecks = 1
    while True:
        level = cycle.r - pecks * cycle.peck
        if level <= cycle.bottom + _SAME:
            break
        yield from to("feed", w=level)
        yield from to("rapid", w=cycle.clear)
        yield from to("rapid", w=min(level + cycle.peck_clearance, cycle.clear))
        pecks += 1
    yield from to("feed", w=cycle.bottom)
    yield from to("rapid", w=cycle.clear)


def _back_bore(cycle: Cycle, u: float, v: float, to: _To) -> Iterator[Go | Do]:
    """Section 3.5.16.8: in beside the hole, cut upwards, out beside the hole."""
    beside_u, beside_v = u + cycle.aside[0], v + cycle.aside[1]
    yield from to("rapid", u=beside_u, v=beside_v)
    yield Do("spindle", "off")
    yield Do("orient")
    yield from to("rapid", w=cycle.bottom)
    yield from to("rapid", u=u, v=v)
    yield Do("spindle", cycle.spindle)
    yield from to("feed", w=cycle.back)
    yield from to("feed", w=cycle.bottom)
    yield Do("spindle", "off")
    yield Do("orient")
    yield from to("rapid", u=beside_u, v=beside_v)
    yield from to("rapid", w=cycle.clear)
    yield from to("rapid", u=u, v=v)
    yield Do("spindle", cycle.spindle)
