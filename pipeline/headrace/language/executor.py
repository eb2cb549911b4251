"""One line after the other: what each does to the state, in the order of RS274/NGC table 8."""

from __future__ import annotations

from collections.abc import Iterator

from headrace.language import cycles
from headrace.language.block_words import LineWords, read_words, whole
from headrace.language.dialect import Dialect
from headrace.language.modal import (
    ACTIVE_SYSTEM,
    AXES,
    CCW,
    CW,
    CYCLES,
    FEED,
    HOMES,
    SYSTEMS,
    g_name,
)
from headrace.language.mover import Mover
from headrace.language.origins import set_origin, set_shift
from headrace.language.recorder import Recorder, Report
from headrace.language.state import State
from headrace.language.trace import EventKind
from headrace.program.expression import ReadingError
from headrace.program.grammar import Scan

_USERS = {
    "D": "G41 or G42", "H": "G43", "L": "a cycle or G10", "P": "G4, G10 or a cycle",
    "Q": "G83", "I": "an arc or G87", "J": "an arc or G87", "K": "an arc or G87",
    "R": "an arc or a cycle",
}  # fmt: skip


class Executor:
    """Executes single lines. Rules that are broken raise ReadingError; what is merely doubtful is
    told to `report` (kind of finding, text, column and length)."""

    def __init__(self, state: State, dialect: Dialect, recorder: Recorder, report: Report) -> None:
        self.state = state
        self.dialect = dialect
        self.recorder = recorder
        self.report = report
        self.mover: Mover = Mover(state, dialect, recorder, report)
        self._line = 0
        self._switching = {*dialect.outputs, *dialect.switched_off}
        self._lengthened = False
        self._first_tool = state.tool

    def execute(self, line: int, scan: Scan, asks: str | None = None) -> None:
        """Do one line; the state keeps what it had where the line breaks a rule."""
        self._line = self.mover.line = line
        if scan.block_delete and self.dialect.block_delete:
            return
        shown = [comment for comment in scan.comments if not comment.semicolon][-1:]
        if shown and shown[0].message is not None:  # only the last comment counts (3.3.5)
            self.recorder.event(line, EventKind.MESSAGE, shown[0].message)
        if scan.words or scan.settings:
            words = read_words(scan, self.state.parameters, self._switching, self.dialect.stops)
            self._do(words)
        if asks is not None:
            self.recorder.event(line, EventKind.ASKS, asks)
            self._confirmed(asks)

    def _confirmed(self, asks: str) -> None:
        """The operator went on after being asked: what was asked for is so."""
        state = self.state
        topic, _, answer = asks.rpartition("-")
        state.confirmed.discard(f"{topic}-{'off' if answer == 'on' else 'on'}")
        state.confirmed.add(asks)
        if topic == "tool" and answer.isdecimal():
            state.tool = int(answer)
            self.recorder.event(self._line, EventKind.TOOL, state.tool)
        if asks == "spindle-on":
            state.spindle = "cw"
        elif asks == "spindle-off":
            state.spindle = "off"
        elif asks == "homed":
            self.mover.home([axis for axis, name in enumerate(AXES) if name in self.dialect.homed])

    def _do(self, words: LineWords) -> None:
        state = self.state
        g, m, values = words.g, words.m, words.values
        self._require_known(words)
        # settings take effect when every value on the line has been found (3.3.3)
        state.parameters.update(words.settings)
        if 5 in g:
            state.inverse_time = g[5] == 930
        if "F" in values and not state.inverse_time:
            state.feed = values["F"]
        if "S" in values:
            state.speed = self.dialect.speed(values["S"])
        if "T" in values:
            state.selected = whole(values["T"], "T", words.columns["T"])
        self._switch(words)
        if g.get(0) == 40:
            self._dwell(words)
        self._modes(words)
        if 13 in g:
            self.recorder.event(self._line, EventKind.CORNERS, g_name(g[13]))
        if g.get(0) in (100, 280, 300, 920, 921, 922, 923):
            self._offsets_and_homes(words)
        moved = self.mover.move(words)
        self._unused(words, moved)
        if 4 in m:
            self._stop(m[4])

    def _require_known(self, words: LineWords) -> None:
        """ReadingError for what a table would have to say, but for lengths: a step may take these
        out."""
        if words.g.get(7) in (410, 420):
            raise ReadingError(
                "compensation",
                f"{g_name(words.g[7])} needs a tool diameter, and no table is here",
                *words.columns["G"],
            )
        if words.g.get(8) == 430 and "H" not in words.values:
            raise ReadingError("length-table", "G43 without H", *words.columns["G"])

    def _switch(self, words: LineWords) -> None:
        """Tool, spindle, coolant, overrides: rows 6 to 9 of the order of execution."""
        state, record, m = self.state, self.recorder, words.m
        if 6 in m:
            state.tool = state.selected
            state.spindle = "off"
            record.event(self._line, EventKind.TOOL, state.tool)
        if 7 in m:
            state.spindle = {3: "cw", 4: "ccw", 5: "off"}[m[7]]
            record.event(self._line, EventKind.SPINDLE, state.spindle)
        if 8 in m:
            self._switch_output(m[8])
        if 9 in m:
            state.overrides = m[9] == 48
            record.event(self._line, EventKind.OVERRIDES, state.overrides)

    def _at_work(self, tool: int | None) -> None:
        """A head is lowered with this tool in it."""
        if tool != self.state.tool:
            self.state.tool = tool
            self.recorder.event(self._line, EventKind.TOOL, tool)

    def _switch_output(self, code: int) -> None:
        """Mist and flood, and what is wired to these and other words."""
        state, record, dialect = self.state, self.recorder, self.dialect
        off = dialect.switched_off.get(code, ())
        was = state.mist, state.flood
        state.mist = code == 7 or (state.mist and code != 9 and 7 not in off)
        state.flood = code == 8 or (state.flood and code != 9 and 8 not in off)
        if code in dialect.outputs:
            state.outputs[code] = True
            record.event(self._line, EventKind.OUTPUT, dialect.outputs[code])
            if code in dialect.heads:
                self._at_work(dialect.heads[code])
        for output in off:
            if state.outputs.get(output):
                state.outputs[output] = False
                record.event(self._line, EventKind.OUTPUT_OFF, dialect.outputs[output])
                if output in dialect.heads:
                    self._at_work(self._first_tool)
        if code in (7, 8, 9) or (state.mist, state.flood) != was:
            record.event(self._line, EventKind.COOLANT, (state.mist, state.flood))

    def _dwell(self, words: LineWords) -> None:
        if "P" not in words.values:
            raise ReadingError("dwell-missing", "G4 without P", *words.columns["G"])
        if words.values["P"] < 0:
            raise ReadingError("dwell-negative", "a negative dwell", *words.columns["P"])
        seconds = words.values["P"] * self.dialect.dwell_unit
        self.recorder.event(self._line, EventKind.DWELL, seconds)

    def _modes(self, words: LineWords) -> None:
        """Plane, units, systems, distance and return mode: rows 11 to 18."""
        state, g = self.state, words.g
        state.stated.update(group for group in g if group)
        if 2 in g:
            if state.plane != g[2] // 10:
                state.forget_cycle()
            state.plane = g[2] // 10
        if 6 in g:
            state.units = "inch" if g[6] == 200 else "mm"
            self.recorder.event(self._line, EventKind.UNITS, state.units)
        if 8 in g:
            self._measure(words)
        if 12 in g:
            state.select(SYSTEMS[g[12]])
            state.parameters[ACTIVE_SYSTEM] = float(state.system)
            self.recorder.event(self._line, EventKind.ZERO, ("system", state.system, ""))
        if 3 in g:
            state.incremental = g[3] == 910
        if 4 in g:
            state.absolute_centres = g[4] == 901
        if 10 in g:
            state.return_to_r = g[10] == 990

    def _measure(self, words: LineWords) -> None:
        """G43 and G49 (3.5.11): with another length Z counts from elsewhere. It is told once."""
        state = self.state
        index = 0
        if words.g[8] == 430:
            index = whole(words.values["H"], "H", words.columns["H"])
        if index and not self._lengthened:
            what = "G43 needs a tool length, and no table is here"
            self.report("length-table", what, words.columns["G"])
            self._lengthened = True
        if (index or None) != state.length:
            state.length = index or None
            state.position[2] = state.machine[2] - state.offset[2]

    def _offsets_and_homes(self, words: LineWords) -> None:
        code = words.g[0]
        if code == 100:
            what = set_origin(self.state, words, self.dialect.sets_here)
            self.recorder.event(self._line, EventKind.ZERO, what)
        elif code in (280, 300):
            if code == self.dialect.homing:
                self.mover.run_to_switches(words)
            else:
                self.mover.go_to_stored_point(words, HOMES[code])
        else:
            what = set_shift(self.state, words, code)
            self.recorder.event(self._line, EventKind.ZERO, what)

    def _unused(self, words: LineWords, moved: int | None) -> None:
        """Words that nothing on the line uses: read, and told (from memory: an error elsewhere)."""
        for letter in self._left_over(words, moved):
            self.report(
                "word-unused",
                f"{letter} is for {_USERS[letter]}, and none is here",
                words.columns[letter],
            )

    def _left_over(self, words: LineWords, moved: int | None) -> Iterator[str]:
        used: set[str] = set()
        if moved in (CW, CCW):
            used.update("IJKR")
        if moved in CYCLES:
            used.update("RL" + cycles.NEEDS.get(moved or 0, ""))
        if words.g.get(0) == 100:
            used.update("LP")
        if words.g.get(0) == 40:
            used.add("P")
        if words.g.get(8) == 430:
            used.add("H")
        return (letter for letter in words.values if letter in _USERS and letter not in used)

    def _stop(self, code: int) -> None:
        record = self.recorder
        if code in (2, 30) and code not in self.dialect.stops:
            self._end()
            record.event(self._line, EventKind.END, code)
        elif code == 1:
            record.event(self._line, EventKind.OPTIONAL_STOP, code)
        else:
            record.event(self._line, EventKind.STOP, code)

    def _end(self) -> None:
        """What M2 and M30 put back (3.6.1)."""
        state = self.state
        if not self.dialect.end_keeps_shift:
            state.shift = [0.0] * len(AXES)
        state.system = 1
        state.parameters[ACTIVE_SYSTEM] = 1.0
        if not self.dialect.end_keeps_shift:
            state.renumbered()
        state.plane = 17
        state.incremental = False
        state.inverse_time = False
        state.overrides = True
        state.spindle = "off"
        state.motion = FEED
        state.forget_cycle()
        state.mist = state.flood = False
        state.outputs.update(dict.fromkeys(state.outputs.keys() & {7, 8}, False))
        state.ended = True
