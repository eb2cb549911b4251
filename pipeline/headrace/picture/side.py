"""A job in its sheet, seen from the front: how deep it goes, and what stands above."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from headrace.job import Job
from headrace.picture import bench, marks, section
from headrace.picture.depths import Depths, mm2
from headrace.picture.dimension import Row, below, beside, lead, scale_bar
from headrace.picture.drawing import Drawing
from headrace.picture.layout import WIDE, Layout, drawing, note_lines
from headrace.picture.lettering import SIZE, Lettering, spread
from headrace.picture.plane import Plane
from headrace.picture.profile import Profile
from headrace.picture.scale import bar_length, scale_for
from headrace.picture.way import Way
from headrace.rehearsal.lengths import NEAR

HIGH = 60.0
_LEFT, _RIGHT, _ABOVE, _BELOW = 13.0, 40.0, 3.0, 11.0
_LINE = 4.2
_STRETCHES = (20.0, 10.0, 5.0, 2.5, 2.0)
_LEGIBLE = 9.0
"""Sheets thinner than this on paper (mm) are drawn higher than true, where there is room."""


def side(job: Job, way: Way, depths: Depths, prefix: str) -> Drawing:
    """The drawing."""
    profile_left, profile_right = _across(job, way)
    low, high = _heights(job, way)
    note = note_lines(_not_drawn(way))
    room = WIDE - 2 - _LEFT - _RIGHT, HIGH - 2 - _ABOVE - _BELOW - _LINE * len(note)
    scale = scale_for((profile_right - profile_left, high - low), room)
    stretch = _stretch(job, scale, high - low, room[1])
    tall = (high - low) / scale * stretch
    spare = room[0] - (profile_right - profile_left) / scale
    plane = Plane(scale, 1 + _LEFT + spare / 2, 1 + _ABOVE + tall, (profile_left, low),
                  (profile_right, high), stretch)  # fmt: skip
    box = plane.box
    height = box.bottom + _BELOW + _LINE * len(note) + 1
    layout = Layout(plane, height, (0.0, 0.0), 1)
    letters = Lettering(layout.paper())
    profile = Profile.of(way, profile_left, profile_right, 0.1 * scale)
    within = "".join(
        [
            section.ground(job.setup, plane),
            section.cut(profile, plane),
            section.lines(way, depths, plane),
            section.standing(job.setup, plane),
        ]
    )
    over = [
        _named_heights(job, profile, plane, letters),
        _dimensions(job, profile, plane, letters),
        scale_bar(bar_length(scale, 16.0), scale, box.right + 4, box.bottom + 4.0, letters),
    ]
    told = "heights true" if stretch == 1 else f"heights × {stretch:g}"
    letters.put(told, box.right + 4, box.bottom + 9.4)
    layout.draw_note(note, letters)
    text = " ".join(_told(job, profile, stretch, note))
    over += letters.elements
    title = "The job in its sheet, from the front"
    return drawing("side", title, text, layout, prefix, "", "", over, within)


def _across(job: Job, way: Way) -> tuple[float, float]:
    """From where to where along X."""
    cuts = way.area
    around = bench.around([*bench.areas(job.setup), *([cuts] if cuts else [])])
    left, right = (0.0, 100.0) if around is None else (around[0][0], around[1][0])
    more = max(0.5, 0.004 * (right - left))
    return left - more, right + more


def _heights(job: Job, way: Way) -> tuple[float, float]:
    """From where to where up, above the sheet's top."""
    setup = job.setup
    tops = [clamp.top for clamp in setup.clamps or ()]
    highest = max([5.0, setup.safe_height or 0.0, *tops])
    thickness = setup.sheet.thickness
    cut = way.z[way.engaged]
    cut = cut[~np.isnan(cut)]
    deepest = float(cut.min()) if len(cut) else 0.0
    lowest = min(deepest, -thickness.most if thickness else 0.0)
    return lowest - max(1.5, 0.12 * (highest - lowest)), highest + 0.04 * (highest - lowest)


def _stretch(job: Job, scale: float, tall: float, room: float) -> float:
    """How many times as high as true it is drawn: 1 where the sheet can be seen so."""
    thickness = job.setup.sheet.thickness
    thick = thickness.most if thickness else tall / 2
    if thick / scale >= _LEGIBLE:
        return 1.0
    fits = [stretch for stretch in _STRETCHES if tall / scale * stretch <= room]
    enough = [stretch for stretch in fits if thick / scale * stretch >= _LEGIBLE]
    return min(enough) if enough else max(fits, default=1.0)


