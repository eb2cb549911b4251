"""One tool change by hand: what is written before the line that calls for the bit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace as changed
from math import isnan

from headrace import Edit, EventKind, Job, Line, Program, State, before, number_text
from headrace_transforms.framing.dwelling import dwell_lines
from headrace_transforms.framing.fitting import asked_for
from headrace_transforms.framing.lifting import to_top
from headrace_transforms.framing.plate import (
    over_plate,
    plate_numbers,
    require_top,
    sideways,
    touched,
)
from headrace_transforms.framing.stopping import stopped
from headrace_transforms.framing.touching import Touch
from headrace_transforms.framing.travel import NEAR, require_homed, require_homed_here, way_to
from headrace_transforms.framing.zeroing import require_kept, require_lasting, system_of
from headrace_transforms.numbers.lengths import Units
from headrace_transforms.telling.refusing import place_of, refusal
from headrace_transforms.telling.wording import mm

_NAME = "tool-change"


def called_bit(job: Job, line: Line, tool: object) -> int:
    """The number of the bit that a line calls for; JobRefused where that is not certain."""
    place = place_of(job.program, line)
    if not isinstance(tool, int):
        what = "this line changes the tool, and no T says to which"
        raise refusal("tool-unnamed", what, place=place)
    if line.scan.block_delete:
        what = "this line changes the tool only where a switch says so"
        raise refusal("tool-optional", what, place=place)
    return tool


def require_described(job: Job, line: Line, number: int) -> None:
    """JobRefused where the set-up does not tell of the bit that a line calls for."""
    if job.setup.tool_of(number).number != number:
        what = f"the job calls for tool {number}, and the set-up does not describe it"
        raise refusal("tool-not-in-table", what, place=place_of(job.program, line))


class Change:
    """The change at one line of a job. `fitted` is the job with the new bit in the collet."""

    def __init__(self, job: Job, fitted: Job, line: Line) -> None:
        self.job = job
        self.fitted = fitted
        self.line = line
        self.at = line.index
        self.state = job.state_at(line.index)
        require_homed_here(job, self.at, _NAME)
        self._require_place()
        self.units = Units.read_by(job.machine, self.state, _NAME)

    def edits(self, touch: Touch, margin: float) -> Iterator[Edit]:
        """Everything from lifting to being back where the job was."""
        number = self.fitted.setup.tool.number
        assert number is not None
        place = over_plate(self.fitted, _NAME)
        modes = ["G94"] if self.state.inverse_time else []
        lifted = ["G90", *modes, to_top(self.job, self.state, self.units, _NAME)]
        yield from self._lines(lifted)
        yield from self._standing()
        state = self._behind(self.state, lifted)
        parked = self._parking(state)
        yield from self._lines(parked)
        yield from asked_for(self.fitted, self.at, number)
        state = self._behind(state, parked)
        homed = self._homing()
        yield from self._lines(homed)
        state = self._behind(state, homed)
        over = [sideways(self.fitted, self.units, plate_numbers(self.fitted, state, place))]
        yield from self._lines(over)
        state = self._behind(state, over)
        yield from touched(self.fitted, self.at, state, touch, _NAME, margin)
        yield from self._lines(self._back(touch))

    def _lines(self, lines: Sequence[str]) -> Iterator[Edit]:
        written = [line for line in lines if line]
        if written:
            yield before(self.at, *written)

    def _behind(self, state: State, lines: Sequence[str]) -> State:
        """How things stand behind some lines."""
        text = "".join(f"{line}\n" for line in lines if line)
        return changed(self.job, program=Program.read(text.encode()), start=state).trace.end

    def _require_place(self) -> None:
        """JobRefused where a hand cannot change the bit, or the way back is not known."""
        job, state = self.job, self.state
        place = place_of(job.program, self.line)
        require_top(job, _NAME)
        require_kept(job, _NAME)
        require_lasting(job, self.at, _NAME, touched=True)
        require_homed(state, "XYZ", _NAME)
        homing, word = job.machine.homing, job.machine.work_zero.word
        if not job.machine.machine_moves and (
            homing.by != "word" or (homing.axes == "all" and word == "G92")
        ):
            what = "Z must be homed anew behind the change, and this machine homes all axes"
            raise refusal("change-loses-zero", what, place=place)
        if word != "G92" and state.system != system_of(job.machine, _NAME)[1]:
            what = f"the tool changes in work offset system {state.system}, not in the first one"
            remedy = "export the job for the first work offset system only"
            raise refusal("change-out-of-place", what, place=place, remedy=remedy)
        if state.cycle is not None:
            what = "a drilling cycle is in force where the tool changes"
            remedy = "put the step `cycles-to-moves` before it"
            raise refusal("change-out-of-place", what, place=place, remedy=remedy)
        depth = -state.position[2]
        if depth > NEAR and isnan(state.offset[2]):
            what = f"the tool changes with the tip {mm(depth)} mm in the sheet"
            raise refusal("change-out-of-place", what, place=place)
        moves = any(word.letter in "XYZABC" for word in self.line.words)
        if moves and not self.line.has("G", 0, 1, 2, 3):
            what = "this line changes the tool and moves, by a motion that was stated before it"
            raise refusal("change-out-of-place", what, place=place)

    def _standing(self) -> Iterator[Edit]:
        """The spindle stopped; one that a word has stopped before gets the time to stand."""
        job, state = self.job, self.state
        yield from stopped(job, self.at, state)
        if state.spindle == "off" and job.machine.spindle.control != "by-hand":
            yield from self._lines(dwell_lines(job, job.machine.spindle.run_down - self._waited()))

    def _waited(self) -> float:
        """The seconds that the job has waited since a word stopped the spindle."""
        waited = float("inf")
        for event in self.job.trace.events:
            if event.line >= self.at:
                break
            if event.kind is EventKind.SPINDLE:
                waited = 0.0
            elif event.kind is EventKind.DWELL:
                waited += float(str(event.value))
        return waited

    def _parking(self, state: State) -> list[str]:
        """The way to where the bit is changed; none where no place is described or known."""
        park = self.job.machine.park
        places = {axis.upper(): park[axis] for axis in ("x", "y") if axis in park}
        numbers = way_to(self.job, state, places) if places else None
        return [] if numbers is None else [sideways(self.job, self.units, numbers)]

    def _homing(self) -> list[str]:
        """Z homed anew, where no move in machine coordinates tells how high the tip stands."""
        homing = self.job.machine.homing
        if self.job.machine.machine_moves:
            return []
        return [str(homing.word) if homing.axes == "all" else f"{homing.word} Z0"]

    def _back(self, touch: Touch) -> list[str]:
        """From the plate at the top to where the job was, in its modes and with its feed."""
        state, units = self.state, Units.of(self.state, _NAME)
        touching = state.copy()
        touching.tool = self.fitted.setup.tool.number
        touching.position[2] = touch.plate + touch.retract
        touching.machine[2] = touching.shift[2] = float("nan")
        lines = [to_top(self.fitted, touching, self.units, _NAME)]
        for group in ("XY", "Z"):
            stood = {axis: "XYZ".index(axis) for axis in group}
            there = {a: state.placed[at] for a, at in stood.items() if at in state.placed}
            if there:
                lines.append(f"G53 G0 {units.words(there)}")
            known = {
                a: state.position[at]
                for a, at in stood.items()
                if a not in there and not isnan(state.position[at])
            }
            if known:
                lines.append(f"G0 {units.words(known)}")
        if state.feed is not None:
            lines.append(f"F{number_text(state.feed)}")
        lines += ["G93"] if state.inverse_time else []
        lines += ["G91"] if state.incremental else []
        return lines
