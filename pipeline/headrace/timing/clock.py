"""When everything happens: the planned seconds from a file's beginning to each of its moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from headrace.job import Job
from headrace.language import Event, EventKind
from headrace.language.trace import CCW, HOME
from headrace.machine import Machine
from headrace.timing.apart import homings, probes
from headrace.timing.blanks import flat_trace, limits_on_blank
from headrace.timing.limits import Limits
from headrace.timing.moves import Flags, Floats, Moves
from headrace.timing.places import Places
from headrace.timing.way import way_times


@dataclass(frozen=True, eq=False)
class Clock:
    """The planned time of all moves of a job (m).

    `moving` is how long each takes (m, s), with the factor of a timed run, and `least` how long it
    takes at the least (m, s): at its full feed, touching and homing as soon as may be. Both are 0
    where that is not known: `unknown` (m). `planned` tells whether the description says enough for
    more than full feeds; where it does not, `moving` is these, and all the way where a way varies.
    `waits` are the seconds that each event takes (as many as there are events): dwells only.
    """

    moving: Floats
    least: Floats
    unknown: Flags
    planned: bool
    events: Sequence[Event]
    waits: Floats

    @cached_property
    def done(self) -> Floats:
        """The seconds from the file's beginning to the end of each move (m), dwells included."""
        times = self.moving.copy()
        for event, wait in zip(self.events, self.waits, strict=True):
            if wait and event.moves < len(times):
                times[event.moves] += wait
        return np.cumsum(times, out=times)

    def before(self, event: Event) -> float:
        """From the file's beginning to an event of the job (s)."""
        at = self._order[id(event)]
        return float(self._moved[event.moves] + self._waited[at])

    @cached_property
    def _waited(self) -> Floats:
        return np.concatenate([[0.0], np.cumsum(self.waits)])

    @cached_property
    def _order(self) -> dict[int, int]:
        return {id(event): number for number, event in enumerate(self.events)}

    @cached_property
    def _moved(self) -> Floats:
        return np.concatenate([[0.0], np.cumsum(self.moving)])


def clock_of(job: Job) -> Clock:
    """The clock of a job on its machine."""
    # numbers beyond all measure give times that are none, and count as not known
    with np.errstate(all="ignore"):
        moving, least, unknown = _times(job)
        lost = ~np.isfinite(moving + least)
    unknown |= lost
    moving[lost] = least[lost] = 0.0
    events = job.trace.events
    waits = np.array([_wait(event) for event in events], np.float64)
    return Clock(moving, least, unknown, described(job.machine), events, waits)


def _times(job: Job) -> tuple[Floats, Floats, Flags]:
    """How long each move takes, how long at the least, and where that is not known."""
    machine, places = job.machine, Places(job)
    trace = flat_trace(job)
    moves = Moves.of(trace, places)
    limits = limits_on_blank(job, moves, trace)
    going: Flags = (trace.kind <= CCW) & (moves.length > 0.0) & (limits.speed > 0.0)
    unknown = ~going & ~(moves.length == 0.0)
    least = np.zeros(len(moves))
    np.divide(moves.length, limits.wanted, out=least, where=going)
    moving = least.copy()
    if described(machine):
        moving[going] = way_times(job, moves, limits, going)
    _set_apart(places, moves, limits, moving, least, unknown)
    if described(machine) and machine.timing is not None:
        moving[trace.kind != HOME] *= machine.timing.factor
        np.maximum(moving, least, out=moving)
    return moving, least, unknown


def described(machine: Machine) -> bool:
    """Whether a description says how speed is gained and how corners are taken."""
    gains = all(axis.acceleration is not None for axis in machine.axes.values())
    gains = gains and all(axis.acceleration is not None for axis in machine.rotary.values())
    return gains and machine.corners is not None


def _wait(event: Event) -> float:
    waits = event.kind is EventKind.DWELL and isinstance(event.value, (int, float))
    return float(event.value) if waits else 0.0  # type: ignore[arg-type]


def _set_apart(
    places: Places, moves: Moves, limits: Limits, moving: Floats, least: Floats, unknown: Flags
) -> None:
    """The times of probes and of homing, written into those of all moves."""
    for apart in (*probes(places, moves, limits), *homings(places)):
        unknown[apart.row] = apart.seconds is None
        if apart.seconds is not None:
            least[apart.row], moving[apart.row] = apart.seconds.least, apart.seconds.most
