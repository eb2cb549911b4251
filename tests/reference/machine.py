"""Execution, line by line and in the order of table 8 (section 3.8)."""

from __future__ import annotations

from collections.abc import Iterable

from reference.arithmetic import whole
from reference.block import Block, motion_of, refuse_unused, sort_words
from reference.codes import CYCLES, SYSTEMS
from reference.drilling import drill
from reference.fault import Fault, ReferenceError_
from reference.grammar import read_line
from reference.motion import go_home, go_round, go_straight, probe
from reference.recorder import Recorder
from reference.records import Options, Run, Start
from reference.state import PARAMETER_BASE, ZERO, State, origin_base


def run(lines: Iterable[str], *, start: Start | None = None, options: Options | None = None) -> Run:
    """Execute the lines of a whole program up to its end or its first fault."""
    try:
        machine = Interpreter(start, options)
    except ReferenceError_ as error:
        return Run((), (), State(), Fault(error.kind, 0, error.column), "")
    opened: int | None = None
    blank = True
    last = 0
    for number, text in enumerate(lines):
        last = number
        framing = text.strip() == "%"
        if framing and blank:
            opened = number
        elif framing and opened is not None:
            return machine.result("%")
        elif framing:
            return machine.result("", Fault("percent-unexpected", number, text.index("%")))
        else:
            try:
                machine.execute(number, text)
            except ReferenceError_ as error:
                return machine.result("", Fault(error.kind, number, error.column))
            if machine.ending:
                return machine.result(machine.ending)
        blank = blank and not text.strip()
    if opened is not None:
        return machine.result("", Fault("percent-unclosed", opened, 0))
    if machine.options.require_end:
        return machine.result("", Fault("no-end", last, 0))
    return machine.result("")


def _starting_state(start: Start) -> State:
    state = State(machine=tuple(start.position), units=start.units, feed=start.feed)
    state.parameters.update(start.parameters)
    system = whole(state.parameters[5220])
    if system is None or not 1 <= system <= 9:
        raise ReferenceError_("system-index")
    state.system = system
    for n in range(1, 10):
        state.origins[n] = state.stored(origin_base(n))
    return state


