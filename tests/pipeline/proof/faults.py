"""Faults as a transform may make them, by class: each an edit that its contract does not declare.

A class gives edits of a job, or None where the job has no place for it. Whether what came out is
a fault at all is for `yardstick` to say, which is to say for the reference interpreter.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from reference.state import State

from headrace import Edit, Facet, after, before, delete, replace
from headrace.plugins import Contract
from headrace.program import Program

from .sources import Source, Word
from .yardstick import differs, dives

Edits = list[Edit] | None
Make = Callable[[random.Random, Source], Edits]

MOTIONS = ("G0", "G1", "G2", "G3")
PATH: frozenset[Facet] = frozenset()


@dataclass(frozen=True, slots=True)
class Fault:
    """A class of faults. `kept` are the facets that the contract does not declare, beside the
    path, which no contract here declares; `adds_motion` whether it lets added lines move."""

    name: str
    make: Make
    kept: frozenset[Facet] = PATH
    adds_motion: bool = False
    dive: bool = False

    @property
    def contract(self) -> Contract:
        """The most that may be declared without declaring the fault."""
        return Contract(frozenset(Facet) - self.kept, self.adds_motion)

    def view(self, source: Source, new: Program) -> str | None:
        """In which view the job does something else that is not declared, says the reference;
        None where it is no fault at all."""
        if self.dive:
            return "dive" if dives(source, new) else None
        views = frozenset({"path", *(facet.value for facet in self.kept)})
        return differs(source, new, views, own_only=self.adds_motion)


CUTTING_VIEWS = frozenset({"path", "feed", "spindle", "tool", "outputs"})
"""What the proof of the whole run must see as well: how the job's own moves go."""

FAULTS: list[Fault] = []


def fault(
    name: str, *kept: Facet, adds_motion: bool = False, dive: bool = False
) -> Callable[[Make], Make]:
    """A class of faults, put into the list of all."""

    def register(make: Make) -> Make:
        FAULTS.append(Fault(name, make, frozenset(kept), adds_motion, dive))
        return make

    return register


def _with(source: Source, at: int, word: Word, text: str) -> str:
    line = source.lines[at]
    return line[: word.start] + text + line[word.end :]


def _without(source: Source, at: int, *words: Word) -> str:
    line = source.lines[at]
    for word in sorted(words, key=lambda word: -word.start):
        line = line[: word.start] + line[word.end :]
    return line.strip()


def _nudged(rng: random.Random, text: str) -> str:
    """One more or one less in the last kept digit, the fourth decimal at the latest."""
    decimals = min(len(text.partition(".")[2]), 4)
    value = Decimal(text) + rng.choice((1, -1)) * Decimal(1).scaleb(-decimals)
    return f"{value:f}"


def _nudge(rng: random.Random, source: Source, *letters: str) -> Edits:
    places = source.having(*letters)
    if not places:
        return None
    at, word = rng.choice(places)
    return [replace(at, _with(source, at, word, word.letter + _nudged(rng, word.text)))]


def _exchange(rng: random.Random, source: Source, ways: dict[str, tuple[str, ...]]) -> Edits:
    """One code put in the place of another."""
    places = source.codes(*ways)
    if not places:
        return None
    at, word = rng.choice(places)
    return [replace(at, _with(source, at, word, rng.choice(ways[word.code])))]


def _drop_line(rng: random.Random, source: Source, *codes: str) -> Edits:
    places = source.codes(*codes)
    return [delete(rng.choice(places)[0])] if places else None


def _drop_word(rng: random.Random, source: Source, letter: str) -> Edits:
    places = source.having(letter)
    if not places:
        return None
    at, word = rng.choice(places)
    return [replace(at, _without(source, at, word))]


def _put(rng: random.Random, source: Source, *texts: str) -> Edits:
    """A line put in before a cut."""
    return [before(rng.choice(source.cutting), rng.choice(texts))] if source.cutting else None


def _cut(rng: random.Random, source: Source) -> int | None:
    """A line that cuts, behind the first one."""
    return rng.choice(source.cutting[1:]) if len(source.cutting) > 1 else None


@fault("an axis by its last digit")
def _axis(rng: random.Random, source: Source) -> Edits:
    return _nudge(rng, source, "X", "Y", "Z")


@fault("a sign that is lost or put in")
def _sign(rng: random.Random, source: Source) -> Edits:
    at, word = rng.choice(source.having("X", "Y", "Z", "I", "J"))
    text = word.text[1:] if word.text.startswith("-") else f"-{word.text}"
    return [replace(at, _with(source, at, word, word.letter + text))]


