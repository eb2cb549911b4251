"""What a transform is given: the program so far, what it does, and what it is for."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from headrace.landmarks import Landmarks
from headrace.language import Dialect, State, Trace, interpret
from headrace.machine import Machine, Setup
from headrace.program import Program


@dataclass(frozen=True)
class Job:
    """A program on its way to the card, on a described machine with a set-up.

    `start` is the state that the machine is in when the program begins. `stand_alone` tells that
    there is no job of CAM's: the steps make a card file by themselves, or any file is looked at
    alone, without steps.
    """

    program: Program
    machine: Machine
    setup: Setup
    dialect: Dialect
    start: State
    stand_alone: bool = False

    @cached_property
    def trace(self) -> Trace:
        """What the program does."""
        return interpret(self.program, self.dialect, self.start)

    @cached_property
    def landmarks(self) -> Landmarks:
        """The named places of the program."""
        return Landmarks.of(self.program, self.trace)

    def state_at(self, line: int) -> State:
        """The state before `line` is executed."""
        return interpret(self.program, self.dialect, self.start, before_line=line).end

    def with_program(self, program: Program) -> Job:
        """The same job with another program."""
        return Job(program, self.machine, self.setup, self.dialect, self.start, self.stand_alone)