class Interpreter(Recorder):
    """A recorder with one method for each row of table 8."""

    def __init__(self, start: Start | None = None, options: Options | None = None) -> None:
        super().__init__(_starting_state(start or Start()), options or Options())
        self.ending = ""

    def result(self, ending: str, error: Fault | None = None) -> Run:
        return Run(tuple(self.moves), tuple(self.events), self.state.copy(), error, ending)

    def execute(self, number: int, text: str) -> None:
        """Carry out one line, or raise ReferenceError_ and leave everything as it was."""
        before, moves, events = self.state.copy(), len(self.moves), len(self.events)
        self.line = number
        try:
            self._execute(text.rstrip("\r\n"))
        except ReferenceError_:
            self.state = before
            del self.moves[moves:], self.events[events:]
            raise

    def _execute(self, text: str) -> None:
        state = self.state
        line = read_line(text, state.parameters, semicolons=self.options.semicolons)
        if line.deleted and self.options.block_delete:
            return
        block = sort_words(line, self.options)
        motion = motion_of(block, state.motion)
        refuse_unused(block, motion)
        # Section 3.3.3: settings act when every value of the line is known. The report gives
        # them no row in table 8; nothing in the rows reads a parameter written here except
        # G28, G30 and G92.3, and those see the new value.
        for setting in line.settings:
            _refuse_reserved(setting.index, setting.column)
            state.parameters[setting.index] = setting.value

        if line.message is not None:
            self.happen("message", line.message)
        self.feed_mode(block)
        self.feed(block)
        self.speed(block)
        self.tools(block)
        self.spindle(block)
        self.coolant(block)
        self.overrides(block)
        self.dwell(block)
        self.plane(block)
        self.units(block)
        self.compensation(block)
        self.length(block)
        self.system(block)
        self.path(block)
        self.distance(block)
        self.retract(block)
        self.once(block)
        self.motion(block, motion)
        self.stop(block)

    def feed_mode(self, block: Block) -> None:
        if "feed mode" in block.codes:
            self.state.feed_mode = int(block.codes["feed mode"][1:])

    def feed(self, block: Block) -> None:
        # Section 3.5.19: in inverse time an F number holds for its own line only.
        if "f" in block.numbers and self.state.feed_mode == 94:
            self.state.feed = block.numbers["f"]

    def speed(self, block: Block) -> None:
        if "s" in block.numbers:
            self.state.speed = block.numbers["s"]
            self.happen("speed", self.state.speed)

    def tools(self, block: Block) -> None:
        if "t" in block.numbers:
            self.state.selected = int(block.numbers["t"])
            self.happen("tool-select", self.state.selected)
        if "tool" in block.codes:
            # Section 3.6.3: the spindle is stopped, and all else is as it was.
            self.state.tool = self.state.selected
            self.state.spindle = "off"
            self.happen("tool-change", self.state.tool)

    def spindle(self, block: Block) -> None:
        if "spindle" in block.codes:
            self.turn_spindle({"M3": "cw", "M4": "ccw", "M5": "off"}[block.codes["spindle"]])

    def coolant(self, block: Block) -> None:
        code = block.codes.get("coolant")
        if code is None:
            return
        self.state.mist = code == "M7" or (code == "M8" and self.state.mist)
        self.state.flood = code == "M8" or (code == "M7" and self.state.flood)
        self.happen("coolant", {"M7": "mist", "M8": "flood", "M9": "off"}[code])

    def overrides(self, block: Block) -> None:
        if "overrides" in block.codes:
            self.state.overrides = block.codes["overrides"] == "M48"
            self.happen("overrides", self.state.overrides)

    def dwell(self, block: Block) -> None:
        if block.codes.get("once") != "G4":
            return
        if "p" not in block.numbers:
            raise ReferenceError_("dwell-missing", block.at("once"))
        if block.numbers["p"] < 0:
            raise ReferenceError_("dwell-negative", block.at("p"))
        self.happen("dwell", block.numbers["p"])

    def plane(self, block: Block) -> None:
        if "plane" in block.codes:
            self.state.plane = int(block.codes["plane"][1:])

    def units(self, block: Block) -> None:
        if "units" in block.codes:
            self.state.units = int(block.codes["units"][1:])

    def compensation(self, block: Block) -> None:
        if block.codes.get("compensation") in ("G41", "G42"):
            raise ReferenceError_("compensation", block.at("compensation"))

    def length(self, block: Block) -> None:
        """Section 3.5.11; index 0 is no offset."""
        code = block.codes.get("length")
        if code == "G49":
            self.state.length = 0.0
        if code != "G43":
            return
        if "h" not in block.numbers:
            raise ReferenceError_("length-index-missing", block.at("length"))
        if self.options.lengths is None:
            raise ReferenceError_("length-table", block.at("length"))
        index = int(block.numbers["h"])
        if index != 0 and index not in self.options.lengths:
            raise ReferenceError_("length-index-bad", block.at("h"))
        self.state.length = self.options.lengths[index] if index else 0.0

    def system(self, block: Block) -> None:
        if "system" in block.codes:
            self.state.system = SYSTEMS.index(block.codes["system"]) + 1
            self.state.parameters[PARAMETER_BASE["system"]] = float(self.state.system)

    def path(self, block: Block) -> None:
        if "path" in block.codes:
            self.state.path = block.codes["path"]
            self.happen("path", self.state.path)

    def distance(self, block: Block) -> None:
        if "distance" in block.codes:
            self.state.distance = int(block.codes["distance"][1:])
        if "centres" in block.codes:
            self.state.absolute_centres = block.codes["centres"] == "G90.1"

    def retract(self, block: Block) -> None:
        if "retract" in block.codes:
            self.state.retract = int(block.codes["retract"][1:])

    def once(self, block: Block) -> None:
        code = block.codes.get("once")
        if code == "G10":
            self.set_origin(block)
        elif code in ("G28", "G30"):
            go_home(self, block, code)
        elif code == "G92":
            self.set_axis_offsets(block)
        elif code == "G92.1":
            self.state.axis_offsets = ZERO
            for i in range(6):
                self.state.parameters[PARAMETER_BASE["G92"] + i] = 0.0
        elif code == "G92.2":
            self.state.axis_offsets = ZERO
        elif code == "G92.3":
            self.state.axis_offsets = self.state.stored(PARAMETER_BASE["G92"])

    def set_origin(self, block: Block) -> None:
        """Section 3.5.5, the same in G90 and G91; L20 is common practice."""
        state = self.state
        key = whole(block.numbers["l"]) if "l" in block.numbers else None
        if key != 2 and not (key == 20 and self.options.level_twenty):
            raise ReferenceError_("g10-l", block.at("l", "once"))
        system = whole(block.numbers["p"]) if "p" in block.numbers else None
        if system is None or not 1 <= system <= 9:
            raise ReferenceError_("g10-p", block.at("p", "once"))
        origin = list(state.origins[system])
        for i, number in block.axes.items():
            origin[i] = state.measure(i, number)
            if key == 20:
                length = state.length if i == 2 else 0.0
                origin[i] = state.machine[i] - state.axis_offsets[i] - length - origin[i]
            state.parameters[origin_base(system) + i] = state.written(i, origin[i])
        state.origins[system] = tuple(origin)

    def set_axis_offsets(self, block: Block) -> None:
        """Section 3.5.18, whatever the distance mode."""
        state = self.state
        if not block.axes:
            raise ReferenceError_("no-axis-g92", block.at("once"))
        offsets = list(state.axis_offsets)
        for i, number in block.axes.items():
            offsets[i] += state.program[i] - state.measure(i, number)
        state.axis_offsets = tuple(offsets)
        for i in range(6):
            state.parameters[PARAMETER_BASE["G92"] + i] = state.written(i, offsets[i])

    def motion(self, block: Block, motion: str | None) -> None:
        if motion in ("G0", "G1"):
            go_straight(self, block, motion)
        elif motion in ("G2", "G3"):
            go_round(self, block, motion)
        elif motion == "G38.2":
            probe(self, block)
        elif motion in CYCLES:
            drill(self, block, motion)
        self.state.motion = motion or block.codes.get("motion", self.state.motion)

    def stop(self, block: Block) -> None:
        code = block.codes.get("stop")
        if code is None:
            return
        if code in ("M2", "M30"):
            self.happen("end", code)
            self.ending = code
            self.reset()
            return
        self.happen({"M0": "stop", "M1": "optional-stop", "M60": "pallet-stop"}[code])

    def reset(self) -> None:
        """What a program's end puts back (section 3.6.1), and nothing else."""
        state = self.state
        state.axis_offsets = ZERO
        state.system = 1
        state.parameters[PARAMETER_BASE["system"]] = 1.0
        state.plane = 17
        state.distance = 90
        state.feed_mode = 94
        state.overrides = True
        state.spindle = "off"
        state.motion = "G1"
        state.mist = state.flood = False


def _refuse_reserved(index: int, column: int) -> None:
    """The report does not say when a number written to these takes effect, so: never."""
    if index == PARAMETER_BASE["system"] or any(
        origin_base(n) <= index < origin_base(n) + 6 for n in range(1, 10)
    ):
        raise ReferenceError_("parameter-reserved", column)
