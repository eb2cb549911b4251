"""What lies on the machine, seen from above: sheet, clamps, plate, zero and the ends of travel."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from headrace.machine import Clamp, Machine, Setup
from headrace.picture.crests import Area
from headrace.picture.depths import mm2
from headrace.picture.plane import Plane

BIT_DASHES, NUT_DASHES = (0.1, 0.9), (1.4, 0.9)
TRAVEL_DASHES = (4.0, 0.8, 0.8, 0.8, 0.8, 0.8)
_HATCH = 1.5


@dataclass(frozen=True, slots=True)
class Keep:
    """Room that a clamp needs on all sides (mm), and what for."""

    clamp: Clamp
    room: float
    why: str
    dashes: tuple[float, float] = BIT_DASHES


def areas(setup: Setup) -> Iterator[Area]:
    """The boxes around all that lies there."""
    sheet = setup.sheet
    if sheet.size is not None:
        yield (0.0, 0.0), sheet.size
    for clamp in setup.clamps or ():
        yield clamp.low, clamp.high
    if setup.plate.at is not None:
        yield setup.plate.at, setup.plate.at


def rooms(keeps: Sequence[Keep]) -> Iterator[Area]:
    """The boxes around the room that clamps need."""
    for keep in keeps:
        (x0, y0), (x1, y1) = keep.clamp.low, keep.clamp.high
        yield (x0 - keep.room, y0 - keep.room), (x1 + keep.room, y1 + keep.room)


def around(boxes: Sequence[Area]) -> Area | None:
    """The box around some boxes; None around none."""
    if not boxes:
        return None
    return (
        (min(low[0] for low, _ in boxes), min(low[1] for low, _ in boxes)),
        (max(high[0] for _, high in boxes), max(high[1] for _, high in boxes)),
    )


def travel(machine: Machine, setup: Setup) -> Area | None:
    """The ends of travel; None where it is not described where the sheet lies."""
    corner = setup.sheet.corner
    if corner is None:
        return None
    x, y = machine.axes["x"], machine.axes["y"]
    return (x.low - corner[0], y.low - corner[1]), (x.high - corner[0], y.high - corner[1])


def with_near(window: Area, more: Area | None, share: float) -> Area:
    """The window, and each edge of `more` that is not further outside than a share of its size."""
    if more is None:
        return window
    low, high = list(window[0]), list(window[1])
    for axis in (0, 1):
        room = (high[axis] - low[axis]) * share
        if low[axis] - room <= more[0][axis] < low[axis]:
            low[axis] = more[0][axis]
        if high[axis] < more[1][axis] <= high[axis] + room:
            high[axis] = more[1][axis]
    return (low[0], low[1]), (high[0], high[1])


def sheet_of(setup: Setup) -> Area | None:
    """The box of the sheet; None where its size is not described."""
    return None if setup.sheet.size is None else ((0.0, 0.0), setup.sheet.size)


def sheet_under(plane: Plane, setup: Setup) -> str:
    """The sheet as it lies under all else."""
    return "" if setup.sheet.size is None else _box("hr-sheet", plane, (0, 0), setup.sheet.size, 0)


def sheet_edge(plane: Plane, setup: Setup) -> str:
    """The sheet's outline."""
    size = setup.sheet.size
    if size is None:
        return ""
    return (
        f'<path class="hr-edge" stroke-width="{plane.wide(0.7)}"'
        f' d="M0 0H{plain(size[0])}V{plain(size[1])}H0z"/>'
    )


