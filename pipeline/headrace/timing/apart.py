"""Moves that stand apart from the way: probes, which end at a contact, and running home."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf, isnan

import numpy as np

from headrace.language import Event, EventKind
from headrace.language.modal import AXES
from headrace.machine import Span
from headrace.timing.limits import Limits
from headrace.timing.moves import Moves
from headrace.timing.places import Places
from headrace.timing.planner import from_rest

NAN = float("nan")
_Z = 2


@dataclass(frozen=True, slots=True)
class Apart:
    """How long the move numbered `row` takes, between `least` and `most` (s); None where that is
    not known."""

    row: int
    seconds: Span | None


def probes(places: Places, moves: Moves, limits: Limits) -> Iterator[Apart]:
    """Each probe, at its feed: to where it is expected to touch, over all that may vary, else as
    far as it aims."""
    touched: float | None = None
    for event in places.job.trace.events_of(EventKind.PROBE):
        row = event.moves - 1
        way, feed = float(moves.length[row]), float(limits.wanted[row])
        if isnan(way) or isnan(feed):
            yield Apart(row, None)
        else:
            ways = _to_touch(places, event, touched, way)
            gain = float(limits.acceleration[row])
            yield Apart(row, _times(ways, feed, gain))
        touched = _number_at(places, event)


def _to_touch(places: Places, event: Event, touched: float | None, way: float) -> Span:
    """How far (mm) a probe goes that aims `way` away. Behind a touch whose place has got a number
    (`touched`) the plate is where that one has found it."""
    start, setting = places.start(event.moves - 1, _Z), places.at(event.moves - 1)[0].setting
    offset = setting.offset[_Z]
    plate: Span | None = None
    if isinstance(event.value, dict) and set(event.value) == {_Z}:
        if not isnan(offset):
            plate = places.plate(setting.tool)
            plate = None if plate is None else plate - offset
        elif touched is not None:
            plate = Span.of(touched)
    if plate is None:
        return Span.of(way)
    least, most = (min(max(start - edge, 0.0), way) for edge in (plate.most, plate.least))
    return Span(least, most)


def _number_at(places: Places, event: Event) -> float | None:
    """The number that Z has where a probe has touched, and the next move begins."""
    number = places.start(event.moves, _Z) if event.moves < len(places.job.trace) else NAN
    return None if isnan(number) else number


def homings(places: Places) -> Iterator[Apart]:
    """Each run to the switches, group by group as described: from where the axes stand, and where
    that is not known from anywhere in their travel. The slow second run to a switch is left out.
    """
    homing = places.job.machine.homing
    for event in places.job.trace.events_of(EventKind.HOME):
        row = event.moves - 1
        axes = event.value if isinstance(event.value, tuple) else ()
        if homing.by == "by-hand":
            yield Apart(row, Span.of(0.0))  # at the panel, during a pause
            continue
        if homing.feed is None:
            yield Apart(row, None)
            continue
        least = most = 0.0
        for group in homing.order:
            named = [name for name in group if name.upper() in axes]
            runs = [_run(places, name, row, homing.feed / 60.0) for name in named]
            least += max((run.least for run in runs), default=0.0)
            most += max((run.most for run in runs), default=0.0)
        yield Apart(row, Span(least, most))


def _run(places: Places, name: str, row: int, feed: float) -> Span:
    """How long an axis runs to its switch and backs off (s)."""
    axis = places.job.machine.axes[name]
    end = axis.low if axis.home_end == "low" else axis.high
    stands = places.behind(row - 1, AXES.index(name.upper()))
    way = Span(0.0, axis.travel) if stands is None else Span.of(abs(stands - end))
    gain = inf if axis.acceleration is None else axis.acceleration
    return _times(way, feed, gain) + _times(Span.of(axis.back_off), feed, gain)


def _times(ways: Span, feed: float, gain: float) -> Span:
    """How long it takes (s) from rest to rest."""
    least, most = from_rest(np.array([ways.least, ways.most]), feed, gain)
    return Span(float(least), float(most))
