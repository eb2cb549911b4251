"""What is seen from the front: spoilboard, sheet, cuts, rapids, and what stands on the sheet."""

from __future__ import annotations

import numpy as np

from headrace.machine import Setup
from headrace.picture.cuts import CUT_DASHES, CUT_WIDTH, RAPID_DASHES, WITHIN, dash_text
from headrace.picture.depths import FIRST, NOTHING, RAPID, Depths, parted
from headrace.picture.plane import Plane, path_data
from headrace.picture.profile import Profile
from headrace.picture.strokes import Strokes
from headrace.picture.way import Way
from headrace.rehearsal.space.extents import Floats

MOST = 20_000
"""Jobs of more cuts are drawn by their lowest line alone."""
_SMOOTH = 0.06
"""How far that line may stray on paper (mm)."""


def ground(setup: Setup, plane: Plane) -> str:
    """Spoilboard and sheet."""
    box = plane.box
    thickness, size = setup.sheet.thickness, setup.sheet.size
    if thickness is None:
        y = plane.y(0)
        across = f"M{box.left:.2f} {y:.2f}H{box.right:.2f}"
        return f'<path class="hr-edge" stroke-width="0.7" d="{across}"/>'
    left = box.left if size is None else plane.x(0)
    right = box.right if size is None else plane.x(size[0])
    top, least, most = plane.y(0), plane.y(-thickness.least), plane.y(-thickness.most)
    parts = [
        f'<rect class="hr-board" x="{box.left:.2f}" y="{least:.2f}"'
        f' width="{box.right - box.left:.2f}" height="{box.bottom - least:.2f}"/>',
        f'<rect class="hr-sheet" x="{left:.2f}" y="{top:.2f}" width="{right - left:.2f}"'
        f' height="{most - top:.2f}"/>',
        f'<path class="hr-edge" stroke-width="0.7" d="M{left:.2f} {top:.2f}H{right:.2f}V{most:.2f}'
        f'H{left:.2f}z"/>',
    ]
    if thickness.least < thickness.most:
        parts.append(
            f'<path class="hr-edge" stroke-width="0.25" stroke-dasharray="1.5 0.8"'
            f' d="M{left:.2f} {least:.2f}H{right:.2f}"/>'
        )
    return "".join(parts)


def cut(profile: Profile, plane: Plane) -> str:
    """What is cut at most, from the sheet's top down to the lowest line."""
    parts = []
    top = plane.y(0)
    for first, stop in profile.runs():
        x: Floats = profile.left + np.arange(first, stop + 1, dtype=np.float64) * profile.column
        u: Floats = np.repeat(plane.xs(x), 2)
        v: Floats = np.full(len(u), top)
        v[1:-1] = np.repeat(plane.ys(profile.low[first:stop]), 2)
        codes = np.ones(len(u), np.uint8)
        codes[0] = NOTHING
        line = Strokes.of(u, v, codes, _SMOOTH)
        data = path_data(line.u, line.v, line.begins, 2)
        parts.append(f'<path class="hr-floor" stroke-width="0.5" d="{data}"/>')
    return "".join(parts)


def lines(way: Way, depths: Depths, plane: Plane) -> str:
    """Rapids and cuts, line by line, unless there are too many."""
    if int(way.engaged.sum()) > MOST:
        return ""
    fine = parted(way, depths.heights, 0.5 * plane.scale)
    codes = depths.codes(fine)
    codes[np.isnan(fine.z)] = 0
    codes[1:][np.isnan(fine.z[:-1])] = 0
    strokes = Strokes.of(plane.xs(fine.x), plane.ys(fine.z), codes, WITHIN)
    parts = []
    for code in (RAPID, *range(FIRST, FIRST + len(depths.bounds))):
        part = strokes.part(code, 0, len(fine.x))
        if not len(part):
            continue
        data = path_data(part.u, part.v, part.begins, 2)
        if code == RAPID:
            look = (
                f'class="hr-rapid" stroke-width="0.2" stroke-dasharray="{dash_text(RAPID_DASHES)}"'
            )
        else:
            dashes = CUT_DASHES[depths.shade(code - FIRST) - 1]
            look = f'class="hr-line" stroke-width="{CUT_WIDTH}"'
            look += f' stroke-dasharray="{dash_text(dashes)}"' if dashes else ""
        parts.append(f'<path {look} d="{data}"/>')
    return "".join(parts)


def standing(setup: Setup, plane: Plane) -> str:
    """Clamps, and the safe height."""
    parts = []
    box = plane.box
    for clamp in setup.clamps or ():
        left, right, y = plane.x(clamp.low[0]), plane.x(clamp.high[0]), plane.y(clamp.top)
        foot = plane.y(0)
        parts.append(
            f'<rect class="hr-clamp" fill="none" x="{left:.2f}" y="{y:.2f}"'
            f' width="{right - left:.2f}" height="{foot - y:.2f}" stroke-width="0.35"/>'
            f'<path class="hr-clamp" stroke-width="0.18" d="M{left:.2f} {foot:.2f}L{right:.2f}'
            f' {y:.2f}"/>'
        )
    safe = setup.safe_height
    if safe is not None:
        y = plane.y(safe)
        parts.append(
            f'<path class="hr-keep" stroke-width="0.45" stroke-dasharray="0.1 0.9"'
            f' stroke-linecap="round" d="M{box.left:.2f} {y:.2f}H{box.right:.2f}"/>'
        )
    return "".join(parts)
