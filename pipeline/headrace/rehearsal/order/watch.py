"""What the rules of order look at while a job is walked from event to event."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from headrace.findings import Finding, Place, Severity
from headrace.job import Job
from headrace.program import number_text
from headrace.rehearsal.lengths import mm
from headrace.rehearsal.order.course import Course
from headrace.rehearsal.order.situation import Situation, Spindle


@dataclass(frozen=True, slots=True)
class Watch:
    """A job, its moves, and how things stand at the moment."""

    job: Job
    course: Course
    now: Situation

    @classmethod
    def of(cls, job: Job, course: Course) -> Watch:
        """At the beginning of a job. What a hand switches is known only where it was asked for."""
        asked = job.start.confirmed
        by_hand = job.machine.spindle.control == "by-hand"
        known = not by_hand or "spindle-on" in asked or "spindle-off" in asked
        way = job.start.spindle if known else None
        if job.machine.spindle.control == "none":
            way = "off"
        watch = cls(job, course, Situation(Spindle(way)))
        if "clip-on" in asked:
            watch.now.clip.answered(True, 0)
        return watch

    @property
    def by_hand(self) -> bool:
        """Whether a hand switches the spindle, so that no word does."""
        return self.job.machine.spindle.control == "by-hand"

    @property
    def turns(self) -> bool:
        """Whether the spindle certainly turns."""
        return self.now.spindle.turns and not (self.by_hand and self.now.spindle.paused)

    def place(self, line: int) -> Place:
        return self.job.program.place(line)

    def dwell(self, seconds: float) -> str:
        """The word that waits for so many seconds."""
        return f"G4 P{number_text(seconds / self.job.dialect.dwell_unit, 3)}"

    def stop(self) -> str:
        """What to put before something that needs a spindle at rest."""
        if self.by_hand:
            return "a pause that asks to switch the spindle off"
        return f"M5 and {self.dwell(self.job.machine.spindle.run_down)}"

    def in_work(
        self, moves: int, line: int, what: str, severity: Severity | None = None
    ) -> Iterator[Finding]:
        """Something that is done after so many moves, while the tip is in the sheet."""
        depth = self.course.depth(moves)
        if depth is not None:
            told = f"{what} while the tip is {mm(depth)} mm in the sheet"
            yield Finding.of("halted-in-work", told, self.place(line), severity=severity)


def firsts(findings: Iterator[Finding]) -> Iterator[Finding]:
    """The first finding of each kind; of what cannot be told, the first for each remedy."""
    told: set[tuple[str, str]] = set()
    for finding in findings:
        key = (finding.name, finding.remedy if finding.name == "cannot-tell" else "")
        if key not in told:
            told.add(key)
            yield finding


def seconds_text(seconds: float) -> str:
    """A time as findings tell it."""
    return number_text(seconds, 1)
