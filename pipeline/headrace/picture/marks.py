"""Marks and names on a drawing from above: zero, plate, clamps, and the key for what lies there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from headrace.machine import Setup
from headrace.picture.bench import TRAVEL_DASHES, Keep, plain
from headrace.picture.crests import Area
from headrace.picture.depths import mm2
from headrace.picture.legend import Entry, line_sample
from headrace.picture.lettering import Box, Lettering, spot
from headrace.picture.plane import Plane

_LONGEST_NAME = 24


def plate_mark(plane: Plane, setup: Setup) -> str:
    """A cross in a ring where the middle of the touch plate lies."""
    if setup.plate.at is None:
        return ""
    x, y = setup.plate.at
    r = 1.7 * plane.scale
    wide, reach = plain(2 * r), plain(r)
    return (
        f'<path class="hr-plate" stroke-width="{plane.wide(0.35)}" d="M{plain(x - r)} {plain(y)}'
        f"a{reach} {reach} 0 1 0 {wide} 0a{reach} {reach} 0 1 0 {plain(-2 * r)} 0h{wide}"
        f'M{plain(x)} {plain(y - r)}v{wide}"/>'
    )


PLATE_SAMPLE = (
    '<path class="hr-plate" stroke-width=".35" d="M2.8 0a1.7 1.7 0 1 0 3.4 0a1.7 1.7 0 1 0'
    ' -3.4 0h3.4M4.5 -1.7v3.4"/>'
)


def zero_mark(x: float, y: float) -> str:
    """Two short arrows along X and Y from a place on paper."""
    return (
        f'<g transform="translate({x:.2f} {y:.2f})"><circle class="hr-dot" r="0.9"/>'
        '<path class="hr-mark" stroke-width="0.5" d="M0 0H6M4.6 -.8L6.2 0L4.6 .8M0 0V-6'
        'M-.8 -4.6L0 -6.2L.8 -4.6"/></g>'
    )


ZERO_SAMPLE = (
    '<g transform="translate(2.5 1.5) scale(.55)"><circle class="hr-dot" r="0.9"/>'
    '<path class="hr-mark" stroke-width="0.5" d="M0 0H6M4.6 -.8L6.2 0L4.6 .8M0 0V-6'
    'M-.8 -4.6L0 -6.2L.8 -4.6"/></g>'
)


def zero(plane: Plane, x: float, y: float, name: str, letters: Lettering) -> str:
    """The mark of a zero with its name; nothing where the window does not show it."""
    if not plane.within(x, y):
        return ""
    px, py = plane.x(x), plane.y(y)
    letters.take(Box(px - 1, py - 1, px + 6.4, py + 1))
    letters.take(Box(px - 1, py - 6.4, px + 1, py))
    letters.near(name, spot(px, py, 1.2), (0.4, 0.9, 3.0, 6.0))
    return zero_mark(px, py)


def keep_plate_free(plane: Plane, setup: Setup, letters: Lettering) -> None:
    """Keep letters away from the plate's mark."""
    if setup.plate.at is not None:
        x, y = plane.x(setup.plate.at[0]), plane.y(setup.plate.at[1])
        letters.take(spot(x, y, 1.8))


def keep_lines_free(plane: Plane, areas: Sequence[Area | None], letters: Lettering) -> None:
    """Keep letters off the outlines of some boxes, where there is other room."""
    for area in areas:
        if area is not None:
            (x0, x1), (y0, y1) = ((area[0][axis], area[1][axis]) for axis in (0, 1))
            left, right, foot, head = plane.x(x0), plane.x(x1), plane.y(y0), plane.y(y1)
            letters.shun(left, foot, right, foot)
            letters.shun(left, head, right, head)
            letters.shun(left, foot, left, head)
            letters.shun(right, foot, right, head)


def clamp_labels(
    plane: Plane, setup: Setup, keeps: Sequence[Keep], letters: Lettering, places: bool = False
) -> int:
    """The clamps' names and how high they are, and with `places` where they lie; how many had no
    room."""
    boxes = []
    for clamp in setup.clamps or ():
        room = max((keep.room for keep in keeps if keep.clamp is clamp), default=0.0)
        boxes.append(Box(
            plane.x(clamp.low[0] - room), plane.y(clamp.high[1] + room),
            plane.x(clamp.high[0] + room), plane.y(clamp.low[1] - room),
        ))  # fmt: skip
        letters.take(boxes[-1])
    left_out = 0
    for clamp, box in zip(setup.clamps or (), boxes, strict=True):
        text = f"{short(clamp.name)}, {mm2(clamp.top)} high"
        if places:
            ends = (*zip(clamp.low, clamp.high, strict=True),)
            across, up = (f"{mm2(low)} to {mm2(high)}".replace("-", "−") for low, high in ends)
            text += f"\nX {across}\nY {up}"
        left_out += not letters.near(text, box, (0.6, 0.9, 4.0, 8.0))
    return left_out


def key(setup: Setup, keeps: Sequence[Keep], shown: str) -> Iterator[Entry]:
    """The lines of the key for what lies there; `shown` is what the ends of travel drew."""
    if setup.clamps:
        sample = (
            '<path class="hr-clamp" stroke-width=".35" d="M1 -1.4H8V1.4H1z"/>'
            '<path class="hr-clamp" stroke-width=".18" d="M1 .1L2.5 -1.4M1.2 1.4L4 -1.4M2.7 1.4'
            'L5.5 -1.4M4.2 1.4L7 -1.4M5.7 1.4L8 -.9"/>'
        )
        yield Entry(sample, "clamp")
    for why, dashes in dict.fromkeys((keep.why, keep.dashes) for keep in keeps):
        told = " ".join(f"{length:g}" for length in dashes)
        yield Entry(line_sample("hr-keep", 0.45, told, rounded=True), why)
    if setup.plate.at is not None:
        yield Entry(PLATE_SAMPLE, "touch plate")
    if shown:
        told = " ".join(f"{length:g}" for length in TRAVEL_DASHES)
        yield Entry(line_sample("hr-travel", 0.4, told), "end of travel")


def short(name: str) -> str:
    """A name that is not longer than a drawing has room for."""
    tidy = "".join(letter if letter.isprintable() else " " for letter in name).strip()
    return tidy if len(tidy) <= _LONGEST_NAME else f"{tidy[: _LONGEST_NAME - 1]}…"