def clamps(plane: Plane, setup: Setup, keeps: Sequence[Keep]) -> str:
    """The clamps, hatched, and the room that each needs, dotted and round at the corners."""
    parts = []
    for keep in keeps:
        (x0, y0), (x1, y1) = keep.clamp.low, keep.clamp.high
        r = keep.room
        width, dashes = plane.wide(0.45), plane.dashes(keep.dashes)
        parts.append(
            f'<rect class="hr-keep" fill="none" x="{plain(x0 - r)}" y="{plain(y0 - r)}"'
            f' width="{plain(x1 - x0 + 2 * r)}" height="{plain(y1 - y0 + 2 * r)}" rx="{plain(r)}"'
            f' stroke-width="{width}" stroke-dasharray="{dashes}" stroke-linecap="round"/>'
        )
    for clamp in setup.clamps or ():
        parts.append(_box("hr-paper hr-clamp", plane, clamp.low, clamp.high, 0.35))
        hatch = _hatched(clamp.low, clamp.high, _HATCH * plane.scale)
        parts.append(f'<path class="hr-clamp" stroke-width="{plane.wide(0.18)}" d="{hatch}"/>')
    return "".join(parts)


def travel_edges(plane: Plane, edges: Area | None) -> str:
    """The ends of travel that lie in the window."""
    if edges is None:
        return ""
    (left, front), (right, back) = edges
    x0, x1 = max(left, plane.low[0]), min(right, plane.high[0])
    y0, y1 = max(front, plane.low[1]), min(back, plane.high[1])
    parts = []
    for x in (left, right):
        if plane.low[0] <= x <= plane.high[0] and y0 < y1:
            parts.append(f"M{plain(x)} {plain(y0)}V{plain(y1)}")
    for y in (front, back):
        if plane.low[1] <= y <= plane.high[1] and x0 < x1:
            parts.append(f"M{plain(x0)} {plain(y)}H{plain(x1)}")
    if not parts:
        return ""
    return (
        f'<path class="hr-travel" stroke-width="{plane.wide(0.4)}"'
        f' stroke-dasharray="{plane.dashes(TRAVEL_DASHES)}" d="{"".join(parts)}"/>'
    )


def beyond(window: Area, edges: Area) -> str:
    """Where, from the sheet's corner, ends of travel lie that the window does not show."""
    told = []
    for axis, letter in enumerate("XY"):
        places = [
            mm2(edge[axis]).replace("-", "−")
            for edge in edges
            if not window[0][axis] <= edge[axis] <= window[1][axis]
        ]
        if places:
            told.append(f"{letter} {' and '.join(places)}")
    return ", ".join(told)


def unseen(setup: Setup, window: Area, edges: Area | None) -> Iterator[str]:
    """From where clamps' heights count, what the window does not show, and what is not
    described."""
    if setup.clamps:
        yield "Heights of clamps count from the sheet's top."
    if edges is None:
        yield "Where the sheet lies on the machine is not described."
    elif outside := beyond(window, edges):
        yield f"Ends of travel outside the picture, from the sheet's corner: {outside}."
    if setup.clamps is None:
        yield "Clamps are not described."


def padded(area: Area) -> Area:
    """The area with a little more all around, so that lines at its edge are seen."""
    (x0, y0), (x1, y1) = area
    more = 0.004 * max(x1 - x0, y1 - y0)
    return (x0 - more, y0 - more), (x1 + more, y1 + more)


def _box(
    kind: str, plane: Plane, low: tuple[float, float], high: tuple[float, float], width: float
) -> str:
    stroke = f' stroke-width="{plane.wide(width)}"' if width else ""
    return (
        f'<rect class="{kind}" x="{plain(low[0])}" y="{plain(low[1])}"'
        f' width="{plain(high[0] - low[0])}" height="{plain(high[1] - low[1])}"{stroke}/>'
    )


def _hatched(low: tuple[float, float], high: tuple[float, float], step: float) -> str:
    """Slanting lines in a box."""
    wide, tall = high[0] - low[0], high[1] - low[1]
    step = max(step, (wide + tall) / 200)
    parts = []
    at = step
    while at < wide + tall:
        x0, y0 = max(0.0, at - tall), min(at, tall)
        x1, y1 = min(at, wide), max(0.0, at - wide)
        parts.append(
            f"M{plain(low[0] + x0)} {plain(low[1] + y0)}L{plain(low[0] + x1)} {plain(low[1] + y1)}"
        )
        at += step
    return "".join(parts)


def plain(value: float) -> str:
    """A length in a path."""
    return f"{round(value, 3) + 0.0:g}" if abs(value) < 1e5 else f"{value:.0f}"
