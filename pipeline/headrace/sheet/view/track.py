"""The way of a job's tip for the slider of the page, in a text of at most some 150 kB.

A track is bytes in base64: the format's number (1), then columns of whole numbers as `coding.py`
writes them. Numbers of either sign stand in them as `unsigned` makes them. Places and times count
in units of so many hundredths of a mm and of a s; speeds and feeds in thousandths, from 1: 0 is
"none stated".

    head     lines of the file; how far a place may be off (0.001 mm); the unit (0.01 mm, 0.01 s);
             how much is kept (0, 1, 2); whether rapids may leave the straight way; then, for X, Y,
             Z and time, whether that column is told against its trend
    states   rows of eight: kind, what of the place is known (1 X, 2 Y, 4 Z, added up), spindle,
             speed, bit (its number + 1), feed (mm/min; moves a minute, where the next is 1), that,
             how far the height is uncertain upwards (0.01 mm); kinds and spindles are numbered as
             in `happenings.py`
    runs     which state holds, from one change to the next
    lasts    for how many points each of them holds behind its first
    line     for each point how many lines it is further down (the first counts from 0)
    X Y Z    for each point how far it is from the last one (the first from 0), signed; X and Y
             count from the sheet's corner, Z from its top, up positive
    time     the same for the planned time from the file's beginning, pauses not counted
    pauses   rows of three: its point counted from the last pause's, whether it may not wait, and
             how many bytes of text its display shows
    text     these bytes (UTF-8), one pause behind the other

A column told against its trend holds what is left of each difference d when l * d' / l', rounded
half up, is taken off; l is how many lines further the point is, d' and l' are those of the point
before; with l' = 0 nothing is.

A point is what is so when its line has been carried out; several may share a line. The lines
between two points hold one move each, and the tip goes evenly from line to line; but where the
later point is nothing of a move (kinds 0, 5, 6, 7), they do nothing. With 1 kept, feeds may differ
between points, with 0 everything but pauses, bits and what is known, for else it were too much.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence

import numpy as np

from headrace.job import Job
from headrace.language.trace import RAPID
from headrace.rehearsal.space.lanes import SAG
from headrace.sheet.view.coding import Whole, coded, order_of, unsigned
from headrace.sheet.view.happenings import Happening, happenings
from headrace.sheet.view.marks import EVERYTHING, LITTLE, NO_FEEDS, marked, staying
from headrace.sheet.view.thinning import Bools, sparse_enough, thinned
from headrace.sheet.view.vertices import Vertices, vertices
from headrace.sheet.view.way import STEP, Way, way_of
from headrace.timing.clock import Clock

VERSION = 1
_ALL = 4_000
"""Up to so many moves none is left out."""
_POINTS = 45_000
_FORCED = 40_000
_TRIES = 5
_BYTES = 112_000
_TOLERANCES = (0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1, 1.5, 2, 3, 4, 6, 10, 20, 50)
"""How far places may be off (mm), and planned times (s): the first that will do."""
_COARSE = 0.3, 10
"""From such a tolerance on, places are told in such a unit."""
_FINE = 1000


def track_of(job: Job, clock: Clock) -> str | None:
    """The track of a job as text; None where nothing moves, and where pauses, or moves that leap to
    and fro, are more than a track can hold. O(moves)."""
    if not len(job.trace):
        return None
    way = way_of(job, clock)
    happened = tuple(happenings(job, clock))
    for kept in (EVERYTHING, NO_FEEDS, LITTLE):
        forced = marked(job, way, happened, kept)
        if int(forced.sum()) + len(staying(happened, kept)) <= _FORCED:
            told = _fitting(job, way, happened, forced, kept)
            if told is not None:
                return told
    return None


def _fitting(
    job: Job, way: Way, happened: Sequence[Happening], forced: Bools, kept: int
) -> str | None:
    """The track with about the finest tolerance that fits; None where a few do not."""
    if len(way.ends) <= _ALL:
        forced[way.ends] = True
    strays = max(0.0, way.sag - SAG)
    rooms = [_room(within - strays, _unit(within)) for within in _TOLERANCES]
    most, which = _POINTS * 19 // 20, -1
    for _ in range(_TRIES):
        wanted = sparse_enough(way.points, forced, rooms, most)
        which = wanted if which < 0 else min(max(wanted, which + 1), which + 3, len(rooms) - 1)
        stays = thinned(way.points, forced, rooms[which])
        count = int(stays.sum())
        if count > _POINTS:
            continue
        told = vertices(job, way, happened, stays, kept)
        data = coded(_columns(job, told, _TOLERANCES[which], kept))
        if len(data) < _BYTES:
            return b64encode(bytes([VERSION]) + data).decode("ascii")
        most = count * _BYTES * 9 // (len(data) * 10)
    return None


def _unit(within: float) -> int:
    return _COARSE[1] if within >= _COARSE[0] else 1


def _room(within: float, unit: int) -> float:
    """In steps, what is left of a tolerance (mm) once points are rounded to steps, those that stay
    to units, and slopes to what a machine number holds."""
    return within / STEP - 0.51 - (unit / 2 if unit > 1 else 0)


def _columns(job: Job, told: Vertices, within: float, kept: int) -> list[Whole]:
    lines, unit = np.diff(told.line, prepend=0), _unit(within)
    points = np.rint(told.points / unit).astype(np.int64)
    flags, columns = zip(*(_against_trend(lines, values) for values in points), strict=True)
    begins = np.flatnonzero(np.diff(told.states, axis=0, prepend=-1).any(axis=1))
    table, which = np.unique(told.states[begins], axis=0, return_inverse=True)
    lasts = np.diff(np.append(begins, len(told.line)))
    texts = [found.shown.encode() for _, found in told.pauses]
    pauses = [(at, int(found.optional), len(text))
              for (at, found), text in zip(told.pauses, texts, strict=True)]  # fmt: skip
    waits = np.array(pauses, np.int64).reshape(-1, 3)
    waits[:, 0] = np.diff(waits[:, 0], prepend=0)
    crooked = job.machine.rapids != "straight" and bool((job.trace.kind == RAPID).any())
    head = np.array([len(job.program), round(within * _FINE), unit, kept, crooked, *flags])
    text = np.frombuffer(b"".join(texts), np.uint8).astype(np.int64)
    return [head, table.ravel(), which.ravel(), lasts - 1, lines, *columns, waits.ravel(), text]


def _against_trend(lines: Whole, values: Whole) -> tuple[bool, Whole]:
    """A column as differences, or as what is left of them behind their trend: the shorter one."""
    steps = np.diff(values, prepend=0)
    before, last = np.roll(steps, 1), np.roll(lines, 1)
    before[:1] = last[:1] = 0
    trend = np.floor(lines * before / np.where(last == 0, 1, last) + 0.5)
    rest = steps - np.where(last == 0, 0, trend).astype(np.int64)
    plain, less = unsigned(steps), unsigned(rest)
    return (True, less) if order_of(less)[1] < order_of(plain)[1] else (False, plain)