@fault("a decimal point that is lost")
def _point(rng: random.Random, source: Source) -> Edits:
    places = [(at, w) for at, w in source.having("X", "Y", "Z", "I", "J", "R") if "." in w.text]
    if not places:
        return None
    at, word = rng.choice(places)
    return [replace(at, _with(source, at, word, word.letter + word.text.replace(".", "")))]


@fault("one axis for another")
def _letter(rng: random.Random, source: Source) -> Edits:
    at, word = rng.choice(source.having("X", "Y", "Z"))
    free = {"X", "Y", "Z"} - {w.letter for w in source.words[at]}
    if not free:
        return None
    return [replace(at, _with(source, at, word, rng.choice(sorted(free)) + word.text))]


@fault("an axis word that is dropped")
def _axis_lost(rng: random.Random, source: Source) -> Edits:
    return _drop_word(rng, source, rng.choice("XYZ"))


@fault("a move that is dropped")
def _dropped(rng: random.Random, source: Source) -> Edits:
    return [delete(rng.choice(source.moving))]


@fault("a move that is doubled")
def _doubled(rng: random.Random, source: Source) -> Edits:
    at = rng.choice(source.moving)
    return [
        rng.choice((replace(at, source.lines[at], source.lines[at]), after(at, source.lines[at])))
    ]


@fault("two lines in the wrong order")
def _swapped(rng: random.Random, source: Source) -> Edits:
    at = rng.choice(source.moving)
    if at + 1 >= len(source.before):
        return None
    return [replace(at, source.lines[at + 1]), replace(at + 1, source.lines[at])]


@fault("a move that is put in")
def _added(rng: random.Random, source: Source) -> Edits:
    at = rng.choice(source.moving)
    text = f"G{rng.choice((0, 1))} {rng.choice('XYZ')}{rng.randint(-9, 99)}"
    if rng.random() < 0.5:
        return [replace(at, source.lines[at], text)]
    return [after(at, text)]


@fault("a cut for a rapid, a rapid for a cut")
def _rapid(rng: random.Random, source: Source) -> Edits:
    return _exchange(rng, source, {"G0": ("G1",), "G1": ("G0",)})


@fault("an arc for a line, a line for an arc")
def _straightened(rng: random.Random, source: Source) -> Edits:
    return _exchange(rng, source, {"G1": ("G2", "G3"), "G2": ("G1",), "G3": ("G1",)})


@fault("an arc that turns the other way")
def _side(rng: random.Random, source: Source) -> Edits:
    return _exchange(rng, source, {"G2": ("G3",), "G3": ("G2",)})


@fault("an arc's centre by its last digit")
def _centre(rng: random.Random, source: Source) -> Edits:
    return _nudge(rng, source, "I", "J", "K")


@fault("an arc's radius by its last digit")
def _radius(rng: random.Random, source: Source) -> Edits:
    return _nudge(rng, source, "R")


@fault("the sign of an arc's radius")
def _longer_way(rng: random.Random, source: Source) -> Edits:
    places = source.having("R")
    if not places:
        return None
    at, word = rng.choice(places)
    text = word.text[1:] if word.text.startswith("-") else f"-{word.text}"
    return [replace(at, _with(source, at, word, f"R{text}"))]


@fault("another plane")
def _plane(rng: random.Random, source: Source) -> Edits:
    if rng.random() < 0.3:
        return _exchange(rng, source, {"G17": ("G18", "G19"), "G18": ("G17",), "G19": ("G17",)})
    return _put(rng, source, "G17", "G18", "G19")


@fault("another unit")
def _unit(rng: random.Random, source: Source) -> Edits:
    return _exchange(rng, source, {"G20": ("G21",), "G21": ("G20",)})


@fault("a unit word put in")
def _unit_amid(rng: random.Random, source: Source) -> Edits:
    return _put(rng, source, "G20", "G21")


@fault("another distance mode")
def _distance(rng: random.Random, source: Source) -> Edits:
    if rng.random() < 0.4:
        return _exchange(rng, source, {"G90": ("G91",), "G91": ("G90",)})
    return _put(rng, source, "G90", "G91")


@fault("another mode of arc centres")
def _centre_mode(rng: random.Random, source: Source) -> Edits:
    return _put(rng, source, "G90.1", "G91.1")


@fault("a feed by its last digit", Facet.FEED)
def _feed(rng: random.Random, source: Source) -> Edits:
    return _nudge(rng, source, "F")


@fault("a feed that is dropped", Facet.FEED)
def _feed_lost(rng: random.Random, source: Source) -> Edits:
    return _drop_word(rng, source, "F")


