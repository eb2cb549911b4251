"""What a job does over the sheet, drawn from above: bands as wide as the bit, and lines.

As long as lines are few, or can be told apart, every one is drawn. Else the bands are drawn as
areas by depth, and of lines only those that do not lie too close together.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from headrace.picture import cover
from headrace.picture.depths import AIR, FIRST, RAPID, UNLEVELLED, Depths, parted
from headrace.picture.legend import Entry, line_sample
from headrace.picture.plane import Plane, path_data
from headrace.picture.strokes import Strokes
from headrace.picture.way import CUT, Bools, Leg, Way

WITHIN = 0.08
"""How far lines may stray on paper (mm)."""
CUT_WIDTH = 0.3
CUT_DASHES: tuple[tuple[float, ...], ...] = ((0.5, 0.9), (1.2, 0.8), (2.4, 0.8), (4.5, 0.9), ())
"""By shade, from shallow to deep."""
RAPID_WIDTH, RAPID_DASHES = 0.2, (1.0, 1.0)
AIR_DASHES = (0.1, 1.7)
MOST = 12_000
"""So many points of lines are drawn one by one."""
FEW = 2_000
"""So few are, however close together they lie."""
APART = 0.5
"""Lines nearer to one another on paper (mm) are left to the areas."""
_LETTERS = 120_000
"""Areas that take more letters are drawn coarser."""


@dataclass(frozen=True, eq=False, slots=True)
class Cuts:
    """All lines of a way as they are drawn at a scale. `close` are those of their pieces that lie
    close together; with `as_areas` not every line is drawn."""

    strokes: Strokes
    legs: tuple[Leg, ...]
    close: Bools
    as_areas: bool

    @classmethod
    def of(cls, way: Way, depths: Depths, plane: Plane) -> Cuts:
        """Those of a way in a window."""
        fine = parted(way, depths.heights, 0.5 * plane.scale)
        strokes = Strokes.of(fine.x, fine.y, depths.codes(fine), WITHIN * plane.scale)
        if len(strokes) <= FEW:
            return cls(strokes, fine.legs, np.zeros(0, np.bool_), False)
        close = cover.crowded(strokes, plane, APART)
        return cls(strokes, fine.legs, close, len(strokes) > MOST or bool(close.mean() > 0.5))


def draw(cuts: Cuts, depths: Depths, plane: Plane, prefix: str) -> tuple[str, str]:
    """The paths by name, for `defs`, and what is drawn with them in the sheet's numbers."""
    strokes, bands = cuts.strokes, ""
    if cuts.as_areas:
        bands = _areas(strokes, cuts.close, cuts.legs, plane, depths)
        strokes = _sparse(strokes, cuts.close)
    defs: list[str] = []
    drawn: list[str] = []
    rapids: list[str] = []
    for name, code, leg, data in _paths(strokes, cuts.legs, depths, plane, prefix):
        defs.append(f'<path id="{name}" d="{data}"/>')
        use = f'<use href="#{name}"'
        shade = _shade(code, depths)
        # each band lies over what is less deep, lines and all
        if shade and leg.width and not cuts.as_areas:
            drawn.append(
                f'{use} class="hr-d{shade}" stroke-width="{leg.width:g}" stroke-linecap="round"'
                ' stroke-linejoin="round"/>'
            )
        look = f"{use} {_look(code, shade, plane)}/>"
        (rapids if code == RAPID else drawn).append(look)
    return "".join(defs), "".join([bands, *drawn, *rapids])


