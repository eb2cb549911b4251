"""A machine by what it does. Lengths in mm, feeds in mm/min, times in s, speeds in rev/min.

Built from a mapping that the machine schema (`recipe/schemas/machine.json`) has accepted;
the schema says what each field means. `None` stands for "not described".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis, in the numbers that the controller shows right after homing."""

    low: float
    high: float
    home_end: str
    homed_number: float
    back_off: float
    rapid: float
    feed: float
    acceleration: float | None

    @property
    def travel(self) -> float:
        """The whole way that the axis can go, in mm."""
        return self.high - self.low

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Axis:
        low, high = data["travel"]
        return cls(
            low=float(low),
            high=float(high),
            home_end=data["home-end"],
            homed_number=float(data["homed-number"]),
            back_off=float(data.get("back-off", 0.0)),
            rapid=float(data["rapid"]),
            feed=float(data["feed"]),
            acceleration=data.get("acceleration"),
        )


@dataclass(frozen=True, slots=True)
class Rotary:
    """An axis that turns, in degrees, degrees/min and degrees/s2. Its centre line lies `along` an
    axis (`x`, `y`), `at` a place on the other one (mm), at a `height` above the spoilboard (mm).

    As its number rises, the top of a blank goes towards the `low` or the `high` numbers of that
    other axis: `top_goes`. `travel` is None where it turns on for ever. `counts` is what F counts
    of a move on which linear axes go too: `linear`, their way alone (RS274/NGC 2.1.2.5), or `all`;
    None where not described.
    """

    along: str
    at: float
    height: float
    top_goes: str
    travel: tuple[float, float] | None
    rapid: float
    feed: float
    acceleration: float | None = None
    counts: str | None = None

    @property
    def sense(self) -> int:
        """1 where the number must rise for the tip to come to higher numbers of the other axis on a
        blank, -1 where it must fall."""
        return 1 if self.top_goes == "low" else -1

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Rotary:
        travel = data["travel"]
        return cls(
            along=data["along"],
            at=float(data["at"]),
            height=float(data["height"]),
            top_goes=data["top-goes"],
            travel=None if travel == "unlimited" else (float(travel[0]), float(travel[1])),
            rapid=float(data["rapid"]),
            feed=float(data["feed"]),
            acceleration=_length(data.get("acceleration")),
            counts=data.get("counts"),
        )


@dataclass(frozen=True, slots=True)
class Homing:
    """How the axes find home: by a word of the controller, or by hand at its panel."""

    by: str
    word: str | None
    axes: str
    order: tuple[tuple[str, ...], ...]
    feed: float | None = None

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Homing:
        order = data.get("order", [["z"], ["x", "y"]])
        return cls(
            by=data["by"],
            word=data.get("word"),
            axes=data.get("axes", "named"),
            order=tuple(tuple(group) for group in order),
            feed=_length(data.get("feed")),
        )


@dataclass(frozen=True, slots=True)
class Corners:
    """How corners between two moves are taken, by one rule: `deviation` is how far an arc round
    the corner may stay away from it (mm), `step` how much speed may change at once (mm/min), and
    by `full_stop` the machine stands still at the end of every move."""

    deviation: float | None = None
    step: float | None = None
    full_stop: bool = False

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Corners:
        return cls(
            deviation=_length(data.get("deviation")),
            step=_length(data.get("speed-step")),
            full_stop=data.get("full-stop", False),
        )


@dataclass(frozen=True, slots=True)
class TimedRun:
    """A run with a watch: `planned` is what it was to take without the `factor`, `took` what it
    took (s, homing and pauses left out). No step may go by it: no card file follows from it."""

    factor: float
    planned: float
    took: float
    job: str

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> TimedRun:
        factor, planned, took = (float(data[key]) for key in ("factor", "planned", "took"))
        return cls(factor, planned, took, job=data["job"])


@dataclass(frozen=True, slots=True)
class WorkZero:
    """The words that make a place the work zero.

    `word` is `G92` (shifts the numbers where the machine stands), `G10 L2` (states the origin of
    a work offset system in machine coordinates) or `G10 L20` (makes the place where the machine
    stands read the given numbers in a work offset system).
    """

    word: str
    systems: tuple[str, ...]
    kept_after_end: bool | None

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> WorkZero:
        return cls(
            word=data["word"],
            systems=tuple(data.get("systems", ())),
            kept_after_end=data.get("kept-after-end"),
        )


