"""Where the sheet and all that holds it lie, without a job: what to lay out at first."""

from __future__ import annotations

from collections.abc import Iterator

from headrace.machine import Machine, Setup
from headrace.picture import bench, marks
from headrace.picture.bench import Keep
from headrace.picture.crests import Area
from headrace.picture.depths import mm2
from headrace.picture.dimension import Row, below, beside, lead
from headrace.picture.drawing import Drawing
from headrace.picture.layout import Layout, Margins, drawing, note_lines
from headrace.picture.legend import Entry
from headrace.picture.lettering import Lettering, spot
from headrace.picture.plane import Plane

_HIGH = 130.0
_MARGINS = Margins(left=8.0, above=1.0, right=0.5, below=6.5)


def bedding(machine: Machine, setup: Setup, prefix: str) -> Drawing | None:
    """The sheet, its clamps, the plate, zero and the ends of travel, from above; None where the
    set-up tells the size of no sheet."""
    size = setup.sheet.size
    if size is None:
        return None
    keeps = _keeps(machine, setup)
    around = bench.around(list(bench.areas(setup)))
    assert around is not None
    edges = bench.travel(machine, setup)
    window = bench.padded(bench.with_near(around, edges, 0.2))
    shown = bench.travel_edges(Plane(1.0, 0.0, 0.0, *window), edges)
    entries = [Entry(marks.ZERO_SAMPLE, "zero corner of the sheet"),
               *marks.key(setup, keeps, shown)]  # fmt: skip
    sentences = ["Lengths in mm, from the sheet's corner.", *_told(setup, window, edges)]
    note = note_lines(sentences)
    wanted = bench.padded(bench.around([window, *bench.rooms(keeps)]) or window)
    layout = Layout.wider(window, wanted, _MARGINS, _HIGH, entries, note)
    plane = layout.plane
    letters = Lettering(layout.paper())
    over = [_size(plane, size, letters), layout.draw_key(entries, letters)]
    layout.draw_note(note, letters)
    marks.keep_plate_free(plane, setup, letters)
    marks.keep_lines_free(plane, (bench.sheet_of(setup), edges), letters)
    over.append(marks.zero(plane, 0.0, 0.0, "X0 Y0", letters))
    unnamed = marks.clamp_labels(plane, setup, keeps, letters, places=True)
    if setup.plate.at is not None:
        x, y = setup.plate.at
        named = f"plate, X{mm2(x)} Y{mm2(y)}"
        letters.near(named, spot(plane.x(x), plane.y(y), 1.8), (0.5, 3.0, 6.0))
    body = "".join(
        [
            bench.sheet_under(plane, setup),
            bench.sheet_edge(plane, setup),
            bench.clamps(plane, setup, keeps),
            bench.travel_edges(plane, edges),
            marks.plate_mark(plane, setup),
        ]
    )
    told = [f"{unnamed} of these names have no room."] if unnamed else []
    text = " ".join([*_named(setup), *told, *sentences])
    over += letters.elements
    return drawing("bedding", "The sheet on the machine, from above", text, layout, prefix, "",
                   body, over)  # fmt: skip


def _keeps(machine: Machine, setup: Setup) -> list[Keep]:
    """The room for the widest bit around each clamp, and for the nut, which may come lower than a
    clamp in a deep cut."""
    widths = [tool.diameter for tool in (setup.tool, *setup.tools) if tool.diameter is not None]
    rooms = []
    if widths:
        rooms.append((max(widths) / 2, "the bit", bench.BIT_DASHES))
    if machine.nut is not None:
        rooms.append((machine.nut / 2, "the collet nut", bench.NUT_DASHES))
    return [
        Keep(clamp, room, f"room for {part}, {mm2(room)}", dashes)
        for clamp in setup.clamps or ()
        for room, part, dashes in rooms
    ]


def _size(plane: Plane, size: tuple[float, float], letters: Lettering) -> str:
    box = plane.box
    y, x = box.bottom + 5.0, box.left - 4.4
    return "".join([
        *(lead(plane.x(at), box.bottom + 0.4, plane.x(at), y + 0.6) for at in (0.0, size[0])),
        *(lead(box.left - 0.4, plane.y(at), x - 0.6, plane.y(at)) for at in (0.0, size[1])),
        below(Row.of([plane.x(0), plane.x(size[0])], [0, size[0]]), y, letters,
              (box.left, box.right)),
        beside(Row.of([plane.y(0), plane.y(size[1])], [0, size[1]]), x, letters,
               (box.top, box.bottom)),
    ])  # fmt: skip


def _named(setup: Setup) -> Iterator[str]:
    size = setup.sheet.size
    assert size is not None
    yield f"The sheet is {mm2(size[0])} by {mm2(size[1])} mm."
    for clamp in setup.clamps or ():
        yield (
            f"The clamp {marks.short(clamp.name)} lies from X{mm2(clamp.low[0])}"
            f" Y{mm2(clamp.low[1])} to X{mm2(clamp.high[0])} Y{mm2(clamp.high[1])} and is"
            f" {mm2(clamp.top)} mm higher than the sheet's top."
        )
    if setup.plate.at is not None:
        x, y = setup.plate.at
        yield f"The middle of the touch plate lies at X{mm2(x)} Y{mm2(y)} from the sheet's corner."


def _told(setup: Setup, window: Area, edges: Area | None) -> Iterator[str]:
    corner = setup.sheet.corner
    if corner is not None:
        yield (
            f"The zero corner lies at X{mm2(corner[0])} Y{mm2(corner[1])} in the machine's numbers."
        )
    yield from bench.unseen(setup, window, edges)
