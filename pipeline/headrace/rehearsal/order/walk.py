"""The order of things: spindle, clip, cuts, pauses and hold-down, walked from event to event.

Only events are walked; the moves between two of them are asked for their first cut, and only as
long as that could find something wrong.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from math import inf

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language import Event, EventKind
from headrace.rehearsal.lengths import NEAR
from headrace.rehearsal.order.clip import clip_at_end, clip_at_probe, clip_at_start, lead
from headrace.rehearsal.order.course import Course, Cut
from headrace.rehearsal.order.holding import Wet, held, switched_off, switched_on, watered
from headrace.rehearsal.order.questions import asked_at
from headrace.rehearsal.order.standstill import standstill, standstill_at_halt
from headrace.rehearsal.order.watch import Watch, firsts, seconds_text


def walk_findings(job: Job, course: Course) -> Iterator[Finding]:
    """What comes in a wrong order; of each kind the first."""
    return firsts(_Walk(job, course).findings())


class _Walk:
    def __init__(self, job: Job, course: Course) -> None:
        self.watch = Watch.of(job, course)
        self.job = job
        self.course = course
        self.now = self.watch.now
        self.by_hand = self.watch.by_hand
        self.turns_nothing = job.machine.spindle.control == "none"
        self._wet: Wet = (False, False)
        self._told_at_rest = False
        self._asked = False  # whether some pause of the file tells what it asks for
        self._rules: dict[EventKind, Callable[[Event], Iterator[Finding]]] = {
            EventKind.DWELL: self._dwelt,
            EventKind.STOP: self._stopped,
            EventKind.OPTIONAL_STOP: self._stopped_perhaps,
            EventKind.ASKS: self._answered,
            EventKind.SPINDLE: self._switched,
            EventKind.TOOL: self._changed,
            EventKind.PROBE: self._probed,
            EventKind.COOLANT: self._watered,
            EventKind.OUTPUT: self._output,
            EventKind.OUTPUT_OFF: self._output_off,
            EventKind.END: self._ended,
        }

    def findings(self) -> Iterator[Finding]:
        moves = 0
        for event in self.job.trace.events:
            rule = self._rules.get(event.kind)
            if rule is not None:
                yield from self._moved(moves, event.moves)
                moves = event.moves
                yield from rule(event)
        yield from self._moved(moves, len(self.course))
        yield from self._left()

    # --- moves -------------------------------------------------------------------------------

    def _moved(self, first: int, last: int) -> Iterator[Finding]:
        """A stretch of moves between two events."""
        if first == last:
            return
        spindle = self.now.spindle
        at_speed = spindle.turns and spindle.settled
        quiet = at_speed or self._told_at_rest or self.turns_nothing
        cut = None if quiet else self.course.first_cut(first, last)
        if cut is not None and spindle.turns:
            yield from self._run_up(first, cut.move)
            spindle.waited = inf
        elif cut is not None:
            yield from self._cut_at_rest(cut)
        if not spindle.settled:
            described = self.job.machine.spindle
            enough = max(described.run_up, described.run_down) - spindle.waited
            spindle.waited += self.course.least_time(first, last, enough)
        yield from held(self.watch, first, last)

    def _run_up(self, first: int, move: int) -> Iterator[Finding]:
        """The first cut behind a start."""
        run_up, waited = self.job.machine.spindle.run_up, self.now.spindle.waited
        waited += self.course.least_time(first, move, run_up - waited)
        if waited < run_up - NEAR:
            what = (
                f"the first cut comes {seconds_text(waited)} s behind the start of the spindle,"
                f" which takes {seconds_text(run_up)} s to come to speed"
            )
            remedy = f"wait {seconds_text(run_up)} s behind the start: {self.watch.dwell(run_up)}"
            yield Finding.of("cut-before-speed", what, self.course.place(move), remedy=remedy)

    def _cut_at_rest(self, cut: Cut) -> Iterator[Finding]:
        """A cut with a spindle that stands still, or that nothing has started."""
        spindle, place = self.now.spindle, self.course.place(cut.move)
        paused = spindle.paused or self.now.halt is not None
        if spindle.at_rest and not (self.by_hand and spindle.paused):
            move = "a cut" if cut.certain else "a move at feed, at a height that is not known,"
            yield Finding.of("cut-at-rest", f"{move} while the spindle stands", place,
                             severity=None if cut.certain else Severity.WARN)  # fmt: skip
        elif self.by_hand and paused:
            what = "a cut, and only a pause of unknown purpose may have asked for the spindle"
            weight = Severity.WARN if self._asked else Severity.NOTE
            yield Finding.of("spindle-missing", what, place, severity=weight,
                             remedy="see that the pause before it asks to switch the spindle on"
                             )  # fmt: skip
        else:
            nobody = "nobody has been asked to switch the spindle on"
            why = nobody if self.by_hand else "nothing in the file has started the spindle"
            start = "a pause that asks to switch it on" if self.by_hand else "M3 and a dwell"
            yield Finding.of("spindle-missing", f"a cut, and {why}", place, severity=Severity.WARN,
                             remedy=f"put {start} before it, or add the step `spindle`"
                             )  # fmt: skip
        if self.by_hand:
            yield from clip_at_start(self.watch, self.course.line(cut.move))
            spindle.shown("cw")
        else:
            self._told_at_rest = True

    # --- events ------------------------------------------------------------------------------

    def _dwelt(self, event: Event) -> Iterator[Finding]:
        self.now.spindle.waited += float(str(event.value))
        yield from ()

    def _stopped(self, event: Event) -> Iterator[Finding]:
        """A pause. What one with a label asks for follows; another may ask for anything."""
        if self.job.program[event.line].asks is not None:
            return
        asked = asked_at(self.job, event.line)
        if asked is not None:
            yield from self._answered(replace(event, value=asked))
            return
        yield from self._waits(event, "the machine waits")
        yield from lead(self.watch, event.moves)
        self.now.halted(event.line, event.moves)

    def _stopped_perhaps(self, event: Event) -> Iterator[Finding]:
        """M1 waits only where its switch is on: it settles nothing, unless it is the pause word."""
        if 1 in self.job.dialect.stops:
            yield from self._stopped(event)
        else:
            yield from self._waits(event, "the machine may wait")

    def _waits(self, event: Event, what: str) -> Iterator[Finding]:
        """Somebody may do anything while the machine waits, and near a bit that turns."""
        deep = self.course.depth(event.moves) is not None
        yield from self.watch.in_work(event.moves, event.line, what)
        if self.watch.turns and not deep:
            told = f"{what} while the spindle turns"
            yield Finding.of("paused-while-turning", told, self.watch.place(event.line),
                             remedy=f"put {self.watch.stop()} before it, or the pause before the"
                             " start of the spindle")  # fmt: skip

    def _answered(self, event: Event) -> Iterator[Finding]:
        """The operator went on after being asked."""
        self._asked = True
        topic, _, answer = str(event.value).rpartition("-")
        if topic == "spindle":
            do = (
                "set the speed of the spindle"
                if answer == "set"
                else f"switch the spindle {answer}"
            )
            what = f"somebody is asked to {do}"
            yield from self.watch.in_work(event.moves, event.line, what, Severity.REFUSE)
            if answer == "on":
                yield from clip_at_start(self.watch, event.line)
            if answer != "set":
                self.now.spindle.answered("cw" if answer == "on" else "off")
                self._told_at_rest = False
        elif topic == "clip":
            if answer == "on":
                yield from standstill(self.watch, event.line, "somebody is asked for the clip")
            else:
                yield from lead(self.watch, event.moves)
            self.now.clip.answered(answer == "on", event.moves)

    def _switched(self, event: Event) -> Iterator[Finding]:
        """M3, M4 or M5: nothing where a hand switches the spindle."""
        spindle, way = self.now.spindle, str(event.value)
        if self.by_hand or way == spindle.way:
            return
        if self.turns_nothing:
            what = "this line starts a spindle, and the machine has none"
            yield Finding.of("no-spindle", what, self.watch.place(event.line))
            return
        if way != "off":
            yield from self.watch.in_work(event.moves, event.line, "the spindle is started")
            yield from clip_at_start(self.watch, event.line)
        elif spindle.turns:
            yield from self.watch.in_work(event.moves, event.line, "the spindle is stopped")
        spindle.switched(way)
        self._told_at_rest = False

    def _changed(self, event: Event) -> Iterator[Finding]:
        """A tool change: by a hand, unless there is a changer. The word stops the spindle."""
        if self.job.machine.heads:
            what = "the heads change places"
            yield from standstill(self.watch, event.line, what)
        elif self.job.machine.tool_change == "by-hand":
            what = "somebody is to change the tool"
            yield from standstill(self.watch, event.line, what, certain=True)
        if not self.by_hand and self.now.spindle.turns:
            self.now.spindle.switched("off")
            self._told_at_rest = False

    def _probed(self, event: Event) -> Iterator[Finding]:
        clip, halt = self.now.clip, self.now.halt
        yield from clip_at_probe(self.watch, event)
        since = event.moves - 1
        if halt is not None and not clip.surely_on:
            since = halt.moves
            yield from standstill_at_halt(self.watch)
        yield from standstill(self.watch, event.line, "a probe comes")
        clip.probed(since)
        if self.by_hand:
            self.now.spindle.shown("off")

    def _watered(self, event: Event) -> Iterator[Finding]:
        before, value = self._wet, event.value
        if isinstance(value, tuple):
            self._wet = (bool(value[0]), bool(value[1]))
        yield from watered(self.watch, event.line, before, self._wet)

    def _output(self, event: Event) -> Iterator[Finding]:
        switched_on(self.watch, event.value)
        yield from ()

    def _output_off(self, event: Event) -> Iterator[Finding]:
        yield from switched_off(self.watch, event.line, event.value)

    def _ended(self, event: Event) -> Iterator[Finding]:
        """M2 and M30 stop the spindle, switch mist and flood off, and nothing waits (3.6.1)."""
        yield from watered(self.watch, event.line, self._wet, (False, False))
        if not self.by_hand:
            self.now.spindle.switched("off")

    def _left(self) -> Iterator[Finding]:
        """How the file leaves the machine."""
        if not len(self.job.program):
            return
        ended, moves = self.job.trace.ended_at, len(self.course)
        line = len(self.job.program) - 1 if ended is None else ended
        yield from self.watch.in_work(moves, line, "the file ends")
        yield from clip_at_end(self.watch, moves, line)
        if self.watch.turns:
            by_hand = ", and nobody is asked to switch it off" if self.by_hand else ""
            what = f"the file ends while the spindle turns{by_hand}"
            yield Finding.of("spindle-left-on", what, self.watch.place(line))