@fault("a feed put in", Facet.FEED)
def _feed_added(rng: random.Random, source: Source) -> Edits:
    if rng.random() < 0.5:
        return _put(rng, source, f"F{rng.randint(1, 4000)}")
    at = rng.choice(source.moving)
    if any(word.letter == "F" for word in source.words[at]):
        return None
    return [replace(at, f"F{rng.randint(1, 4000)} {source.lines[at]}")]


@fault("inverse time", Facet.FEED)
def _inverse(rng: random.Random, source: Source) -> Edits:
    return _put(rng, source, "G93", "G93", "G94")


@fault("another speed", Facet.SPINDLE)
def _speed(rng: random.Random, source: Source) -> Edits:
    return rng.choice((_nudge(rng, source, "S"), _put(rng, source, f"S{rng.randint(1, 24000)}")))


@fault("a spindle that turns the other way", Facet.SPINDLE)
def _spindle_way(rng: random.Random, source: Source) -> Edits:
    return _exchange(rng, source, {"M3": ("M4",), "M4": ("M3",)})


@fault("a spindle stopped in the midst", Facet.SPINDLE)
def _spindle_stopped(rng: random.Random, source: Source) -> Edits:
    return _put(rng, source, "M5", "M05", "M4")


@fault("a spindle start that is dropped", Facet.SPINDLE)
def _spindle_lost(rng: random.Random, source: Source) -> Edits:
    return _drop_line(rng, source, "M3", "M4")


@fault("another tool", Facet.TOOL)
def _tool(rng: random.Random, source: Source) -> Edits:
    return _nudge(rng, source, "T")


@fault("a tool change that is dropped", Facet.TOOL)
def _tool_lost(rng: random.Random, source: Source) -> Edits:
    places = source.codes("M6")
    if not places:
        return None
    at, word = rng.choice(places)
    return [replace(at, _without(source, at, word))]


@fault("a tool change put in", Facet.TOOL)
def _tool_added(rng: random.Random, source: Source) -> Edits:
    return _put(rng, source, f"T{rng.randint(0, 20)} M6")


@fault("the outputs", Facet.OUTPUTS)
def _outputs(rng: random.Random, source: Source) -> Edits:
    if rng.random() < 0.5:
        return _put(rng, source, "M7", "M8", "M9")
    ways: dict[str, tuple[str, ...]] = {"M7": ("M8", "M9"), "M8": ("M7", "M9"), "M9": ("M8",)}
    return _exchange(rng, source, ways)


@fault("a zero that is shifted", Facet.WORK_ZERO)
def _shifted(rng: random.Random, source: Source) -> Edits:
    texts = (f"G92 {rng.choice('XYZ')}{rng.randint(-20, 20)}", f"G10 L2 P1 {rng.choice('XYZ')}7")
    return _put(rng, source, *texts)


@fault("a zero that is shifted, where only the zero may change")
def _shifted_amid(rng: random.Random, source: Source) -> Edits:
    if source.codes("G53", "G28", "G30"):
        return None  # places in machine coordinates hold whatever the zero is
    at, axis = rng.choice(source.cutting), rng.choice("XYZ")
    if not any(line < at for line, _ in source.having(axis)):
        return None  # a job that has not said where it is may be brought anywhere
    return [before(at, f"G92 {axis}{rng.randint(-20, 20)}")]


@fault("another work offset system", Facet.WORK_ZERO)
def _system(rng: random.Random, source: Source) -> Edits:
    at = rng.choice(source.cutting)
    return [before(at, f"G10 L2 P2 X{rng.randint(1, 9)}", "G55")]


@fault("two lines made one")
def _merged(rng: random.Random, source: Source) -> Edits:
    at = rng.choice(source.moving)
    if at + 1 not in source.moving or "(" in source.lines[at] or ";" in source.lines[at]:
        return None
    letters = {word.letter for word in source.words[at]}
    doubled = [word for word in source.words[at + 1] if word.letter in letters]
    return [replace(at, f"{source.lines[at]} {_without(source, at + 1, *doubled)}"), delete(at + 1)]


