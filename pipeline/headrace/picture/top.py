"""A job on its sheet, seen from above."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from headrace.job import Job
from headrace.language.trace import RAPID
from headrace.machine import Setup
from headrace.picture import bench, cuts, marks, passes
from headrace.picture.bench import Keep
from headrace.picture.crests import Area
from headrace.picture.depths import Depths, mm2
from headrace.picture.dimension import Row, below, beside, lead
from headrace.picture.drawing import Drawing
from headrace.picture.layout import Layout, Margins, drawing, note_lines
from headrace.picture.legend import Entry
from headrace.picture.lettering import Lettering
from headrace.picture.plane import Plane
from headrace.picture.way import Way
from headrace.rehearsal.space.clamps import parts
from headrace.rehearsal.space.stretches import Stretch

HIGH = 150.0
"""The drawing is at most so high (mm of paper)."""
MARGINS = Margins(left=13.0, above=1.0, right=0.5, below=11.5)


def top(job: Job, way: Way, depths: Depths, keeps: Sequence[Keep], prefix: str) -> Drawing:
    """The drawing."""
    setup = job.setup
    area = way.area
    boxes = [*bench.areas(setup), *([area] if area else [])]
    around = bench.around(boxes) or ((0.0, 0.0), (100.0, 100.0))
    edges = bench.travel(job.machine, setup)
    window = bench.padded(bench.with_near(_not_flat(around), edges, 0.12))
    wanted = bench.padded(bench.around([window, *bench.rooms(keeps)]) or window)

    def laid_out(as_areas: bool) -> tuple[Layout, list[Entry], list[str]]:
        entries = list(_key(job, way, depths, keeps, edges, window, as_areas))
        note = note_lines(_not_drawn(way, job, window, edges, as_areas))
        return Layout.wider(window, wanted, MARGINS, HIGH, entries, note), entries, note

    # the key and the note leave more or less room for the picture, and so for its scale
    layout, entries, note = laid_out(True)
    lines = cuts.Cuts.of(way, depths, layout.plane)
    if not lines.as_areas:
        before = layout.plane.scale
        layout, entries, note = laid_out(False)
        if layout.plane.scale != before:
            lines = replace(cuts.Cuts.of(way, depths, layout.plane), as_areas=False)
    plane = layout.plane
    letters = Lettering(layout.paper())
    over: list[str] = []
    size = setup.sheet.size
    over.append(_dimensions(plane, size, area, letters))
    over.append(layout.draw_key(entries, letters))
    layout.draw_note(note, letters)
    marks.keep_plate_free(plane, setup, letters)
    marks.keep_lines_free(plane, (bench.sheet_of(setup), edges, way.area), letters)
    for x, y, system in way.zeros if way.area else ((0.0, 0.0, 1),):
        name = "X0 Y0" if len(way.zeros) < 2 else f"X0 Y0 of zero {system}"
        over.append(marks.zero(plane, x, y, name, letters))
    unnamed = marks.clamp_labels(plane, setup, keeps, letters)
    goes_in = passes.Entries.of(way)
    dots, shown = passes.draw(goes_in, plane, letters)
    defs, drawn = cuts.draw(lines, depths, plane, prefix)
    body = "".join(
        [
            bench.sheet_under(plane, setup),
            drawn,
            bench.sheet_edge(plane, setup),
            bench.clamps(plane, setup, keeps),
            bench.travel_edges(plane, edges),
            marks.plate_mark(plane, setup),
        ]
    )
    over = [dots, *over, *letters.elements]
    text = " ".join(_told(job, way, area, goes_in, shown, note, unnamed))
    return drawing(
        "top", "The job on its sheet, from above", text, layout, prefix, defs, body, over
    )


def keeps_of(setup: Setup, space: Sequence[Stretch]) -> list[Keep]:
    """The room that each clamp needs for the widest part of the tool that comes below its top."""
    lows = [
        (low[0] + part.above, part)
        for stretch in space
        for low in (stretch.lowest,)
        if low is not None
        for part in parts(stretch)
    ]
    found = []
    for clamp in setup.clamps or ():
        beside = [part for low, part in lows if low < clamp.top and part.radius]
        if beside:
            part = max(beside, key=lambda one: one.radius)
            why = f"room for {part.name}, {mm2(part.radius)}"
            dashes = bench.BIT_DASHES if part.name == "the bit" else bench.NUT_DASHES
            found.append(Keep(clamp, part.radius, why, dashes))
    return found


def _dimensions(
    plane: Plane, size: tuple[float, float] | None, area: Area | None, letters: Lettering
) -> str:
    """The sheet's size in the outer rows, in the inner ones the cuts and what is left beside."""
    box = plane.box
    parts = []
    rows = []
    if area is not None:
        near = area
        rows.append(
            [
                [0.0, near[0][0], near[1][0], size[0]] if size else [near[0][0], near[1][0]],
                [0.0, near[0][1], near[1][1], size[1]] if size else [near[0][1], near[1][1]],
            ]
        )
    if size is not None:
        rows.append([[0.0, size[0]], [0.0, size[1]]])
    for number, (across, up) in enumerate(rows):
        y = box.bottom + 5.0 * (number + 1)
        x = box.left - 5.0 * (number + 1) + 0.6
        xs, ys = sorted(across), sorted(up)
        parts += [lead(plane.x(at), box.bottom + 0.4, plane.x(at), y + 0.6) for at in xs]
        parts += [lead(box.left - 0.4, plane.y(at), x - 0.6, plane.y(at)) for at in ys]
        parts.append(
            below(
                Row.of([plane.x(at) for at in xs], xs),
                y,
                letters,
                (box.left - 8.0, box.right + 6.0),
            )
        )
        parts.append(
            beside(Row.of([plane.y(at) for at in ys], ys), x, letters, (box.top, box.bottom + 4.0))
        )
    return "".join(parts)