def key(way: Way, depths: Depths, as_areas: bool) -> Iterator[Entry]:
    """The lines of the key for what is drawn."""
    wide = any(leg.width for leg in way.legs)
    for step in range(len(depths.bounds)):
        shade = depths.shade(step)
        band = f"hr-d{shade}" if wide or as_areas else ""
        sample = line_sample("hr-line", CUT_WIDTH, dash_text(CUT_DASHES[shade - 1]), band)
        yield Entry(sample, depths.name(step))
    if as_areas:
        yield Entry('<rect class="hr-reach" x="1.5" y="-1.5" width="6" height="3"/>',
                    "width of the bit")  # fmt: skip
    if (way.engaged & np.isnan(way.low)).any():
        sample = line_sample("hr-line", CUT_WIDTH, dash_text(CUT_DASHES[0]), "hr-d1")
        yield Entry(sample, "cut, depth not known")
    if (way.placed & (way.kind == CUT) & ~way.engaged).any():
        yield Entry(line_sample("hr-line", CUT_WIDTH, dash_text(AIR_DASHES), rounded=True),
                    "feed in the air")  # fmt: skip
    if (way.placed & (way.kind == 0)).any():
        yield Entry(line_sample("hr-rapid", RAPID_WIDTH, dash_text(RAPID_DASHES)), "rapid")


def _paths(
    strokes: Strokes, legs: Sequence[Leg], depths: Depths, plane: Plane, prefix: str
) -> Iterator[tuple[str, int, Leg, str]]:
    """The lines that look alike, shallow ones first: a name, what they are, the bit, the path."""
    for code in (RAPID, AIR, UNLEVELLED, *range(FIRST, FIRST + len(depths.bounds))):
        for number, leg in enumerate(legs):
            part = strokes.part(code, leg.first, leg.stop)
            if len(part):
                data = path_data(part.u, part.v, part.begins, plane.places)
                yield f"{prefix}-top-{code}-{number}", code, leg, data


def _areas(strokes: Strokes, close: Bools, legs: Sequence[Leg], plane: Plane,
           depths: Depths) -> str:  # fmt: skip
    """The areas cut, by depth; where lines are `close` (pieces) by that of the tip."""
    steps = len(depths.bounds)
    kinds = ["hr-reach", *(f"hr-f{depths.shade(step)}" for step in range(steps))]
    cell = cover.cell_for(strokes, cover.CELL * plane.scale)
    while True:
        grid, whole = cover.covered(strokes, close, legs, plane, cell, APART / 2 * plane.scale)
        found = [*cover.areas(np.minimum(whole, 1), 1), *cover.areas(grid, steps)]
        text = ""
        for kind, area in zip(kinds, found, strict=True):
            u, v = plane.low[0] + area.u * cell, plane.low[1] + area.v * cell
            data = path_data(u, v, area.begins, plane.places)
            text += f'<path class="{kind}" d="{data}"/>' if data else ""
        if len(text) <= _LETTERS or cell > plane.scale:
            return text
        cell *= 1.6


def _sparse(strokes: Strokes, close: Bools) -> Strokes:
    """The lines that can be told apart; none where they are still too many."""
    first, last = strokes.pieces()
    kept = strokes.lines_of(first[~close], last[~close])
    return kept if len(kept) <= MOST else strokes.lines_of(first[:0], last[:0])


def _shade(code: int, depths: Depths) -> int:
    """Which shade a band has; 0 for none."""
    return depths.shade(code - FIRST) if code >= FIRST else int(code == UNLEVELLED)


def _look(code: int, shade: int, plane: Plane) -> str:
    """How a line is drawn."""
    if code == RAPID:
        return _stroke("hr-rapid", RAPID_WIDTH, RAPID_DASHES, plane)
    if code == AIR:
        return _stroke("hr-line", CUT_WIDTH, AIR_DASHES, plane) + ' stroke-linecap="round"'
    return _stroke("hr-line", CUT_WIDTH, CUT_DASHES[shade - 1], plane) + ' stroke-linejoin="round"'


def _stroke(kind: str, width: float, dashes: Sequence[float], plane: Plane) -> str:
    dashed = f' stroke-dasharray="{plane.dashes(dashes)}"' if dashes else ""
    return f'class="{kind}" stroke-width="{plane.wide(width)}"{dashed}'


def dash_text(lengths: Sequence[float]) -> str:
    """Lengths as `stroke-dasharray` has them."""
    return " ".join(f"{length:g}" for length in lengths)
