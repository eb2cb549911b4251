"""What a run writes down, and the two questions that every move asks first."""

from __future__ import annotations

from reference.arcs import Arc
from reference.block import Block
from reference.fault import ReferenceError_
from reference.records import Event, Move, Options, Point
from reference.state import State

SAME = 1e-9  # mm or degrees


class Recorder:
    """The state, and the moves and events so far."""

    def __init__(self, state: State, options: Options) -> None:
        self.state = state
        self.options = options
        self.moves: list[Move] = []
        self.events: list[Event] = []
        self.line = 0

    def happen(self, kind: str, data: object = None) -> None:
        self.events.append(Event(self.line, kind, data, len(self.moves)))

    def turn_spindle(self, sense: str) -> None:
        self.state.spindle = sense
        self.happen("spindle", sense)

    def target(self, block: Block) -> tuple[Point, Point]:
        """Where the axis words lead: program coordinates and machine coordinates."""
        state = self.state
        program, machine, shift = list(state.program), list(state.machine), state.shift
        for i, number in block.axes.items():
            size = state.measure(i, number)
            program[i] = size if state.distance == 90 else program[i] + size
            machine[i] = program[i] + shift[i]
        return tuple(program), tuple(machine)

    def straight(
        self,
        kind: str,
        end: Point,
        machine_end: Point,
        *,
        feed: float | None = None,
        feed_unit: str | None = None,
        arc: Arc | None = None,
        cycle: str | None = None,
    ) -> None:
        state = self.state
        self.moves.append(
            Move(
                line=self.line,
                kind=kind,
                start=state.program,
                end=end,
                machine_start=state.machine,
                machine_end=machine_end,
                plane=state.plane,
                centre=arc.centre if arc else None,
                turn=arc.turn if arc else 0.0,
                feed=feed,
                feed_unit=feed_unit,
                spindle=state.spindle,
                speed=state.speed,
                tool=state.tool,
                mist=state.mist,
                flood=state.flood,
                cycle=cycle,
            )
        )
        state.machine = machine_end

    def feed_to(self, block: Block, end: Point) -> tuple[float, str]:
        """Feed and its unit for a cutting move from here to `end` (section 2.1.2.5)."""
        state = self.state
        if state.feed_mode == 93:
            if block.numbers.get("f", 0.0) == 0:
                raise ReferenceError_("feed-missing-inverse", block.at("f", "motion"))
            return block.numbers["f"], "1/min"
        if state.feed == 0:
            raise ReferenceError_("feed-missing", block.at("f", "motion"))
        moved = [abs(a - b) > SAME for a, b in zip(state.program, end, strict=True)]
        if any(moved[3:]) and not any(moved[:3]):
            return state.feed, "deg/min"
        return state.feed * state.scale, "mm/min"
