"""Lines of a test file in the words that a machine reads, as far as it is described.

Lengths in mm, feeds in mm/min. Moves count from where the head stands (G91), so that no work zero
and no wrong answer about shown numbers leads them elsewhere.
"""

from __future__ import annotations

from textwrap import wrap
from typing import Any

from headrace.interview.draft import Draft
from headrace.interview.question import at
from headrace.machine import Comments
from headrace.program import number_text
from headrace.recipe.node import Path as Way

SLOW = 300
"""The feed of all moves to the side; mm/min."""
SHORT_LINE = 72
"""No line is longer, whatever the machine reads."""
STEP, STEPS = 1.0, 2.0
"""One step, and both of those with which an axis begins; mm."""
MODES = ("G21", "G17", "G90", "G94")
"""Each on a line of its own: where one of them is not read, the others still count."""


class Words:
    """What a draft says of the language of its machine; fields with a default have it."""

    def __init__(self, draft: Draft) -> None:
        self.stops: list[str] = []
        """What the pauses say, in the order in which they were written."""
        self._draft = draft
        self._comments = Comments(str(draft.value(at("comments"))))
        self._pause = str(draft.value(at("pause.word")))
        self._text = draft.value(at("pause.text"))
        self._point = draft.value(at("decimal-point")) == "required"

    # --- whole files ---

    def program(self, notes: list[str], body: list[str]) -> bytes:
        """A file: frame, notes, modes, the lines, end."""
        lines = [*self.notes(*notes), *MODES, *body, str(self._said("end", "M30"))]
        if self._said("line.numbers", "optional") == "required":
            lines = self._numbered(lines)
        if self._said("percent", False):
            lines = ["%", *lines, "%"]
        end = {"LF": "\n", "CRLF": "\r\n"}[str(self._said("line.end", "LF"))]
        return "".join(line + end for line in lines).encode("ascii")

    def _numbered(self, lines: list[str]) -> list[str]:
        return [
            line if line.startswith(("(", ";")) else f"N{10 * number} {line}"
            for number, line in enumerate(lines, 1)
        ]

    # --- telling and waiting ---

    def notes(self, *texts: str) -> list[str]:
        """Comment lines, none where the machine reads none."""
        return [
            line
            for text in texts
            for part in wrap(text, self._width())
            for line in self._note(part)
        ]

    def notes_exactly(self, text: str) -> list[str]:
        """One comment line, however wide the display is."""
        return self._note(text)

    def pause(self, text: str) -> list[str]:
        """A pause with its text where the display shows it; before it where that is not known."""
        if self._text == "same-line":
            return self.pause_behind(text)
        return [*self._note(text), *self.bare_pause(text)]

    def pause_behind(self, text: str) -> list[str]:
        """A pause with its text on the same line."""
        self.stops.append(text)
        return [" ".join([self._pause, *self._note(text)])]

    def bare_pause(self, text: str) -> list[str]:
        """A pause alone on its line, which is called so in the list of stops."""
        self.stops.append(text)
        return [self._pause]

    def _note(self, text: str) -> list[str]:
        """One comment line; none where the machine reads none."""
        note = self._comments.written(text)
        return [note] if note else []

    def _width(self) -> int:
        """How many characters of a note fit: into a line, and onto a display that shows it."""
        most: int = min(SHORT_LINE, self._said("line.length", 80)) - 2
        shown = self._draft.value(at("pause.width"))
        return min(most, int(shown)) if self._text == "before" and shown else most

    # --- moving ---

    def home(self, *axes: str) -> list[str]:
        """Homing of these axes, one after the other, each behind a pause; of all at once where the
        word homes all; a pause that asks for it where that is done at the panel."""
        if self._draft.value(at("homing.by")) == "by-hand":
            return [*self.pause("HOME AT THE PANEL"), *self.pause("IS IT HOMED? OR STOP")]
        word = str(self._draft.value(at("homing.word")))
        if self._draft.value(at("homing.axes")) == "all":
            return [*self.pause("ALL AXES HOME NEXT"), word]
        lines = []
        for axis in axes:
            told = "Z GOES UP NEXT" if axis == "Z" else f"{axis} HOMES NEXT"
            lines += [*self.pause(told), "G91", f"{word} {axis}0", "G90"]
        return lines

    def home_by_way(self, axis: str, way: float) -> list[str]:
        """Homing of one axis with a number on its line that lies `way` away from here."""
        return ["G91", f"{self._draft.value(at('homing.word'))} {axis}{self._number(way)}", "G90"]

    def zeroed(self, *axes: str) -> list[str]:
        """Homed axes told the number that they show anyhow, where G92 is the word for that."""
        if not self.shifts:
            return []
        numbers = " ".join(f"{axis}{self._number(self.homed(axis))}" for axis in axes)
        return [f"G92 {numbers}"]

    def shift(self, axis: str, number: float) -> list[str]:
        """The place where an axis stands given another number, without motion; and a pause that
        asks whether it is shown now."""
        asked = f"{number_text(number, 3)} AT {axis}? OR STOP"
        return [f"G92 {axis}{self._number(number)}", *self.pause(asked)]

    def feed(self, axis: str, way: float, feed: float = SLOW) -> list[str]:
        """A slow move along one axis, from where it stands; never faster than the axis may go."""
        most = self._axis(axis, "feed")
        number = self._number(feed if most is None else min(feed, most))
        return ["G91", f"G1 {axis}{self._number(way)} F{number}", "G90"]

    def feed_away(self, axis: str, way: float) -> list[str]:
        """A slow move away from the switch, which begins with two steps."""
        side = self.away(axis)
        return [
            *self.steps(axis, side, f"1 MM {axis} AWAY? OR STOP"),
            *self.feed(axis, side * (way - STEPS)),
        ]

    def steps(self, axis: str, side: int, asked: str) -> list[str]:
        """Two steps of 1 mm, and behind each a pause that asks for it. A wrong end of homing and a
        wrong unit show in the first one. A machine that passes over G91 shows in one of the two: it
        goes to the number, from elsewhere at first, and not at all when it is there."""
        one = self.feed(axis, side * STEP, 60)
        return [*one, *self.pause(asked), *one, *self.pause("1 MM MORE? OR STOP")]

    def together(self, word: str, **ways: float) -> list[str]:
        """A move of several axes from where the head stands: `G0`, or `G1` slowly."""
        words = " ".join(f"{axis}{self._number(way)}" for axis, way in ways.items())
        slow = f" F{self._number(SLOW)}" if word == "G1" else ""
        return ["G91", f"{word} {words}{slow}", "G90"]

    def probe_down(self, way: float, feed: float) -> list[str]:
        """A probe so far down from where Z stands."""
        return ["G91", self._probe(-way, feed), "G90"]

    def probe_to(self, number: float, feed: float) -> list[str]:
        """A probe to a number of Z, as shown."""
        return [self._probe(number, feed)]

    def _probe(self, aim: float, feed: float) -> str:
        word = self._said("probe.word", "G38.2")
        return f"{word} Z{self._number(aim)} F{self._number(feed)}"

    def dwell(self, count: float) -> list[str]:
        """A dwell with this number behind P."""
        return [f"G4 P{self._number(count)}"]

    # --- what is described ---

    @property
    def lowest_target(self) -> float | None:
        """The least number that a probe may aim at; None where that is not described."""
        value = self._draft.value(at("probe.lowest-target"))
        return None if value is None else float(value)

    @property
    def shifts(self) -> bool:
        """Whether G92 gives places other numbers."""
        return bool(self._draft.value(at("work-zero.word")) == "G92")

    def away(self, axis: str) -> int:
        """1 where an axis goes away from its switch with rising numbers, else -1."""
        return 1 if self._axis(axis, "home-end") == "low" else -1

    def homed(self, axis: str) -> float:
        """The number that an axis shows when homing is done."""
        return float(self._axis(axis, "homed-number"))

    def far_end(self, axis: str) -> float:
        """The number at the end of travel that is away from the switch."""
        low, high = self._axis(axis, "travel")
        return float(high if self.away(axis) > 0 else low)

    def _axis(self, axis: str, key: str) -> Any:
        return self._draft.value(("axes", axis.lower(), key))

    def _said(self, dotted: str, usual: Any) -> Any:
        path: Way = at(dotted)
        value = self._draft.value(path)
        return usual if value is None else value

    def _number(self, value: float) -> str:
        text = number_text(value, 3)
        return f"{text}." if self._point and "." not in text else text
