"""Switching the spindle along a program, by what switches it."""

from __future__ import annotations

from collections.abc import Iterator

from headrace import (
    Edit,
    EventKind,
    Job,
    Machine,
    Place,
    Program,
    asking,
    asking_speed,
    delete,
    number_text,
    pause_lines,
    replace,
)
from headrace_transforms.framing.dial import between_marks
from headrace_transforms.framing.dwelling import dwell_lines
from headrace_transforms.framing.speeds import default_speed, stated_speed
from headrace_transforms.framing.spindle_words import SpindleWords
from headrace_transforms.lines.rows import Rows, inserted
from headrace_transforms.telling.refusing import place_of, refusal
from headrace_transforms.telling.wording import mm, notes

_LONGEST_WAIT = 20
"""How many lines behind a start are looked at for a dwell that the job has already."""


class Switch:
    """Walks over the lines in order, knowing whether the spindle turns and how fast."""

    def __init__(self, job: Job, machine: Machine, default: float | None) -> None:
        state = job.state_at(job.landmarks.start)
        self.job = job
        self.machine = machine
        self.by_hand = machine.spindle.control == "by-hand"
        self.default = default
        self.way = state.spindle
        self.speed: float | None = state.speed
        self.running: float | None = state.speed if state.spindle in ("cw", "ccw") else None
        self.waits = {
            event.line: float(str(event.value)) for event in job.trace.events_of(EventKind.DWELL)
        }

    def edits(self, lines: list[SpindleWords], start: int | None) -> Iterator[Edit]:
        """All edits, in order."""
        for words in lines:
            if start is not None and words.line.index >= start:
                yield from self._added(start)
                start = None
            yield from self._line(words)
        if start is not None:
            yield from self._added(start)

    @property
    def turns(self) -> bool:
        return self.way in ("cw", "ccw")

    def _added(self, line: int) -> Iterator[Edit]:
        """A start that the job lacks."""
        rows = Rows()
        speed = self._speed_for("the added start", None)
        self._switch_on(rows, "cw", speed, f"M3 {self._word(speed)}", wait=0.0)
        yield from inserted(line, rows, after_line=False)

    def _line(self, words: SpindleWords) -> Iterator[Edit]:
        """One line of the program."""
        line = words.line
        if words.asks in ("spindle-on", "spindle-off"):
            self.way = "cw" if words.asks == "spindle-on" else "off"
            return
        place = place_of(self.job.program, line)
        ahead, behind = Rows(), Rows()
        text = line.text
        stated = self._stated(words, place)
        if words.change is not None:
            self._stop_for_change(ahead)
        if words.start is not None:
            text = self._started(words, stated, place, ahead, behind)
        elif words.stop is not None:
            text = self._stopped(words, ahead, behind)
        elif words.speed is not None:
            text = self._changed(words, stated, ahead, behind)
        if words.end is not None and self.by_hand and self.way != "off" and self.turns:
            text = self._ended(words, text, ahead, behind)
        yield from inserted(line.index, ahead, after_line=False)
        if text != line.text:
            yield replace(line.index, text) if text.strip() else delete(line.index)
        yield from inserted(line.index, behind, after_line=True)

    def _stated(self, words: SpindleWords, place: Place) -> float | None:
        """The speed that the line states; None where it states none, or 0."""
        at_rest = words.stop is not None or (words.start is None and not self.turns)
        value = stated_speed(self.job, words, at_rest, place)
        if words.speed is not None:
            self.speed = value
        return value

    def _speed_for(self, where: str, place: Place | None) -> float:
        """The speed of a start: as stated so far, else the recipe's, else the only one."""
        if self.speed is not None:
            return self.speed
        return default_speed(self.machine.spindle, self.default, where, place)

    def _word(self, speed: float) -> str:
        """The S that stands for a speed in this job."""
        return f"S{number_text(self.job.dialect.speed_number(speed))}"

    # --- switching ---------------------------------------------------------------------------

    def _switch_on(self, rows: Rows, way: str, speed: float, text: str, wait: float) -> None:
        """Start, or start anew: lines with the word and what is waited for."""
        spindle = self.machine.spindle
        if self.by_hand:
            rows.add(*notes(self.machine, *between_marks(spindle, speed)))
            rows.add(
                *pause_lines(self.machine, *asking_speed("spindle-on", spindle, speed)),
                asks="spindle-on",
            )
        elif text:
            if spindle.control == "relay":
                rows.add(*notes(self.machine, self._told(speed)))
                text = text.split()[0]
            rows.add(text)
        rows.add(*dwell_lines(self.job, spindle.run_up - wait))
        self.way, self.running = way, speed

    def _told(self, speed: float) -> str:
        mark = self.machine.spindle.nearest_mark(speed)
        return f"SPEED {mm(speed)}" + (f" DIAL {mark}" if mark else "")

    def _started(
        self,
        words: SpindleWords,
        stated: float | None,
        place: Place,
        ahead: Rows,
        behind: Rows,
    ) -> str:
        assert words.start is not None
        code = words.start.code
        way = "cw" if code == "M3" else "ccw"
        if way == "ccw" and not self.machine.spindle.reverse:
            what = "this line turns the spindle the other way (M4)"
            raise refusal("spindle-reverse", what, place=place)
        speed = self._speed_for("this line", place)
        if stated is None:
            stated = speed if self.speed is None else None
        self.speed = speed
        needs = not self.turns or self.way != way or self.running is None or speed > self.running
        line = words.line
        if self.by_hand:
            # the pause comes behind a tool change of the same line, and before its move
            if not self.turns or self.way != way:
                self._switch_on(behind if words.change is not None else ahead, way, speed, "", 0.0)
            else:
                self._dialled(ahead, speed)
            return line.without(*words.own)
        full = f"{code} {self._word(speed)}"
        if words.moves and needs:
            self._switch_on(ahead, way, speed, full, self.waits.get(line.index, 0.0))
            return line.without(*words.own)
        text = line.text
        if self.machine.spindle.control == "relay":
            if words.speed is not None:
                ahead.add(*notes(self.machine, self._told(speed)))
                text = line.without(words.speed)
        elif stated is not None and words.speed is None:
            text = line.rewritten({words.start: full})
        if needs:
            rest = self.machine.spindle.run_up - self._waited(line.index)
            behind.add(*dwell_lines(self.job, rest))
        self.way, self.running = way, speed
        return text

    def _stopped(self, words: SpindleWords, ahead: Rows, behind: Rows) -> str:
        assert words.stop is not None
        line, was = words.line, self.way
        self.way, self.running = "off", None
        if self.by_hand:
            if was != "off":
                ahead.add(*pause_lines(self.machine, *asking("spindle-off")), asks="spindle-off")
            return line.without(*words.own)
        if was != "off" and words.end is not None:
            # behind this line the program has ended and nothing waits: stop and wait before it
            ahead.add(words.stop.code, *dwell_lines(self.job, self.machine.spindle.run_down))
            return line.without(*words.own)
        if was != "off":
            waited = 0.0 if words.moves else self._waited(line.index)
            behind.add(*dwell_lines(self.job, self.machine.spindle.run_down - waited))
        if self.machine.spindle.control == "relay" and words.speed is not None:
            return line.without(words.speed)
        return line.text

    def _changed(self, words: SpindleWords, stated: float | None, ahead: Rows, behind: Rows) -> str:
        """A speed without a start."""
        assert words.speed is not None
        line = words.line
        if self.machine.spindle.control != "speed":
            if stated is not None and self.turns:
                if self.by_hand:
                    self._dialled(ahead, stated)
                elif stated != self.running:
                    ahead.add(*notes(self.machine, self._told(stated)))
                    self.running = stated
            return line.without(words.speed)
        if not self.turns or stated is None:
            return line.text
        faster = self.running is None or stated > self.running
        self.running = stated
        if not faster:
            return line.text
        run_up = self.machine.spindle.run_up
        if words.moves:
            ahead.add(self._word(stated))
            ahead.add(*dwell_lines(self.job, run_up - self.waits.get(line.index, 0.0)))
            return line.without(words.speed)
        behind.add(*dwell_lines(self.job, run_up - self._waited(line.index)))
        return line.text

    def _dialled(self, ahead: Rows, speed: float) -> None:
        """Ask for another setting of the dial, where it is another."""
        spindle = self.machine.spindle
        was = None if self.running is None else spindle.nearest_mark(self.running)
        mark = spindle.nearest_mark(speed)
        changes = speed != self.running if mark is None else mark != was
        if changes:
            ahead.add(*notes(self.machine, *between_marks(spindle, speed)))
            ahead.add(*pause_lines(self.machine, *asking_speed("spindle-set", spindle, speed)))
            ahead.add(*dwell_lines(self.job, spindle.run_up))
        self.running = speed

    def _stop_for_change(self, ahead: Rows) -> None:
        """A tool change stops the spindle (RS274/NGC 3.6.3): first, and waited for."""
        if self.turns:
            if self.by_hand:
                ahead.add(*pause_lines(self.machine, *asking("spindle-off")), asks="spindle-off")
            else:
                ahead.add("M5", *dwell_lines(self.job, self.machine.spindle.run_down))
        self.way, self.running = "off", None

    def _ended(self, words: SpindleWords, text: str, ahead: Rows, behind: Rows) -> str:
        """Ask for the switch before the end: behind the move that may stand on its line."""
        assert words.end is not None
        asked = pause_lines(self.machine, *asking("spindle-off"))
        self.way, self.running = "off", None
        if not words.moves:
            ahead.add(*asked, asks="spindle-off")
            return text
        behind.add(*asked, asks="spindle-off")
        behind.add(words.end.code)
        rest = Program.read(text.encode("utf-8", "replace"))[0]
        ends = [word for word in rest.words if word.code == words.end.code]
        return rest.without(*ends)

    def _waited(self, line: int) -> float:
        """Seconds that the job itself waits behind this line, before anything else happens."""
        program, total = self.job.program, self.waits.get(line, 0.0)
        for index in range(line + 1, min(line + _LONGEST_WAIT, len(program))):
            if any(word.letter in "MXYZABC" for word in program[index].words):
                break
            total += self.waits.get(index, 0.0)
        return total
