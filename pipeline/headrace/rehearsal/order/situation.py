"""How things stand between two moves: the clip, the spindle and what holds the sheet.

A state is what words and answered questions make certain. A pause without a label may have asked
for anything, so behind it some states are only what they were last; and what would be absurd
otherwise is taken for true: at a probe the clip is on, at a cut the spindle turns. The touch plate
goes with the clip.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf


@dataclass(slots=True)
class Clip:
    """The clip: on, off or never spoken of (None). `asked` tells that it is an operator's answer,
    `paused` that a pause of unknown purpose came since; `since` is the number of the move from
    which on it is certainly on."""

    on: bool | None = None
    asked: bool = False
    paused: bool = False
    since: int = 0

    @property
    def surely_on(self) -> bool:
        return self.on is True and not self.paused

    @property
    def surely_off(self) -> bool:
        return self.on is False and not self.paused

    def answered(self, on: bool, moves: int) -> None:
        """The operator was asked for it, and went on."""
        self.on, self.asked, self.paused, self.since = on, True, False, moves

    def probed(self, since: int) -> None:
        """A probe has shown that it is on."""
        if not self.surely_on:
            self.on, self.asked, self.paused, self.since = True, False, False, since


@dataclass(slots=True)
class Spindle:
    """The spindle: `cw`, `ccw`, `off` or not known (None).

    `waited` are the seconds since it was switched, at least: infinite where it has settled.
    `asked` and `paused` are as for the clip, and concern one that a hand switches. `turned` tells
    that it has turned in this file.
    """

    way: str | None
    waited: float = inf
    asked: bool = False
    paused: bool = False
    turned: bool = False

    @property
    def turns(self) -> bool:
        return self.way in ("cw", "ccw")

    @property
    def at_rest(self) -> bool:
        return self.way == "off"

    @property
    def settled(self) -> bool:
        return self.waited == inf

    def switched(self, way: str) -> None:
        """By a word: turns up or down from now on."""
        if way != self.way:
            self.way, self.waited = way, 0.0
        self.turned = self.turned or self.turns

    def answered(self, way: str) -> None:
        """By hand, as asked. Who is asked to switch it off waits until it stands."""
        self.way, self.asked, self.paused = way, True, False
        self.waited = 0.0 if self.turns else inf
        self.turned = self.turned or self.turns

    def shown(self, way: str) -> None:
        """By hand, as the program shows by what it does."""
        if self.way != way or self.paused:
            self.way, self.asked, self.paused, self.waited = way, False, False, inf
        self.turned = self.turned or self.turns


@dataclass(frozen=True, slots=True)
class Halt:
    """A pause of unknown purpose: its line, the moves before it, and the spindle at it."""

    line: int
    moves: int
    turns: bool
    waited: float


@dataclass(slots=True)
class Situation:
    """All of it. `held` tells whether the hold-down is on; None where no word has said."""

    spindle: Spindle
    clip: Clip = field(default_factory=Clip)
    held: bool | None = None
    halt: Halt | None = None

    def halted(self, line: int, moves: int) -> None:
        """A pause of unknown purpose."""
        spindle = self.spindle
        self.halt = Halt(line, moves, spindle.turns, spindle.waited)
        self.clip.paused = True
        spindle.paused = True