def _key(
    job: Job,
    way: Way,
    depths: Depths,
    keeps: Sequence[Keep],
    edges: Area | None,
    window: Area,
    as_areas: bool,
) -> Iterator[Entry]:
    yield from cuts.key(way, depths, as_areas)
    if depths.bounds:
        dot = (
            '<path class="hr-line" stroke-width="1.1" stroke-linecap="round" d="M6.8 0h0M2.3 0h0"/>'
            '<circle class="hr-ring" cx="2.3" cy="0" r="1.3"/>'
        )
        yield Entry(dot, "goes in, numbered; ring: first")
    bits = dict.fromkeys((leg.number, leg.width) for leg in way.legs)
    if len(bits) > 1:
        for number, width in bits:
            wide = "width not described" if width is None else f"{mm2(width)} wide"
            yield Entry("", f"{passes.bit_name(number)}: bit, {wide}")
    yield Entry(marks.ZERO_SAMPLE, "zero")
    plane = Plane(1.0, 0.0, 0.0, window[0], window[1])
    yield from marks.key(job.setup, keeps, bench.travel_edges(plane, edges))


def _not_drawn(
    way: Way, job: Job, window: Area, edges: Area | None, as_areas: bool
) -> Iterator[str]:
    known = all(leg.width is not None for leg in way.legs)
    if way.area is None:
        yield "Lengths in mm."
    elif known:
        yield (
            "Lengths in mm, to the edges of the cuts: half of the bit is in them. Tables, and the"
            " places where it goes in, tell where its middle goes."
        )
    else:
        yield "Lengths in mm, to the middle of a bit whose width is not described."
    left_out = [*(["homing"] if way.homing else []), *(["touches"] if way.probing else [])]
    if left_out:
        yield f"Not drawn: {' and '.join(left_out)}."
    straight = job.machine.rapids
    if straight != "straight" and (way.placed & (way.kind == RAPID)).any():
        goes = "each axis goes at its own speed" if straight else "how they go is not described"
        yield f"Rapids are drawn straight; {goes}."
    if as_areas:
        yield (
            "Where cuts lie close together their area is drawn, shaded by the depth of the tip, and"
            " not each of them."
        )
    if way.unplaced:
        yield f"Not drawn: {_moves(way.unplaced)} whose place on the sheet is not known."
    yield from bench.unseen(job.setup, window, edges)


def _told(
    job: Job, way: Way, area: Area | None, goes_in: passes.Entries,
    shown: int, note: Sequence[str],
    unnamed: int,
) -> Iterator[str]:  # fmt: skip
    size = job.setup.sheet.size
    if size is None:
        yield "The sheet's size is not described."
    else:
        yield f"The sheet is {mm2(size[0])} by {mm2(size[1])} mm."
    if area is None:
        yield "Nothing is cut below the top of the sheet."
    else:
        (x0, y0), (x1, y1) = area
        whole = all(leg.width is not None for leg in way.legs)
        yield (
            f"The cuts lie from X{mm2(x0)} Y{mm2(y0)} to X{mm2(x1)} Y{mm2(y1)} from the sheet's"
            f" corner, {'the width of the bit included' if whole else 'as the bit’s middle goes'}."
        )
        if size is not None:
            sides = ((x0, "left"), (size[0] - x1, "right"), (y0, "front"), (size[1] - y1, "back"))
            inside = [f"{mm2(room)} mm at the {side}" for room, side in sides if room >= 0]
            beyond = [f"{mm2(-room)} mm past the {side}" for room, side in sides if room < 0]
            if inside:
                yield f"Beside them are left {', '.join(inside)}."
            if beyond:
                yield f"They go off the sheet: {', '.join(beyond)}."
    if len(goes_in):
        yield (
            f"It goes into the sheet at {len(goes_in)} place{'s' if len(goes_in) > 1 else ''},"
            f" first at X{mm2(float(goes_in.x[0]))} Y{mm2(float(goes_in.y[0]))}."
        )
        if shown < len(goes_in):
            yield f"{shown} of their {len(goes_in)} numbers have room."
    if unnamed:
        yield f"The names of {unnamed} clamps have no room."
    yield from note


def _moves(count: int) -> str:
    return "1 move" if count == 1 else f"{count} moves"


def _not_flat(area: Area) -> Area:
    """The area, at least a mm wide and high."""
    (x0, y0), (x1, y1) = area
    wide, tall = max(0.0, 1.0 - (x1 - x0)) / 2, max(0.0, 1.0 - (y1 - y0)) / 2
    return (x0 - wide, y0 - tall), (x1 + wide, y1 + tall)
