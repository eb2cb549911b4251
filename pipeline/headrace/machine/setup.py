"""What is on the machine today: sheet or blank, plate, tool, clamps. All lengths in mm.

Built from a mapping that the set-up schema (`recipe/schemas/setup.json`) has accepted.
Everything may be missing; what a step needs and does not find, it refuses by name.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import pi
from typing import Any

from headrace.machine.description import Machine
from headrace.machine.length import length, pair
from headrace.machine.span import Span


@dataclass(frozen=True, slots=True)
class Sheet:
    """The sheet: measured thickness, its corner in machine coordinates, what the jobs' Z0 is
    (`top` or `bed`), and how far a through cut may go into the spoilboard."""

    thickness: Span | None
    corner: tuple[float, float] | None
    size: tuple[float, float] | None
    zero: str
    overcut: float | None

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Sheet:
        thickness = data.get("thickness")
        return cls(
            thickness=None if thickness is None else Span.of(thickness),
            corner=pair(data.get("corner")),
            size=pair(data.get("size")),
            zero=data.get("zero", "top"),
            overcut=length(data.get("overcut")),
        )


@dataclass(frozen=True, slots=True)
class Blank:
    """A round blank on a rotary `axis` (`a`, `b`): its near end lies at `begins` along that axis,
    in machine coordinates."""

    axis: str
    diameter: float
    begins: float
    length: float

    @property
    def around(self) -> float:
        """How far it is once around its surface (mm): an arc is as long as radius times angle."""
        return pi * self.diameter

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Blank:
        diameter, begins, length = (float(data[key]) for key in ("diameter", "from", "length"))
        return cls(data.get("axis", "a"), diameter, begins, length)


@dataclass(frozen=True, slots=True)
class Plate:
    """The touch plate: its thickness, and where its middle lies from the sheet's corner."""

    thickness: float | None
    at: tuple[float, float] | None

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Plate:
        thickness = data.get("thickness")
        return cls(thickness=length(thickness), at=pair(data.get("at")))


@dataclass(frozen=True, slots=True)
class Tool:
    """A bit: how far it stands out, how wide it cuts, how far up from the tip, the highest speed
    that is marked on it (rev/min), its teeth, how thick a chip may be (mm a tooth), how fast it may
    go straight down (mm/min), the number by which jobs call it, and what it is."""

    stick_out: Span | None
    diameter: float | None
    flute: float | None
    fastest: float | None
    teeth: int | None
    chip: Span | None
    plunge: float | None = None
    number: int | None = None
    kind: str | None = None

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Tool:
        stick_out, chip = data.get("stick-out"), data.get("chip")
        return cls(
            stick_out=None if stick_out is None else Span.of(stick_out),
            diameter=length(data.get("diameter")),
            flute=length(data.get("flute")),
            fastest=length(data.get("fastest")),
            teeth=data.get("teeth"),
            chip=None if chip is None else Span.of(chip),
            plunge=length(data.get("plunge")),
            number=data.get("number"),
            kind=data.get("kind"),
        )


@dataclass(frozen=True, slots=True)
class Clamp:
    """A box on the sheet that nothing may enter: corners from the sheet's corner, and its top."""

    name: str
    low: tuple[float, float]
    high: tuple[float, float]
    top: float


@dataclass(frozen=True, slots=True)
class Setup:
    """The whole set-up. `tool` is the bit in the collet when a card file begins, `tools` are those
    that jobs call by number. `offsets` say where the zeros of work offset systems lie from that of
    the first one (X, Y, Z; mm). `clamps` is None where nothing is said of them, and empty where
    there are none."""

    name: str
    sheet: Sheet
    plate: Plate
    tool: Tool
    safe_height: float | None
    clamps: tuple[Clamp, ...] | None
    tools: tuple[Tool, ...] = ()
    offsets: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)
    blank: Blank | None = None

    def on(self, machine: Machine) -> Setup:
        """The same on a machine, where a blank lies as the sheet would: its highest line is the
        top, and its corner is the near end above the centre line."""
        blank = self.blank
        axis = None if blank is None else machine.rotary.get(blank.axis)
        if blank is None or axis is None:
            return self
        ends = (blank.begins, axis.at) if axis.along == "x" else (axis.at, blank.begins)
        top = Span.of(axis.height + blank.diameter / 2)
        return replace(self, sheet=Sheet(top, ends, size=None, zero="top", overcut=None))

    def tool_of(self, number: int | None) -> Tool:
        """The bit that a job calls by its number; that in the collet where the table has none."""
        found = (tool for tool in self.tools if tool.number == number)
        return next(found, self.tool)

    def with_tool(self, number: int | None) -> Setup:
        """The same with another bit in the collet."""
        return replace(self, tool=self.tool_of(number))

    def field(self, tool: Tool, name: str) -> str:
        """Where something of one of its bits is said: `setup.tool.flute`, or in the table. What is
        lacking of a bit in a set-up that has a table is most often which one is in."""
        if self.tools and tool == Tool.of({}):
            return "setup.tool.number"
        where = f"tools[number {tool.number}]" if tool in self.tools else "tool"
        return f"setup.{where}.{name}"

    def begun_by(self, called: int) -> Setup:
        """The same for a job that calls a bit before it cuts: that bit is in the collet when the
        file begins, unless `tool` tells of another one, or may do so."""
        if self.tool.number is not None or (self.tools and self.tool != Tool.of({})):
            return self
        return (
            self.with_tool(called)
            if self.tools
            else replace(self, tool=replace(self.tool, number=called))
        )

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Setup:
        """From a mapping that the set-up schema has accepted."""
        safe_height = data.get("safe-height")
        clamps = data.get("clamps")
        tools = tuple(Tool.of(tool) for tool in data.get("tools", ()))
        tool = Tool.of(data.get("tool", {}))
        if tool.number is not None:  # what is not said of it here, the table says
            tool = next((each for each in tools if each.number == tool.number), tool)
        return cls(
            name=data.get("name", ""),
            sheet=Sheet.of(data.get("sheet", {})),
            plate=Plate.of(data.get("plate", {})),
            tool=tool,
            safe_height=None if safe_height is None else float(safe_height),
            clamps=None
            if clamps is None
            else tuple(
                Clamp(
                    name=clamp["name"],
                    low=(float(clamp["from"][0]), float(clamp["from"][1])),
                    high=(float(clamp["to"][0]), float(clamp["to"][1])),
                    top=float(clamp["top"]),
                )
                for clamp in clamps
            ),
            tools=tools,
            offsets={
                system: (float(shift[0]), float(shift[1]), float(shift[2]))
                for system, shift in data.get("offsets", {}).items()
            },
            blank=Blank.of(data["blank"]) if "blank" in data else None,
        )
