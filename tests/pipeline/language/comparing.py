"""Runs of the reference interpreter and traces of headrace's, side by side."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from reference import Options, Run, Start

from headrace.language import Dialect, EventKind, State, Trace, interpret
from headrace.language.trace import CCW, CW, HOME, RAPID
from headrace.program import Program

NEAR = 1e-6
KIND_NAMES = ("rapid", "feed", "cw", "ccw", "probe", "home")


@dataclass(frozen=True)
class Row:
    """One move, from either side."""

    line: int
    kind: str
    end: tuple[float, ...]
    machine: tuple[float, ...]
    feed: float | None
    arc: tuple[float, float, float, int] | None
    spindle: str | None
    tool: int
    coolant: tuple[bool, bool]


def dialect_of(options: Options) -> Dialect:
    return Dialect(block_delete=options.block_delete, sets_here=options.level_twenty)


def state_of(start: Start) -> State:
    """The reference's start as a state: numbers in parameters are in the units of the start."""
    state = State.at_zero()
    state.units = "inch" if start.units == 20 else "mm"
    state.feed = start.feed or None
    state.parameters.update(dict.fromkeys([*range(5161, 5167), *range(5181, 5187)], 0.0))
    state.parameters.update(start.parameters)
    state.system = int(start.parameters.get(5220, 1))
    state.origins = [state.stored(5221 + 20 * system) for system in range(9)]
    state.tool = state.selected = 0
    state.speed = 0.0
    for axis, value in enumerate(start.position):
        state.moved_machine(axis, value)
    return state


def trace_of(lines: list[str], start: Start, options: Options, end: str = "\n") -> Trace:
    data = "".join(line + end for line in lines).encode("utf-8")
    return interpret(Program.read(data), dialect_of(options), state_of(start))


def rows_of_run(run: Run) -> Iterator[Row]:
    for move in run.moves:
        arc = None
        if move.centre is not None:
            arc = (*move.centre, move.turn, move.plane)
        yield Row(
            move.line, move.kind, move.end, move.machine_end, move.feed, arc,
            move.spindle, move.tool, (move.mist, move.flood),
        )  # fmt: skip


def rows_of_trace(trace: Trace) -> Iterator[Row]:
    for block in trace.blocks:
        arcs = {}
        if block.arcs is not None:
            for row, u, v, turn in zip(
                block.arcs.rows, block.arcs.centre_u, block.arcs.centre_v, block.arcs.turn,
                strict=True,
            ):  # fmt: skip
                arcs[int(row)] = (float(u), float(v), float(turn), block.setting.plane)
        ends = np.array(block.ends).T
        for row in range(len(block)):
            kind = int(block.kind[row])
            end = tuple(float(value) for value in ends[row])
            rapid = kind in (RAPID, HOME)
            yield Row(
                int(block.line[row]),
                KIND_NAMES[kind],
                end,
                tuple(e + o for e, o in zip(end, block.setting.offset, strict=True)),
                None if rapid else float(block.feed[row]),
                arcs.get(row) if kind in (CW, CCW) else None,
                block.setting.spindle,
                block.setting.tool or 0,
                (block.setting.mist, block.setting.flood),
            )


def same(a: Row, b: Row) -> bool:
    """Whether two moves are the same within rounding."""
    return (
        (a.line, a.kind, a.spindle, a.tool, a.coolant)
        == (b.line, b.kind, b.spindle, b.tool, b.coolant)
        and _near(a.end, b.end)
        and _near(a.machine, b.machine)
        and (a.feed is None) == (b.feed is None)
        and (a.feed is None or b.feed is None or math.isclose(a.feed, b.feed, rel_tol=1e-9))
        and (a.arc is None) == (b.arc is None)
        and (a.arc is None or b.arc is None or _near_arc(a.arc, b.arc))
    )


def _near(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return all(math.isclose(x, y, rel_tol=1e-9, abs_tol=NEAR) for x, y in zip(a, b, strict=True))


def _near_arc(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    # the centre of a nearly straight arc is far away and ill-conditioned
    return all(math.isclose(x, y, rel_tol=1e-6, abs_tol=1e-5) for x, y in zip(a, b, strict=True))


_EVENTS = {
    EventKind.DWELL: "dwell",
    EventKind.STOP: "stop",
    EventKind.OPTIONAL_STOP: "optional-stop",
    EventKind.END: "end",
    EventKind.TOOL: "tool-change",
    EventKind.SPINDLE: "spindle",
    EventKind.MESSAGE: "message",
    EventKind.OVERRIDES: "overrides",
}


def events_of_trace(trace: Trace) -> list[tuple[int, str, object]]:
    found: list[tuple[int, str, object]] = []
    for event in trace.events:
        if event.kind in _EVENTS:
            kind, data = _EVENTS[event.kind], event.value
            if kind == "stop":
                kind, data = ("pallet-stop", None) if data == 60 else ("stop", None)
            elif kind == "optional-stop":
                data = None
            elif kind == "end":
                data = f"M{data}"
            elif kind == "dwell":
                data = round(float(str(data)), 9)
            found.append((event.line, kind, data))
    return found


def events_of_run(run: Run) -> list[tuple[int, str, object]]:
    names = {*_EVENTS.values(), "pallet-stop"}
    return [
        (event.line, event.kind, round(event.data, 9) if event.kind == "dwell" else event.data)
        for event in run.events
        if event.kind in names
    ]


def going(rows: list[Row], start: Start) -> list[Row]:
    """Rapid moves that go nowhere left out: inside cycles the two sides differ on them."""
    places = [tuple(start.position), *(row.machine for row in rows)]
    return [
        row
        for before, row in zip(places, rows, strict=False)
        if row.kind != "rapid" or not _near(before, row.machine)
    ]


def until_probe(rows: list[Row]) -> list[Row]:
    """Moves up to the first probe: where it trips is known at the machine alone, so that the
    reference's reading (it goes all the way) and headrace's (nobody knows) part there."""
    for at, row in enumerate(rows):
        if row.kind == "probe":
            return rows[: at + 1]
    return rows