def _named_heights(job: Job, profile: Profile, plane: Plane, letters: Lettering) -> str:
    """What lies at which height, in a column at the right."""
    setup = job.setup
    named: list[tuple[float, str]] = [(0.0, "top of the sheet, 0")]
    if setup.safe_height is not None:
        named.append((setup.safe_height, f"safe height, {mm2(setup.safe_height)}"))
    for top in sorted({clamp.top for clamp in setup.clamps or ()}):
        count = sum(clamp.top == top for clamp in setup.clamps or ())
        named.append((top, f"{'clamps' if count > 1 else 'clamp'}, {mm2(top)}"))
    if profile.deepest is not None:
        named.append((profile.deepest, f"deepest cut, {mm2(profile.deepest)}".replace("-", "−")))
    if setup.sheet.thickness is not None:
        named.append((-setup.sheet.thickness.most, "spoilboard"))
    named.sort(key=lambda one: -one[0])
    box = plane.box
    wanted = [plane.y(height) for height, _ in named]
    found = spread(wanted, [SIZE + 0.4] * len(named), box.top - 2.5, box.bottom + 1.5, 0.0)
    parts = []
    for (_, text), y, to in zip(named, found, wanted, strict=True):
        letters.put(text, box.right + 4.0, y + SIZE * 0.34)
        parts.append(lead(box.right + 0.3, to, box.right + 3.6, y))
    return "".join(parts)


def _dimensions(job: Job, profile: Profile, plane: Plane, letters: Lettering) -> str:
    """The deepest cut and the sheet's thickness at the left, the sheet's size below."""
    setup, box = job.setup, plane.box
    parts = []
    ends = (box.top - 2.0, box.bottom + 8.0)
    if profile.deepest is not None:
        row = Row((plane.y(0), plane.y(profile.deepest)), (mm2(-profile.deepest),))
        parts.append(beside(row, box.left - 2.0, letters, ends))
    thickness = setup.sheet.thickness
    if thickness is not None:
        text = mm2(thickness.least)
        if thickness.least < thickness.most:
            text += f"–{mm2(thickness.most)}"
        row = Row((plane.y(0), plane.y(-thickness.most)), (text,))
        parts.append(beside(row, box.left - 7.5, letters, ends))
        parts += [
            lead(box.left, plane.y(at), box.left - 8.0, plane.y(at))
            for at in (0.0, -thickness.most)
        ]
    if setup.sheet.size is not None:
        wide = setup.sheet.size[0]
        row = Row.of([plane.x(0), plane.x(wide)], [0, wide])
        parts.append(below(row, box.bottom + 5.0, letters, (box.left - 8, box.right)))
    return "".join(parts)


def _not_drawn(way: Way) -> Iterator[str]:
    yield "Lengths in mm. Seen from the front: what lies behind one another is drawn together."
    yield "Bits are taken to be flat at the tip."
    if way.slack > NEAR:
        yield f"Cuts are drawn at the lowest that may be: they may lie {mm2(way.slack)} mm higher."
    if way.unlevelled:
        cuts = "1 cut" if way.unlevelled == 1 else f"{way.unlevelled} cuts"
        yield f"Not drawn: {cuts} at a height that is not known."
    if int(way.engaged.sum()) > section.MOST:
        yield "Single cuts are not drawn, only how deep it is cut at most."


def _told(job: Job, profile: Profile, stretch: float, note: Sequence[str]) -> Iterator[str]:
    thickness = job.setup.sheet.thickness
    if stretch != 1:
        yield f"Heights are drawn {stretch:g} times as large as lengths."
    if thickness is None:
        yield "The sheet's thickness is not described."
    elif thickness.least == thickness.most:
        yield f"The sheet is {mm2(thickness.least)} mm thick."
    else:
        yield f"The sheet is {mm2(thickness.least)} to {mm2(thickness.most)} mm thick."
    if profile.deepest is None:
        yield "Nothing is cut at a known depth below the top of the sheet."
    else:
        yield f"The deepest cut is {mm2(-profile.deepest)} mm below the top of the sheet."
    if job.setup.safe_height is not None:
        yield f"The safe height is {mm2(job.setup.safe_height)} mm above the top of the sheet."
    for clamp in job.setup.clamps or ():
        yield (
            f"The clamp {marks.short(clamp.name)} stands {mm2(clamp.top)} mm above the top of the"
            " sheet."
        )
    yield from note
