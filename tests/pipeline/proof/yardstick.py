"""Whether a changed job does something else: the reference interpreter decides.

It shares no code with headrace. Moves are compared in order, those of the job's own lines only
where added lines may move; numbers count as different from 1e-5 on, ten times what the proof may
take for rounding.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from reference import Event, Interpreter, Move, ReferenceError_, run

from headrace.program import Program

from .sources import OPTIONS, Source

APART = 1e-5

_EVENT_VIEWS = {
    "dwell": "dwell",
    "stop": "stops",
    "optional-stop": "stops",
    "pallet-stop": "stops",
    "end": "stops",
    "tool-change": "tool",
    "spindle": "spindle",
    "coolant": "outputs",
    "overrides": "feed",
}


def differs(source: Source, new: Program, views: frozenset[str], *, own_only: bool) -> str | None:
    """The first view among `views` in which a changed job does something else, or None.

    Views are `path`, `zero` (machine coordinates), and the facets by their names; events come
    last, as `event`. With `own_only` the moves of added lines are no part of the path. A line of
    the job that the reference refuses ends the run, as it would at the machine; an added line
    that it refuses, or a word that nothing uses, makes no fault of this kind.
    """
    lines = new.to_bytes().decode().split("\n")[:-1]
    ids = new.ids(np.arange(len(lines))).tolist()
    first = _first_change(source, lines, ids)
    if first is None:
        return None
    state, moves, events = source.before[min(first, len(source.before) - 1)]
    machine = Interpreter(options=OPTIONS)
    machine.state = state.copy()  # type: ignore[attr-defined]
    at = moves
    happened: list[Event] = []
    for number in range(first, len(lines)):
        try:
            machine.execute(number, lines[number])
        except ReferenceError_ as error:
            mine = ids[number] < new.job_lines and not error.kind.endswith("unused")
            return "path" if mine else None
        if ids[number] < new.job_lines or not own_only:
            for move in machine.moves:
                if at >= len(source.moves):
                    return "path" if "path" in views else None
                view = _apart(source.moves[at], move, views)  # type: ignore[arg-type]
                if view is not None:
                    return view
                at += 1
        machine.moves.clear()
        happened += machine.events
        machine.events.clear()
        if machine.ending:
            break
    if at < len(source.moves):
        return "path" if "path" in views else None
    return _other_events(source.events[events:], happened, views)  # type: ignore[arg-type]


def dives(source: Source, new: Program) -> bool:
    """Whether an added move in the midst of the job's cutting goes lower than where the added
    moves begin, and the job's own moves are what they were."""
    if differs(source, new, frozenset({"path"}), own_only=True) is not None:
        return False
    lines = new.to_bytes().decode().split("\n")[:-1]
    added = new.ids(np.arange(len(lines))) >= new.job_lines
    moves = run(lines, options=OPTIONS).moves
    own_cuts = [at for at, m in enumerate(moves) if m.kind != "rapid" and not added[m.line]]
    amid = [m for m in moves[own_cuts[0] : own_cuts[-1]] if added[m.line]] if own_cuts else []
    return any(m.end[2] < amid[0].start[2] - APART for m in amid)


def _first_change(source: Source, lines: Sequence[str], ids: Sequence[int]) -> int | None:
    """The first line that is not as it was, up to the job's end; None where there is none."""
    last = len(source.before)
    for at in range(min(last, len(lines))):
        if lines[at] != source.lines[at] or ids[at] != at:
            return at
    return len(lines) if len(lines) < last else None


def _apart(old: Move, new: Move, views: frozenset[str]) -> str | None:
    cuts = old.kind != "rapid"
    if "path" in views:
        if old.kind != new.kind or _far(old.end, new.end):
            return "path"
        if cuts and _far(old.start, new.start):
            return "path"
        if old.centre is not None and new.centre is not None:
            turned = abs(old.turn - new.turn) > APART or old.plane != new.plane
            if turned or _far(old.centre, new.centre):
                return "path"
    if "work-zero" in views and _far(old.machine_end, new.machine_end):
        return "work-zero"
    if not cuts:
        return None
    feeds = (old.feed, old.feed_unit), (new.feed, new.feed_unit)
    if "feed" in views and feeds[0] != feeds[1]:
        same = old.feed_unit == new.feed_unit
        if not same or abs((old.feed or 0.0) - (new.feed or 0.0)) > APART:
            return "feed"
    if "spindle" in views and (old.spindle, old.speed) != (new.spindle, new.speed):
        return "spindle"
    if "tool" in views and old.tool != new.tool:
        return "tool"
    if "outputs" in views and (old.mist, old.flood) != (new.mist, new.flood):
        return "outputs"
    return None


def _far(old: Sequence[float], new: Sequence[float]) -> bool:
    return old != new and any(abs(a - b) > APART for a, b in zip(old, new, strict=True))


def _other_events(old: Iterable[Event], new: Iterable[Event], views: frozenset[str]) -> str | None:
    for view in views:
        rows = [
            [(e.kind, e.data) for e in events if _EVENT_VIEWS.get(e.kind) == view]
            for events in (old, new)
        ]
        if rows[0] != rows[1]:
            return "event"
    return None
