"""A machine by what it does. Lengths in mm, feeds in mm/min, times in s, speeds in rev/min.

Built from a mapping that the machine schema (`recipe/schemas/machine.json`) has accepted;
the schema says what each field means. `None` stands for "not described".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from headrace.machine.controller import ArcWords, Card, Comments, Pause, WorkZero
from headrace.machine.fittings import Head, Probe, Shoe, Spindle
from headrace.machine.length import length
from headrace.machine.motion import Axis, Corners, Homing, Rotary, TimedRun


@dataclass(frozen=True, slots=True)
class Machine:
    """The whole description."""

    name: str
    axes: Mapping[str, Axis]
    bed: float | None
    spoilboard: float | None
    nut: float | None
    shoe: Shoe | None
    rapids: str | None
    margin: float
    homing: Homing
    machine_moves: bool
    parameters: bool
    work_zero: WorkZero
    soft_limits: str | None
    soft_limit_numbers: str | None
    spindle: Spindle
    probe: Probe | None
    pause: Pause
    dwell_unit: str
    power_up_units: str | None
    modes: tuple[str, ...]
    end: str
    arcs: ArcWords
    cycles: tuple[str, ...] | None
    units: tuple[str, ...]
    distances: tuple[str, ...]
    decimals: int | None
    decimal_point: str
    rapid_feed: str
    subprograms: bool
    optional_lines: str | None
    percent: bool
    comments: Comments
    line_length: int
    line_numbers: str
    line_end: str
    line_rate: float | None
    tool_change: str
    outputs: Mapping[str, str]
    outputs_off: Mapping[str, str]
    hold_down: str | None
    park: Mapping[str, float]
    card: Card
    corners: Corners | None = None
    look_ahead: int | None = None
    timing: TimedRun | None = None
    rotary: Mapping[str, Rotary] = field(default_factory=dict)
    inverse_time: bool | None = None
    heads: tuple[Head, ...] = ()

    def head_of(self, tool: int | None) -> Head | None:
        """The further head that holds a bit, by its number; None where it is in the first one."""
        return next((head for head in self.heads if head.tool == tool), None)

    def bed_under(self, tool: int | None) -> float | None:
        """From the collet's face that holds a bit, with Z at the top, down to the spoilboard."""
        head = self.head_of(tool)
        return self.bed if head is None else head.bed

    def off_word(self, output: str) -> str | None:
        """The word that switches off what an output's word has switched on; None where that is not
        described. RS274/NGC 3.6.4 has M9 for M7 and M8."""
        return self.outputs_off.get(output, "M9" if output in ("M7", "M8") else None)

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Machine:
        """From a mapping that the machine schema has accepted."""
        limits = data.get("soft-limits", {})
        line = data.get("line", {})
        probe = data.get("probe")
        shoe = data.get("shoe")
        corners = data.get("corners")
        timing = data.get("timing")
        return cls(
            name=data["name"],
            axes={letter: Axis.of(axis) for letter, axis in data["axes"].items()},
            bed=data.get("bed"),
            spoilboard=length(data.get("spoilboard")),
            nut=length(data.get("nut")),
            shoe=None if shoe is None else Shoe(shoe["diameter"], shoe["below-collet"]),
            rapids=data.get("rapids"),
            margin=float(data.get("margin", 1.0)),
            homing=Homing.of(data["homing"]),
            machine_moves=bool(data.get("machine-moves", False)),
            parameters=bool(data.get("parameters", False)),
            work_zero=WorkZero.of(data["work-zero"]),
            soft_limits=limits.get("action"),
            soft_limit_numbers=limits.get("numbers"),
            spindle=Spindle.of(data["spindle"]),
            probe=None if probe is None else Probe.of(probe),
            pause=Pause.of(data["pause"]),
            dwell_unit=data["dwell"],
            power_up_units=data.get("power-up-units"),
            modes=tuple(data.get("modes", ())),
            end=data.get("end", "M30"),
            arcs=ArcWords.of(data.get("arcs", {})),
            cycles=None if data.get("cycles") is None else tuple(data["cycles"]),
            units=tuple(data.get("units", ("mm", "inch"))),
            distances=tuple(data.get("distances", ("absolute", "increments"))),
            decimals=data.get("decimals"),
            decimal_point=data.get("decimal-point", "optional"),
            rapid_feed=data.get("rapid-feed", "own"),
            subprograms=bool(data.get("subprograms", False)),
            optional_lines=data.get("optional-lines"),
            percent=bool(data.get("percent", False)),
            comments=Comments(data["comments"]),
            line_length=int(line.get("length", 80)),
            line_numbers=line.get("numbers", "optional"),
            line_end={"LF": "\n", "CRLF": "\r\n"}[line.get("end", "LF")],
            line_rate=length(line.get("rate")),
            tool_change=data.get("tool-change", "by-hand"),
            outputs=dict(data.get("outputs", {})),
            outputs_off=dict(data.get("outputs-off", {})),
            hold_down=data.get("hold-down"),
            park={axis: float(value) for axis, value in data.get("park", {}).items()},
            card=Card.of(data.get("card", {})),
            corners=None if corners is None else Corners.of(corners),
            look_ahead=data.get("look-ahead"),
            timing=None if timing is None else TimedRun.of(timing),
            rotary={letter: Rotary.of(axis) for letter, axis in data.get("rotary", {}).items()},
            inverse_time=data.get("inverse-time"),
            heads=tuple(Head.of(head) for head in data.get("heads", ())),
        )
