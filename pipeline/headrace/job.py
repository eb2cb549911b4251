"""What a transform is given: the program so far, what it does, and what it is for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from headrace.landmarks import Landmarks
from headrace.language import Dialect, State, Trace, WorkedOut, interpret
from headrace.machine import Machine, Setup
from headrace.program import Program


@dataclass(frozen=True)
class Job:
    """A program on its way to the card, on a described machine with a set-up.

    `start` is the state that the machine is in when the program begins. `stand_alone` tells that
    there is no job of CAM's: the steps make a card file by themselves, or any file is looked at
    alone, without steps. `opening` are the identities of lines that bring about what lines of the
    job did that went to another card file.
    """

    program: Program
    machine: Machine
    setup: Setup
    dialect: Dialect
    start: State
    stand_alone: bool = False
    opening: range = range(0)

    @cached_property
    def trace(self) -> Trace:
        """What the program does."""
        return interpret(self.program, self.dialect, self.start)

    @cached_property
    def landmarks(self) -> Landmarks:
        """The named places of the program."""
        return Landmarks.of(self.program, self.trace, self.opening)

    @cached_property
    def worked_out(self) -> tuple[WorkedOut, ...]:
        """What the lines with parameters or expressions come to, in the order of running."""
        found: list[WorkedOut] = []
        interpret(self.program, self.dialect, self.start, worked_out=found)
        return tuple(found)

    def state_at(self, line: int) -> State:
        """The state before `line` is executed."""
        return interpret(self.program, self.dialect, self.start, before_line=line).end

    def with_program(self, program: Program, dialect: Dialect | None = None) -> Job:
        """The same job with another program, which may be in another dialect."""
        if dialect is None or dialect == self.dialect:
            return replace(self, program=program)
        start = self.start.copy()
        start.absolute_centres = dialect.absolute_centres
        return replace(self, program=program, dialect=dialect, start=start)
