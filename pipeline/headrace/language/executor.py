"""One line after the other: what each does to the state, in the order of RS274/NGC table 8."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from headrace.language import cycles
from headrace.language.arcs import FAULTS, TOLERANCE, ArcWords, solve
from headrace.language.block_words import LineWords, read_words, whole
from headrace.language.dialect import Dialect
from headrace.language.modal import (
    ACTIVE_SYSTEM,
    AXES,
    CANCEL,
    CCW,
    CW,
    CYCLES,
    FEED,
    HOMES,
    PLANES,
    PROBE,
    PROBED,
    RAPID,
    SHIFT,
    SYSTEMS,
    first_origin,
    g_name,
)
from headrace.language.recorder import Recorder
from headrace.language.state import NAN, State
from headrace.language.trace import HOME, EventKind
from headrace.language.trace import PROBE as PROBE_MOVE
from headrace.program.expression import ReadingError
from headrace.program.grammar import Scan

LEAST_PROBE = {"mm": 0.254, "inch": 0.254}
"""A probe may not aim nearer than this, in mm (3.5.9.1: 0.254 mm or 0.01 inch)."""

_STILL = 1e-9
"""Moves of a cycle along its depth that go less far (mm) go nowhere and are left out."""

_USERS = {
    "D": "G41 or G42", "H": "G43", "L": "a cycle or G10", "P": "G4, G10 or a cycle",
    "Q": "G83", "I": "an arc or G87", "J": "an arc or G87", "K": "an arc or G87",
    "R": "an arc or a cycle",
}  # fmt: skip

Report = Callable[[str, str, tuple[int, int]], None]


class Executor:
    """Executes single lines. Rules that are broken raise ReadingError; what is merely doubtful is
    told to `report` (kind of finding, text, column and length)."""

    def __init__(self, state: State, dialect: Dialect, recorder: Recorder, report: Report) -> None:
        self.state = state
        self.dialect = dialect
        self.recorder = recorder
        self.report = report
        self._line = 0
        self._feed = NAN

    def execute(self, line: int, scan: Scan, asks: str | None = None) -> None:
        """Do one line; the state keeps what it had where the line breaks a rule."""
        self._line = line
        if scan.block_delete and self.dialect.block_delete:
            return
        shown = [comment for comment in scan.comments if not comment.semicolon][-1:]
        if shown and shown[0].message is not None:  # only the last comment counts (3.3.5)
            self.recorder.event(line, EventKind.MESSAGE, shown[0].message)
        if scan.words or scan.settings:
            words = read_words(
                scan, self.state.parameters, self.dialect.outputs, self.dialect.stops
            )
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
        if asks == "spindle-on":
            state.spindle = "cw"
        elif asks == "spindle-off":
            state.spindle = "off"
        elif asks == "homed":
            self._home([axis for axis, name in enumerate(AXES) if name in self.dialect.homed])

    def _do(self, words: LineWords) -> None:
        state = self.state
        g, m, values = words.g, words.m, words.values
        self._refuse_compensation(words)
        # settings take effect when every value on the line has been found (3.3.3)
        state.parameters.update(words.settings)
        if 5 in g:
            state.inverse_time = g[5] == 930
        if "F" in values and not state.inverse_time:
            state.feed = values["F"]
        if "S" in values:
            state.speed = values["S"]
        if "T" in values:
            state.selected = whole(values["T"], "T", words.columns["T"])
        self._switch(words)
        if g.get(0) == 40:
            self._dwell(words)
        self._modes(words)
        if g.get(0) in (100, 280, 300, 920, 921, 922, 923):
            self._offsets_and_homes(words)
        self._feed = self._feed_of(words)
        moved = self._motion(words)
        self._unused(words, moved)
        if 4 in m:
            self._stop(m[4])

    def _feed_of(self, words: LineWords) -> float:
        """The feed of the line's moves: mm/min, or with G93 the line's own F (moves a minute)."""
        if self.state.inverse_time:
            return words.values.get("F", NAN)
        return NAN if self.state.feed is None else self.state.feed * self.state.factor

    def _refuse_compensation(self, words: LineWords) -> None:
        if words.g.get(7) in (410, 420):
            raise ReadingError(
                "compensation",
                f"{g_name(words.g[7])} needs a tool diameter, and no table is here",
                *words.columns["G"],
            )
        if words.g.get(8) == 430:
            raise ReadingError(
                "length-table", "G43 needs a tool length, and no table is here", *words.columns["G"]
            )

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
            code = m[8]
            if code == 7:
                state.mist = True
            elif code == 8:
                state.flood = True
            elif code == 9:
                state.mist = state.flood = False
            if code in self.dialect.outputs:
                state.outputs[code] = True
                record.event(self._line, EventKind.OUTPUT, self.dialect.outputs[code])
            if code in (7, 8, 9):
                record.event(self._line, EventKind.COOLANT, (state.mist, state.flood))
        if 9 in m:
            state.overrides = m[9] == 48
            record.event(self._line, EventKind.OVERRIDES, state.overrides)

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

    # --- offsets and homes -------------------------------------------------------------------

    def _offsets_and_homes(self, words: LineWords) -> None:
        code = words.g[0]
        if code == 100:
            self._set_origin(words)
        elif code in (280, 300):
            if code == self.dialect.homing:
                self._run_to_switches(words)
            else:
                self._go_to_stored_point(words, HOMES[code])
        else:
            self._shift(code, words)

    def _set_origin(self, words: LineWords) -> None:
        """G10: the origin of a system, in absolute coordinates (L2) or from here (L20)."""
        values, columns = words.values, words.columns
        key = values.get("L")
        here = key == 20 and self.dialect.sets_here
        if key != 2 and not here:
            raise ReadingError("g10-l", "G10 needs L2", *columns.get("L", columns["G"]))
        if "P" not in values:
            raise ReadingError("g10-p", "G10 needs P, a system from 1 to 9", *columns["G"])
        system = whole(values["P"], "P", columns["P"])
        if not 1 <= system <= 9:
            raise ReadingError("g10-p", "P of G10 names a system from 1 to 9", *columns["P"])
        state = self.state
        origin = state.origins[system - 1]
        for axis in words.axes:
            value = values[AXES[axis]] * (state.factor if axis < 3 else 1.0)
            if here:
                origin[axis] = state.machine[axis] - state.shift[axis] - value
            else:
                origin[axis] = value
        state.store(first_origin(system), origin)
        if system == state.system:
            state.renumbered()
            for axis in words.axes:
                if here:
                    state.position[axis] = values[AXES[axis]] * state.factor
        self._zeroed("origin", system, words)

    def _shift(self, code: int, words: LineWords) -> None:
        """G92 and its kin (3.5.18)."""
        state = self.state
        if code == 920:
            if not words.axes:
                raise ReadingError("no-axis-g92", "G92 without an axis", *words.columns["G"])
            origin = state.origins[state.system - 1]
            for axis in words.axes:
                wanted = words.values[AXES[axis]] * (state.factor if axis < 3 else 1.0)
                state.shift[axis] = state.machine[axis] - origin[axis] - wanted
                state.position[axis] = wanted
            state.store(SHIFT, state.shift)
        else:
            zeros = [0.0] * len(AXES)
            state.shift = state.stored(SHIFT) if code == 923 else zeros
            if code == 921:
                state.store(SHIFT, zeros)
            state.renumbered()
        self._zeroed("shift", code, words)

    def _zeroed(self, how: str, which: int, words: LineWords) -> None:
        axes = "".join(AXES[axis] for axis in words.axes)
        self.recorder.event(self._line, EventKind.ZERO, (how, which, axes))

    def _run_to_switches(self, words: LineWords) -> None:
        """Homing, where the machine does it by this word."""
        axes = words.axes
        if self.dialect.homes_all or not axes:
            axes = [axis for axis, name in enumerate(AXES) if name in self.dialect.homed]
        self._home(axes)

    def _home(self, axes: list[int]) -> None:
        """The axes run to their switches, by a word or at the panel."""
        state = self.state
        start = list(state.position)
        for axis in axes:
            if self.dialect.homing_clears_shift:
                state.shift[axis] = 0.0
            state.homed.add(AXES[axis])
            state.moved_machine(axis, self.dialect.homed.get(AXES[axis], NAN))
        self.recorder.move(self._line, HOME, start, state, NAN)
        self.recorder.event(self._line, EventKind.HOME, tuple(AXES[axis] for axis in axes))

    def _go_to_stored_point(self, words: LineWords, first: int) -> None:
        """G28 and G30 as the standard has them: by way of the programmed point (3.5.8)."""
        state = self.state
        if words.axes:
            self.report(
                "home-by-way",
                f"{g_name(words.g[0])} with axis words first goes to that point at rapid speed",
                words.columns["G"],
            )
            self._go(RAPID // 10, self._target(words))
        start = list(state.position)
        for axis, value in enumerate(state.stored(first)):
            # a stored point that nothing has set is known to the controller alone
            known = first + axis in state.parameters
            state.moved_machine(axis, value if known else NAN)
        self.recorder.move(self._line, RAPID // 10, start, state, NAN)

    # --- motion ------------------------------------------------------------------------------

    def _motion(self, words: LineWords) -> int | None:
        """The motion of the line; gives the code that was in force for it, if it moved."""
        state, g = self.state, words.g
        if 1 in g:
            if g[1] != state.cycle:
                state.forget_cycle()
            state.motion = g[1]
        code = state.motion
        suspended = g.get(0) in (100, 280, 300, 920)
        if suspended or (not words.axes and not (code in CYCLES and 1 in g)):
            if 1 in g and g[1] != CANCEL and not suspended:
                self.report(
                    "no-axis-for-motion",
                    f"{g_name(g[1])} without an axis moves nothing",
                    words.columns["G"],
                )
            if g.get(0) == 530:
                raise ReadingError("no-axis-g53", "G53 without an axis", *words.columns["G"])
            return None
        if code is None or code == CANCEL:
            raise ReadingError(
                "axis-words-unused",
                "axis words, and no motion is in force",
                *words.columns[AXES[words.axes[0]]],
            )
        if g.get(0) == 530:
            self._machine_move(words, code)
        elif code in CYCLES:
            self._cycle(code, words)
        elif code == PROBE:
            self._probe(words)
        else:
            self._check_feed(code, words)
            if code in (CW, CCW):
                self._arc(code, words)
            else:
                self._go(code // 10, self._target(words))
        return code

    def _target(self, words: LineWords) -> dict[int, float]:
        """Where the line's axis words lead, in the numbers in force."""
        state = self.state
        target = {}
        for axis in words.axes:
            value = words.values[AXES[axis]] * (state.factor if axis < 3 else 1.0)
            target[axis] = value + state.position[axis] if state.incremental else value
        return target

    def _go(
        self,
        kind: int,
        target: dict[int, float],
        arc: tuple[float, float, float] | None = None,
    ) -> None:
        start = list(self.state.position)
        for axis, value in target.items():
            self.state.moved(axis, value)
        feed = self._feed
        if not self.state.inverse_time and _turns_only(start, self.state.position):
            feed /= self.state.factor  # degrees a minute (2.1.2.5)
        self.recorder.move(self._line, kind, start, self.state, feed, arc)

    def _check_feed(self, code: int, words: LineWords) -> None:
        if code == RAPID:
            return
        if self.state.inverse_time:
            if "F" not in words.values:
                what = "with G93 every cutting line needs F"
                raise ReadingError("feed-missing-inverse", what, *self._span(words))
        elif not self.state.feed:
            raise ReadingError("feed-missing", "a cutting move without a feed", *self._span(words))

    def _span(self, words: LineWords) -> tuple[int, int]:
        return words.columns.get("G") or words.columns[AXES[words.axes[0]]]

    def _machine_move(self, words: LineWords, code: int) -> None:
        state = self.state
        if code not in (RAPID, FEED):
            raise ReadingError("g53-no-straight", "G53 needs G0 or G1", *words.columns["G"])
        if state.incremental:
            raise ReadingError("g53-incremental", "G53 under G91", *words.columns["G"])
        self._check_feed(code, words)
        start = list(state.position)
        for axis in words.axes:
            value = words.values[AXES[axis]] * (state.factor if axis < 3 else 1.0)
            state.moved_machine(axis, value)
        self.recorder.move(self._line, code // 10, start, state, self._feed)

    def _arc(self, code: int, words: LineWords) -> None:
        state = self.state
        first, second, across = PLANES[state.plane]
        target = self._target(words)
        start = state.position

        def word(letter: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
            return np.array([words.values.get(letter, NAN) * state.factor])

        solved = solve(
            (np.array([start[first]]), np.array([start[second]])),
            (
                np.array([target.get(first, start[first])]),
                np.array([target.get(second, start[second])]),
            ),
            ArcWords(
                first=word("IJK"[first]),
                second=word("IJK"[second]),
                across=word("IJK"[across]),
                radius=word("R"),
                named=np.array([first in target or second in target]),
            ),
            clockwise=np.array([code == CW]),
            absolute=state.absolute_centres,
            tolerance=TOLERANCE[state.units or "mm"],
        )
        if solved.fault[0]:
            name = FAULTS[solved.fault[0]]
            raise ReadingError(name, arc_text(name, float(solved.mismatch[0])), *self._span(words))
        arc = (float(solved.centre_u[0]), float(solved.centre_v[0]), float(solved.turn[0]))
        self._go(code // 10, target, arc)

    def _probe(self, words: LineWords) -> None:
        """G38.2: toward the point, which is not reached where the probe trips before (3.5.9.1)."""
        state = self.state
        span = self._span(words)
        if not any(axis < 3 for axis in words.axes):
            raise ReadingError("probe-no-axis", "a probe without X, Y or Z", *span)
        if state.inverse_time:
            raise ReadingError("probe-inverse", "a probe under G93", *span)
        if state.spindle in ("cw", "ccw"):
            raise ReadingError("probe-spindle-on", "a probe while the spindle turns", *span)
        if not state.feed:
            raise ReadingError("feed-missing", "a probe without a feed", *span)
        target = self._target(words)
        if any(axis > 2 and value != state.position[axis] for axis, value in target.items()):
            raise ReadingError("probe-rotary", "a rotary axis in a probe", *span)
        way = [target[axis] - state.position[axis] for axis in target if axis < 3]
        length = float(np.sqrt(sum(part * part for part in way)))
        if length < LEAST_PROBE[state.units or "mm"]:
            raise ReadingError("probe-too-close", f"a probe over {length:.3f} mm only", *span)
        if 1 not in words.g:
            self.report("probe-repeat", "this line probes again: G38.2 is still in force", span)
        self._go(PROBE_MOVE, target)
        # the trip point is known to the controller alone
        for axis in target:
            if axis < 3:
                state.machine[axis] = NAN
                state.position[axis] = NAN
        state.store(PROBED, state.position)
        self.recorder.event(self._line, EventKind.PROBE, dict(target))

    def _cycle(self, code: int, words: LineWords) -> None:
        state, record = self.state, self.recorder
        if not state.feed and not state.inverse_time:
            raise ReadingError("feed-missing", "a cycle without a feed", *self._span(words))
        way = state.spindle
        for step in cycles.expand(code, words, state, words.columns):
            if isinstance(step, cycles.CycleMove):
                # the way to the place is always a move, whatever place the cycle comes from
                sideways = len(step.to) > 1
                if sideways or any(
                    not abs(state.position[a] - v) <= _STILL for a, v in step.to.items()
                ):
                    self._go(RAPID // 10 if step.rapid else FEED // 10, dict(step.to))
            elif step.kind == "dwell":
                seconds = float(step.value or 0.0) * self.dialect.dwell_unit
                record.event(self._line, EventKind.DWELL, seconds)
            elif step.kind == "stop":
                record.event(self._line, EventKind.STOP, 0)
            else:
                state.spindle = str(step.value)
                record.event(self._line, EventKind.SPINDLE, state.spindle)
        state.spindle = way

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
        return (letter for letter in words.values if letter in _USERS and letter not in used)

    # --- stops -------------------------------------------------------------------------------

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
        state.ended = True


def _turns_only(start: list[float], end: list[float]) -> bool:
    """Whether a move turns rotary axes and leaves the linear ones where they are."""
    return start[:3] == end[:3] and start[3:] != end[3:]


def arc_text(name: str, mismatch: float) -> str:
    """What is wrong with an arc, in a few words."""
    return {
        "arc-no-axis": "an arc that names no axis of its plane",
        "arc-mixed": "an arc with a radius and a centre",
        "arc-wrong-offset": "an arc with an offset across its plane",
        "arc-no-centre": "an arc without radius or centre",
        "arc-start-unknown": "an arc from a place that no line has stated yet",
        "arc-r-full-circle": "an arc by radius that ends where it begins",
        "arc-r-too-small": f"an arc whose ends lie {mismatch:.4f} mm out of its radius' reach",
        "arc-zero-radius": "an arc without radius: its centre is where it begins",
        "arc-radius-mismatch": f"an arc whose radii differ by {mismatch:.4f} mm",
    }[name]