@dataclass(frozen=True, slots=True)
class Spindle:
    """What switches the spindle (`by-hand`, `relay`, `speed`), its range and its times. With `none`
    nothing turns: all of these are 0.

    `numbers` are pairs of an S and the speed (rev/min) that it stands for; none where S is the
    speed itself.
    """

    control: str
    slowest: float
    fastest: float
    run_up: float
    run_down: float
    reverse: bool
    dial: tuple[tuple[str, float], ...]
    numbers: tuple[tuple[float, float], ...]

    def nearest_mark(self, speed: float) -> str | None:
        """The mark whose speed is nearest to `speed` (rev/min); None where no dial is described."""
        if not self.dial:
            return None
        return min(self.dial, key=lambda mark: abs(mark[1] - speed))[0]

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Spindle:
        """From what a machine file says, validated."""
        slowest, fastest = data.get("range", (0, 0))
        return cls(
            control=data["control"],
            slowest=float(slowest),
            fastest=float(fastest),
            run_up=float(data.get("run-up", 0)),
            run_down=float(data.get("run-down", 0)),
            reverse=bool(data.get("reverse", False)),
            dial=tuple((str(mark), float(speed)) for mark, speed in data.get("dial", ())),
            numbers=tuple((float(s), float(speed)) for s, speed in data.get("numbers", ())),
        )


@dataclass(frozen=True, slots=True)
class Probe:
    """The straight probe: its word, its feeds and the numbers that it accepts.

    `lowest_target` is the least Z number, as shown, that the controller lets a probe aim at;
    `lead` is how far the clip's lead lets the head go sideways.
    """

    word: str
    quick: float
    slow: float
    lowest_target: float | None
    reaction: float
    lead: float | None

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Probe:
        lowest = data.get("lowest-target")
        return cls(
            word=data.get("word", "G38.2"),
            quick=float(data["quick"]),
            slow=float(data["slow"]),
            lowest_target=None if lowest is None else float(lowest),
            reaction=float(data.get("reaction", 0.01)),
            lead=_length(data.get("lead")),
        )


@dataclass(frozen=True, slots=True)
class Shoe:
    """The extraction shoe: how wide it is, and how far its stiff part reaches below the collet."""

    diameter: float
    below_collet: float


@dataclass(frozen=True, slots=True)
class Pause:
    """How the machine waits for its operator, and how much text it shows.

    `text` says where a text must stand to be shown: `before` (a comment line before the word),
    `same-line` (a comment behind the word) or `none` (nothing is shown).
    """

    word: str
    text: str
    width: int

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Pause:
        return cls(
            word=data.get("word", "M0"), text=data.get("text", "none"), width=data.get("width", 20)
        )


@dataclass(frozen=True, slots=True)
class ArcWords:
    """What the controller reads of G2 and G3: the forms, planes, helices and full circles, how
    centres count (`increments`, `absolute`), and along what F counts on a helix (`path`,
    `projection`). The defaults are those of RS274/NGC."""

    centre: bool = True
    radius: bool = True
    planes: tuple[str, ...] = ("G17", "G18", "G19")
    helix: bool = True
    full_circles: bool = True
    centres: str = "increments"
    feed: str = "path"

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> ArcWords:
        forms = data.get("forms", ("centre", "radius"))
        return cls(
            centre="centre" in forms,
            radius="radius" in forms,
            planes=tuple(data.get("planes", ("G17", "G18", "G19"))),
            helix=data.get("helix", True),
            full_circles=data.get("full-circles", True),
            centres=data.get("centres", "increments"),
            feed=data.get("feed", "path"),
        )


@dataclass(frozen=True, slots=True)
class Comments:
    """The comments that the controller reads: `parentheses`, `semicolon`, `both` or `none`."""

    style: str

    @property
    def parentheses(self) -> bool:
        return self.style in ("parentheses", "both")

    @property
    def semicolon(self) -> bool:
        return self.style in ("semicolon", "both")


@dataclass(frozen=True, slots=True)
class Card:
    """What the controller's card reader accepts as file names, and how it lists them.

    `case`, `characters` and `length` are None where they are as usual for these `names`.
    """

    names: str
    extension: str
    case: str | None = None
    characters: str | None = None
    length: int | None = None
    order: str | None = None
    numbered: bool = False

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Card:
        return cls(
            names=data.get("names", "short"),
            extension=data.get("extension", "NC"),
            case=data.get("case"),
            characters=data.get("characters"),
            length=data.get("length"),
            order=data.get("order"),
            numbered=data.get("numbered", False),
        )


@dataclass(frozen=True, slots=True)
class Head:
    """A further head on the same gantry. The output `down` lowers it; switched off, the first head
    is down again. `tool` is the number by which jobs call the bit in it, `at` (X, Y; mm) where its
    axis lies from that of the first head, `bed` is what the machine's is for the first head, and
    `system` the work offset system in which it works."""

    tool: int
    at: tuple[float, float]
    bed: float
    system: str
    down: str

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Head:
        """From what a machine file says, validated."""
        at = (float(data["at"][0]), float(data["at"][1]))
        return cls(data["tool"], at, float(data["bed"]), data["system"], data["down"])


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
            spoilboard=_length(data.get("spoilboard")),
            nut=_length(data.get("nut")),
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
            line_rate=_length(line.get("rate")),
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


def _length(value: float | None) -> float | None:
    return None if value is None else float(value)
