"""Moving: what axis words do under the motion in force, and going home."""

from __future__ import annotations

import numpy as np

from headrace.language import cycles
from headrace.language.arcs import FAULTS, TOLERANCE, ArcWords, solve, steepness
from headrace.language.block_words import LineWords
from headrace.language.dialect import Dialect
from headrace.language.modal import (
    AXES,
    AXIS_USERS,
    CANCEL,
    CCW,
    CW,
    CYCLES,
    FEED,
    PLANES,
    PROBE,
    PROBED,
    RAPID,
    g_name,
)
from headrace.language.recorder import Recorder, Report
from headrace.language.state import NAN, State
from headrace.language.trace import HOME, EventKind
from headrace.language.trace import PROBE as PROBE_MOVE
from headrace.program.expression import ReadingError

LEAST_PROBE = 0.254
"""A probe may not aim nearer than this, in mm (3.5.9.1: 0.254 mm or 0.01 inch)."""

_STILL = 1e-9
"""Moves of a cycle along its depth that go less far (mm) go nowhere and are left out."""


class Mover:
    """Moves the state and records it. Rules that are broken raise ReadingError; what is merely
    doubtful is told to `report`. `line` is the line that is executed."""

    def __init__(self, state: State, dialect: Dialect, recorder: Recorder, report: Report) -> None:
        self.state = state
        self.dialect = dialect
        self.recorder = recorder
        self.report = report
        self.line = 0
        self._feed = NAN

    def run_to_switches(self, words: LineWords) -> None:
        """Homing, where the machine does it by this word."""
        axes = words.axes
        if self.dialect.homes_all or not axes:
            axes = [axis for axis, name in enumerate(AXES) if name in self.dialect.homed]
        self.home(axes)

    def home(self, axes: list[int]) -> None:
        """The axes run to their switches, by a word or at the panel."""
        state = self.state
        start = list(state.position)
        for axis in axes:
            if self.dialect.homing_clears_shift:
                state.shift[axis] = 0.0
            state.homed.add(AXES[axis])
            state.moved_machine(axis, self.dialect.homed.get(AXES[axis], NAN))
        self.recorder.move(self.line, HOME, start, state, NAN)
        self.recorder.event(self.line, EventKind.HOME, tuple(AXES[axis] for axis in axes))

    def go_to_stored_point(self, words: LineWords, first: int) -> None:
        """G28 and G30 as the standard has them: by way of the programmed point (3.5.8)."""
        state = self.state
        if words.axes:
            self._go(RAPID // 10, self._target(words))
        start = list(state.position)
        for axis, value in enumerate(state.stored(first)):
            # a stored point that nothing has set is known to the controller alone
            known = first + axis in state.parameters
            state.moved_machine(axis, value if known else NAN)
        self.recorder.move(self.line, RAPID // 10, start, state, NAN)

    def move(self, words: LineWords) -> int | None:
        """The motion of the line; gives the code that was in force for it, if it moved."""
        state, g = self.state, words.g
        self._feed = self._feed_of(words)
        if 1 in g:
            if g[1] != state.cycle:
                state.forget_cycle()
            state.motion = g[1]
        code = state.motion
        suspended = g.get(0) in AXIS_USERS
        if suspended or (not words.axes and not (code in CYCLES and 1 in g)):
            if g.get(1) == PROBE:
                raise _probe_without_axis(words.columns["G"])
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
        self.recorder.move(self.line, kind, start, self.state, feed, arc)

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
        self.recorder.move(self.line, code // 10, start, state, self._feed)

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
        if self.dialect.projected_feed and not state.inverse_time:
            radius = np.hypot(start[first] - arc[0], start[second] - arc[1])
            rise = target.get(across, start[across]) - start[across]
            self._feed *= float(steepness(np.array([radius * arc[2]]), np.array([rise]))[0])
        self._go(code // 10, target, arc)

    def _probe(self, words: LineWords) -> None:
        """G38.2: toward the point, which is not reached where the probe trips before (3.5.9.1)."""
        state = self.state
        span = self._span(words)
        if not any(axis < 3 for axis in words.axes):
            raise _probe_without_axis(span)
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
        if length < LEAST_PROBE:
            raise ReadingError("probe-too-close", f"a probe over {length:.3f} mm only", *span)
        if 1 not in words.g:
            self.report("probe-repeat", "this line probes again: G38.2 is still in force", span)
        self._go(PROBE_MOVE, target)
        # the trip point is known to the controller alone
        for axis in target:
            if axis < 3:
                state.placed.pop(axis, None)
                state.machine[axis] = NAN
                state.position[axis] = NAN
        state.store(PROBED, state.position)
        self.recorder.event(self.line, EventKind.PROBE, dict(target))

    def _cycle(self, code: int, words: LineWords) -> None:
        state, record = self.state, self.recorder
        if not state.feed and not state.inverse_time:
            raise ReadingError("feed-missing", "a cycle without a feed", *self._span(words))
        way = state.spindle
        record.event(self.line, EventKind.CYCLE, g_name(code))
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
                record.event(self.line, EventKind.DWELL, seconds)
            elif step.kind == "stop":
                record.event(self.line, EventKind.STOP, 0)
            else:
                state.spindle = str(step.value)
                record.event(self.line, EventKind.SPINDLE, state.spindle)
        state.spindle = way

    def _feed_of(self, words: LineWords) -> float:
        """The feed of the line's moves: mm/min, or with G93 the line's own F (moves a minute)."""
        if self.state.inverse_time:
            return words.values.get("F", NAN)
        return NAN if self.state.feed is None else self.state.feed * self.state.factor


def _probe_without_axis(span: tuple[int, int]) -> ReadingError:
    return ReadingError("probe-no-axis", "a probe without X, Y or Z", *span)


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