@fault("a tail that is missing", Facet.STOPS)
def _tail(rng: random.Random, source: Source) -> Edits:
    last = len(source.before)
    first = rng.randint(last // 2, last - 1)
    return [delete(at) for at in range(first, len(source.lines))]


@fault("an end in the midst")
def _end(rng: random.Random, source: Source) -> Edits:
    return _put(rng, source, "M30", "M2", "m02")


@fault("a pause that is dropped or another one", Facet.STOPS)
def _pause_lost(rng: random.Random, source: Source) -> Edits:
    if rng.random() < 0.5:
        return _drop_line(rng, source, "M0", "M1")
    return _exchange(rng, source, {"M0": ("M1",), "M1": ("M0",), "M30": ("M2",)})


@fault("a pause put in", Facet.STOPS)
def _pause_added(rng: random.Random, source: Source) -> Edits:
    return _put(rng, source, "M0", "M1", "M00")


@fault("a dwell that is another or dropped", Facet.DWELL)
def _dwell(rng: random.Random, source: Source) -> Edits:
    if rng.random() < 0.4:
        return _drop_line(rng, source, "G4")
    places = [(at, w) for at, w in source.having("P") if source.codes("G4")]
    if not places:
        return None
    at, word = rng.choice(places)
    return [replace(at, _with(source, at, word, f"P{_nudged(rng, word.text)}"))]


@fault("a dwell put in", Facet.DWELL)
def _dwell_added(rng: random.Random, source: Source) -> Edits:
    return _put(rng, source, f"G4 P{rng.randint(1, 9) / 10}")


@fault("overrides switched", Facet.FEED)
def _overrides(rng: random.Random, source: Source) -> Edits:
    return _put(rng, source, "M49", "M48")


@fault("another place before a cut, where added lines may move", adds_motion=True)
def _displaced(rng: random.Random, source: Source) -> Edits:
    at = _cut(rng, source)
    if at is None:
        return None
    axis = rng.choice("XYZ")
    return [before(at, f"G{rng.choice((0, 1))} {axis}{rng.randint(100, 900)}")]


@fault("a mode left behind, where added lines may move", adds_motion=True)
def _left_behind(rng: random.Random, source: Source) -> Edits:
    at = _cut(rng, source)
    texts = ("G53 G0 Z0", "G91", "G20", "G21", "G18", "G0 X5", "G1 X5", "G3 X5 I9", "G80")
    return None if at is None else [before(at, rng.choice(texts))]


@fault("an own line taken out and an equal one added", adds_motion=True)
def _replaced(rng: random.Random, source: Source) -> Edits:
    at = rng.choice(source.moving)
    return [delete(at), rng.choice((before, after))(at, source.lines[at])]


@fault("an own line moved, where added lines may move", adds_motion=True)
def _moved(rng: random.Random, source: Source) -> Edits:
    at = rng.choice(source.moving)
    other = rng.choice(source.moving)
    if at == other:
        return None
    if rng.random() < 0.5:
        return [delete(at), after(other, source.lines[at])]
    return [delete(at), replace(other, source.lines[other], source.lines[at])]


@fault("a word that a comment swallows")
def _swallowed(rng: random.Random, source: Source) -> Edits:
    at, word = rng.choice(source.having("X", "Y", "Z", "G", "I", "J", "R"))
    line = source.lines[at]
    if rng.random() < 0.5:
        return [replace(at, f"{line[: word.start]};{line[word.start :]}")]
    return [replace(at, _with(source, at, word, f"({line[word.start : word.end]})"))]


@fault("a rotary axis put in")
def _rotary(rng: random.Random, source: Source) -> Edits:
    at = rng.choice(source.cutting)
    state = source.before[at][0]
    assert isinstance(state, State)
    if state.distance == 91:
        return None  # an increment from a place that nothing has stated is nowhere
    text = f"{rng.choice('ABC')}{rng.randint(1, 90)} {source.lines[at]}"
    return [replace(at, text)]


@fault("a number of a cycle")
def _cycle(rng: random.Random, source: Source) -> Edits:
    places = source.codes("G81", "G82", "G83", "G85", "G86", "G89", "G98", "G99", "G80")
    if not places:
        return None
    at, word = rng.choice(places)
    others = [w for w in source.words[at] if w.letter in "RQZL"]
    if others and rng.random() < 0.6:
        other = rng.choice(others)
        return [replace(at, _with(source, at, other, other.letter + _nudged(rng, other.text)))]
    ways = {"G98": "G99", "G99": "G98", "G80": "G81", "G83": "G81"}
    return [replace(at, _with(source, at, word, ways.get(word.code, "G85")))]


@fault("a dive in the midst, where added lines may move", adds_motion=True, dive=True)
def _dive(rng: random.Random, source: Source) -> Edits:
    at = _cut(rng, source)
    if at is None or not any(word.code in MOTIONS for word in source.words[at]):
        return None
    state = source.before[at][0]
    assert isinstance(state, State)
    if state.distance != 90 or not state.feed:
        return None
    z = state.written(2, state.program[2])
    down, back = f"G{rng.choice((0, 1))} Z{z - rng.randint(1, 9):.6f}", f"Z{z:.6f}"
    return [before(at, *rng.choice(((down, back), (f"G0 Z{z + 5:.6f}", down, back))))]
