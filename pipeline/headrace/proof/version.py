"""A program before or after a step, and what is wrong between the two."""

from __future__ import annotations

from dataclasses import dataclass, replace

from headrace.findings import Place
from headrace.language import Trace
from headrace.program import Program


@dataclass(frozen=True, slots=True)
class Breach:
    """What was changed; the line as it was, and the line as it is now."""

    what: str
    was: Place | None = None
    now: Place | None = None

    @property
    def place(self) -> Place | None:
        """Where to look first: the line as it was."""
        return self.was or self.now

    def __str__(self) -> str:
        both = self.was is not None and self.now is not None and self.was != self.now
        if not both or self.now is None:
            return self.what
        return f"{self.what}; the line is now `{self.now.excerpt.strip()}`"


@dataclass(frozen=True, slots=True)
class Version:
    """A program and what it does."""

    program: Program
    trace: Trace

    def place(self, line: int) -> Place:
        """The whole of a line; of one of the job's own, by its number in the job."""
        view = self.program[line]
        place = self.program.place(line)
        return place if view.origin is None else replace(place, line=view.origin + 1)
