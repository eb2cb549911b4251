"""What goes into a run and what comes out of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from reference.fault import Fault
from reference.state import State

Point = tuple[float, ...]  # six numbers: X Y Z in mm, A B C in degrees


@dataclass(frozen=True, slots=True)
class Start:
    """How things stand before the first line. The report names no power-up values (3.4).

    position: machine coordinates, X Y Z in mm and A B C in degrees.
    units: 20 or 21.
    feed: the F number that counts as already given; 0 for none.
    parameters: by number; lengths in `units`. Those absent are 0 (5220: 1), as in table 2.
    """

    position: Point = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    units: int = 21
    feed: float = 0.0
    parameters: Mapping[int, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Options:
    """Switches of the operator, and readings on which the report is silent.

    block_delete: lines that begin with `/` are read but not executed.
    semicolons: `;` opens a comment to the end of the line (common practice).
    centre_codes: G90.1 / G91.1 make arc centres absolute / incremental (common practice).
    level_twenty: G10 L20 makes the current point read the numbers given (common practice).
    require_end: a program without M2, M30 or a pair of `%` is at fault (section 3.1).
    slots: highest tool slot; None for no limit.
    lengths: tool lengths in mm by index, for G43; None refuses G43.
    peck_clearance: mm left above the bottom when a peck returns (from memory, 0.010 inch).
    """

    block_delete: bool = False
    semicolons: bool = True
    centre_codes: bool = False
    level_twenty: bool = False
    require_end: bool = False
    slots: int | None = None
    lengths: Mapping[int, float] | None = None
    peck_clearance: float = 0.254


@dataclass(frozen=True, slots=True)
class Move:
    """One straight line or arc.

    line: counted from 0. kind: rapid, feed, cw, ccw or probe.
    start, end: program coordinates as they read at the time; machine_start, machine_end:
        absolute ones. X Y Z in mm, A B C in degrees.
    plane: 17, 18 or 19. centre: in the plane's two axes (XY, ZX, YZ: right-handed pairs,
        section 4.3.6.1), program coordinates, mm. turn: radians, above 0; 0 when straight.
    feed: None for rapid; else a number of feed_unit, which is mm/min, deg/min (no linear axis
        moves, section 2.1.2.5) or 1/min (G93).
    spindle: off, cw or ccw. speed: the S number.
    cycle: the canned cycle that made this move, such as G81.
    """

    line: int
    kind: str
    start: Point
    end: Point
    machine_start: Point
    machine_end: Point
    plane: int
    centre: tuple[float, float] | None
    turn: float
    feed: float | None
    feed_unit: str | None
    spindle: str
    speed: float
    tool: int
    mist: bool
    flood: bool
    cycle: str | None


@dataclass(frozen=True, slots=True)
class Event:
    """Anything but a move. `after` is the number of moves made before it.

    kind and data: message text; speed S; tool-select slot; tool-change slot; spindle off|cw|ccw;
    orient None; coolant mist|flood|off; overrides bool; dwell seconds; path G61|G61.1|G64;
    synch bool; stop, optional-stop, pallet-stop None; end M2|M30.
    """

    line: int
    kind: str
    data: object
    after: int


@dataclass(frozen=True, slots=True)
class Run:
    """Everything that happened up to the end or the first fault.

    A line at fault does nothing at all: its moves and events are not here and `final` is the
    state before it. ending: M2, M30, `%`, or empty when the lines simply ran out.
    """

    moves: tuple[Move, ...]
    events: tuple[Event, ...]
    final: State
    error: Fault | None
    ending: str
