"""Following a program line by line: where it goes, and under what conditions."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

from headrace.proof.second.bare import Words, words_of
from headrace.proof.second.bodies import HEADING, Bodies
from headrace.proof.second.drilling import CYCLES, Hole, drilled
from headrace.proof.second.values import Unknown, worked_out

NAN = float("nan")
_NUMBER = re.compile(rb"[-+0-9.]*")
_WELL_FORMED = re.compile(rb"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")
LETTERS = (b"X", b"Y", b"Z", b"A", b"B", b"C")
_AXES = {letter: axis for axis, letter in enumerate(LETTERS)}
PLANES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}
_CENTRES = (b"I", b"J", b"K")
FULL = 1e-6
"""Ends nearer than this to the start (mm) make an arc a full circle."""
RAPID, LINE, CW, CCW, PROBE, HOME = range(6)
SHORT = 0.01
"""By more than this (mm) a radius may not fall short of half the chord: there is no such arc."""
_MOST_HOLES = 10_000
"""Cycles that drill or peck more often are not followed."""
_FIT = re.compile(r"tool-([0-9]+)")
_DEEPEST = 9
"""Calls from within calls that are deeper are not followed."""
_PARAMETERS = 5000
"""Parameters below this are the program's own."""

Place = list[float]


class Conditions(NamedTuple):
    """What holds for a while: spindle, outputs, tool and the index of its length, work offset
    system, meaning of the feed."""

    spindle: str | None = None
    speed: float | None = None
    mist: bool = False
    flood: bool = False
    outputs: tuple[tuple[int, bool], ...] = ()
    tool: int | None = None
    system: int = 1
    inverse_time: bool = False
    incremental: bool = False
    length: int | None = None

    def in_system(self, system: int) -> Conditions:
        """The same in another work offset system."""
        return self._replace(system=system)

    def by_the_minute(self) -> Conditions:
        """The same where F is a feed."""
        return self._replace(inverse_time=False)


class Move(NamedTuple):
    """One move: mm, degrees, mm/min; NaN for unknown. `placed` are axes sent to a place in machine
    coordinates; `arc` is centre, turn (rad) and plane; `by` are increments along the axes that are
    named, where they are increments, so that they are known from an unknown place, too."""

    line: int
    kind: int
    start: tuple[float, ...]
    end: tuple[float, ...]
    feed: float
    placed: tuple[float, ...]
    arc: tuple[float, float, float, float] | None
    conditions: Conditions
    by: tuple[float, ...] | None = None


def cuts(move: Move) -> bool:
    """Whether a move may cut: an arc, or straight at feed and not straight up."""
    rises = move.start[2] <= move.end[2]
    ways = zip(move.start[:2], move.end[:2], strict=True)
    stays = all(was == now or (math.isnan(was) and math.isnan(now)) for was, now in ways)
    return move.kind in (CW, CCW) or (move.kind == LINE and not (rises and stays))


class Dialect(NamedTuple):
    """What a program's language has otherwise than the standard: M codes of outputs, and such that
    switch some of these off (`off`), outputs that lower a head with the tool in it (`heads`), the
    code (times ten) that runs to the homing switches, centres of arcs that are places, lines with a
    slash that are left out, pairs of an S and its speed, and an F of helices that counts along what
    is seen of them in the plane."""

    outputs: Mapping[int, str]
    homing: int | None = None
    absolute_centres: bool = False
    block_delete: bool = False
    speeds: tuple[tuple[float, float], ...] = ()
    projected_feed: bool = False
    off: Mapping[int, tuple[int, ...]] = MappingProxyType({})
    heads: Mapping[int, int] = MappingProxyType({})

    def speed(self, number: float) -> float:
        """The speed that an S stands for: on a straight line between the pairs around it."""
        pairs = self.speeds
        if not pairs:
            return number
        upper = next((at for at, pair in enumerate(pairs) if pair[0] > number), len(pairs))
        upper = max(1, min(upper, len(pairs) - 1))
        low, high = pairs[upper - 1], pairs[upper]
        share = (number - low[0]) / (high[0] - low[0])
        return low[1] * (1 - share) + high[1] * share


class Follower:
    """A state that is led from line to line. `moves` are those since they were last taken."""

    def __init__(
        self,
        inch: bool,
        dialect: Dialect,
        bodies: Bodies | None = None,
        tool: int | None = None,
    ) -> None:
        self.dialect = dialect
        self.bodies: Bodies = bodies or {}
        self.inside: int | None = None
        self.deep: int = 0
        self.parameters: dict[int, float] = {}
        self.at: Place = [NAN] * 6
        self.placed: Place = [NAN] * 6
        self.code: int | None = None
        self.plane: int = 17
        self.inch: bool = inch
        self.incremental: bool = False
        self.absolute_centres: bool = dialect.absolute_centres
        self.feed: float = NAN
        self.selected: int | None = None
        self.to_r: bool = False
        self.hole: Hole = Hole()
        self.first_tool = tool
        self.conditions: Conditions = Conditions(tool=tool)
        self.moves: list[Move] = []
        self.begun: bool = False
        self.framed: bool = False
        self.ended: bool = False
        self.unread: set[int] = set()

    @property
    def modes(self) -> tuple[object, ...]:
        """All but numbers that a plain move depends on."""
        return (self.code, self.plane, self.inch, self.incremental, self.absolute_centres,
                self.conditions.inverse_time, self.ended, self.dialect.projected_feed)  # fmt: skip

    @property
    def factor(self) -> float:
        return 25.4 if self.inch else 1.0

    def take(self) -> list[Move]:
        """The moves since the last call."""
        moves, self.moves = self.moves, []
        return moves

    def line(self, number: int, line: bytes) -> None:
        """Follow one bare line."""
        if self.ended or line == b"\n":
            return
        if line.startswith(b"%"):
            self.ended = self.framed or self.begun
            self.framed = True
            return
        self.begun = True
        if self.dialect.block_delete and line.startswith(b"/"):
            return
        heading = HEADING.fullmatch(line.lstrip(b"/"))
        if heading is not None or self.inside is not None:
            self._subprogram(number, heading)
            return
        try:
            if b"#" in line or b"[" in line:
                line = worked_out(line, self.parameters)
        except Unknown:
            if b"=" in line:
                self.parameters = dict.fromkeys(range(_PARAMETERS), NAN)
        words, whole = words_of(line)
        if not whole:
            self._close(number, words)
            return
        self._do(number, words)

    def _subprogram(self, number: int, heading: re.Match[bytes] | None) -> None:
        """An O word, or a line within a definition, which does nothing by itself."""
        if heading is None:
            return
        if heading[2] == b"SUB":
            self.inside = int(heading[1])
        elif heading[2] == b"ENDSUB":
            self.inside = None
        elif heading[2] == b"CALL" and self.inside is None:
            self._call(number, int(heading[1]), 1)

    def _call(self, number: int, body: int, count: int) -> None:
        """Everything that a subprogram does, at the line that calls it."""
        if body not in self.bodies or self.deep > _DEEPEST:
            self._close(number, [])
            return
        self.deep += 1
        for _ in range(count):
            for line in self.bodies[body]:
                self.line(number, line)
        self.deep -= 1

    def _close(self, number: int, words: Words) -> None:
        """A line that cannot be followed: whatever it may have changed is unknown."""
        self.unread.add(number)
        modes = [word for word in words if word[0] in (b"G", b"M", b"S", b"T", b"L")]
        g, m, values = _sorted(modes)
        self._modes(g, m, values)
        self.code = next(iter(g & _MOTIONS), self.code)
        self.at = [NAN] * 6
        self.placed = [NAN] * 6
        self.feed = NAN

    def _do(self, number: int, words: Words) -> None:
        g, m, values = _sorted(words)
        if 98 in m:
            self._call(number, _code(values.get(b"P", NAN)), _code(values.get(b"L", 1.0)))
            return
        moving = self._modes(g, m, values)
        if moving:
            self._move(number, g, values)
        if m & {2, 30}:
            self.ended = True

    def _modes(self, g: set[int], m: set[int], values: dict[bytes, float]) -> bool:
        """Everything but motion, in the order of table 8; gives whether the axis words move."""
        held = self.conditions
        if g & {930, 940}:
            held = held._replace(inverse_time=930 in g)
        if b"F" in values and not held.inverse_time:
            self.feed = values[b"F"]
        if b"S" in values:
            held = held._replace(speed=self.dialect.speed(values[b"S"]))
        if b"T" in values:
            self.selected = _code(values[b"T"])
        if 6 in m:
            held = held._replace(tool=self.selected, spindle="off")
        for code, way in ((3, "cw"), (4, "ccw"), (5, "off")):
            if code in m:
                held = held._replace(spindle=way)
        self.conditions = self._outputs(held, m)
        for code in g & {170, 180, 190}:
            self.plane = code // 10
        if g & {200, 210}:
            self.inch = 200 in g
        if g & {430, 490}:
            self._measure(_code(values.get(b"H", NAN)) if 430 in g else 0)
        systems = g & {540, 550, 560, 570, 580, 590, 591, 592, 593}
        if systems:
            self._renumber(range(6))
            system = _SYSTEMS[next(iter(systems))]
            self.conditions = self.conditions._replace(system=system)
        if g & {900, 910}:
            self.incremental = 910 in g
            self.conditions = self.conditions._replace(incremental=self.incremental)
        if g & {901, 911}:
            self.absolute_centres = 901 in g
        if g & {980, 990}:
            self.to_r = 990 in g
        return self._renumbered(g, values)

    def _measure(self, index: int) -> None:
        """Z counts from elsewhere with another tool length."""
        length = index or None
        if length != self.conditions.length:
            self.conditions = self.conditions._replace(length=length)
            self._renumber([2])

    def _outputs(self, held: Conditions, m: set[int]) -> Conditions:
        if 7 in m:
            held = held._replace(mist=True)
        if 8 in m:
            held = held._replace(flood=True)
        if 9 in m:
            held = held._replace(mist=False, flood=False)
        wired = {code for code in m & self.dialect.outputs.keys() if code not in (7, 8, 9)}
        gone = {output for code in m & self.dialect.off.keys() for output in self.dialect.off[code]}
        held = held._replace(mist=held.mist and 7 not in gone, flood=held.flood and 8 not in gone)
        states = dict(held.outputs)
        heads = self.dialect.heads
        if any(states.get(code) for code in gone & heads.keys()):
            held = held._replace(tool=self.first_tool)
        for code in wired & heads.keys():
            held = held._replace(tool=heads[code])
        states.update(dict.fromkeys(gone & states.keys(), False))
        states.update(dict.fromkeys(wired, True))
        if wired or gone:
            held = held._replace(outputs=tuple(sorted(states.items())))
        return held

    def _renumbered(self, g: set[int], values: dict[bytes, float]) -> bool:
        """What takes the axis words for itself; gives whether they are left for a motion."""
        named = [axis for letter, axis in _AXES.items() if letter in values]
        if 920 in g:
            for axis in named:
                self.placed[axis] = NAN
                self.at[axis] = values[LETTERS[axis]] * (self.factor if axis < 3 else 1.0)
            return False
        if g & {921, 922, 923, 100}:
            self._renumber(range(6))
            return False
        if g & {280, 300}:
            by_switches = self.dialect.homing in g
            self._renumber(named if named and by_switches else range(6))
            return False
        return True

    def _renumber(self, axes: range | list[int]) -> None:
        """The numbers of some axes are not known any more."""
        for axis in axes:
            self.at[axis] = NAN

    def _move(self, number: int, g: set[int], values: dict[bytes, float]) -> None:
        for stated in g & _MOTIONS:
            if stated != self.code:
                self.hole = Hole()
            self.code = stated
        target = self._target(values, machine=530 in g)
        by = self._increments(values) if self.incremental and 530 not in g else None
        feed = values.get(b"F", NAN) if self.conditions.inverse_time else self.feed * self.factor
        code = self.code
        if code in CYCLES and (target or g & _MOTIONS):
            self._drill(number, code, values, target, feed)
        elif not target or code is None or code == 800:
            return
        elif 530 in g:
            end = list(self.at)
            for axis, value in target.items():
                end[axis] = NAN
                self.placed[axis] = value
            self._go(number, code // 10, end, feed)
        elif code == 382:
            end = [target.get(axis, value) for axis, value in enumerate(self.at)]
            self._go(number, PROBE, end, feed, by=by)
            self._renumber([axis for axis in target if axis < 3])
        elif code in (20, 30):
            end = [target.get(axis, value) for axis, value in enumerate(self.at)]
            arc = self._arc(values, end, code == 20)
            if self.dialect.projected_feed and not self.conditions.inverse_time:
                feed *= steepness(self.at, end, arc)
            self._go(number, code // 10, end, feed, arc, by)
        elif code in (0, 10):
            end = [target.get(axis, value) for axis, value in enumerate(self.at)]
            for axis in target:
                self.placed[axis] = NAN
            if not self.conditions.inverse_time and _turns(self.at, end):
                feed = self.feed
            self._go(number, code // 10, end, feed, by=by)
        else:
            self._close(number, [])

    def _increments(self, values: dict[bytes, float]) -> tuple[float, ...]:
        factors = (self.factor,) * 3 + (1.0,) * 3
        return tuple(
            values.get(letter, NAN) * factor
            for letter, factor in zip(LETTERS, factors, strict=True)
        )

    def _target(self, values: dict[bytes, float], machine: bool) -> dict[int, float]:
        target = {}
        for letter, axis in _AXES.items():
            if letter in values:
                value = values[letter] * (self.factor if axis < 3 else 1.0)
                relative = self.incremental and not machine
                target[axis] = value + self.at[axis] if relative else value
        return target

    def _go(
        self,
        number: int,
        kind: int,
        end: Place,
        feed: float,
        arc: tuple[float, float, float, float] | None = None,
        by: tuple[float, ...] | None = None,
    ) -> None:
        if arc is not None:
            for axis, (old, new) in enumerate(zip(self.at, end, strict=True)):
                if old != new:
                    self.placed[axis] = NAN
        self.moves.append(
            Move(
                number, kind, tuple(self.at), tuple(end), NAN if kind == RAPID else feed,
                tuple(self.placed), arc, self.conditions, by,
            )
        )  # fmt: skip
        self.at = end

    def _arc(
        self, values: dict[bytes, float], end: Place, clockwise: bool
    ) -> tuple[float, float, float, float]:
        """Centre, turn and plane of an arc from here (3.5.3)."""
        u, v, _ = PLANES[self.plane]
        start = (self.at[u], self.at[v])
        stop = (end[u], end[v])
        if b"R" in values:
            centre, turn = _by_radius(start, stop, values[b"R"] * self.factor, clockwise)
            return (*centre, turn, float(self.plane))
        shift = [values.get(_CENTRES[axis], 0.0) * self.factor for axis in (u, v)]
        base = (0.0, 0.0) if self.absolute_centres else start
        centre = (base[0] + shift[0], base[1] + shift[1])
        if math.hypot(stop[0] - start[0], stop[1] - start[1]) < FULL:
            return (*centre, 2 * math.pi, float(self.plane))
        first = math.atan2(start[1] - centre[1], start[0] - centre[0])
        last = math.atan2(stop[1] - centre[1], stop[0] - centre[0])
        turn = (first - last if clockwise else last - first) % (2 * math.pi)
        return (*centre, turn or 2 * math.pi, float(self.plane))

    def _pecks(self, code: int) -> float:
        """How often a cycle pecks: endlessly, if by nothing or upwards."""
        if code != 830 or math.isnan(self.hole.peck):
            return 0.0
        height = 0.0 if self.incremental else self.hole.r
        return (height - self.hole.bottom) / self.hole.peck if self.hole.peck > 0 else math.inf

    def _drill(
        self,
        number: int,
        code: int,
        values: dict[bytes, float],
        target: dict[int, float],
        feed: float,
    ) -> None:
        u, v, w = PLANES[self.plane]
        scaled: dict[bytes, float] = {}
        for name, letter in ((b"R", b"R"), (b"Q", b"Q"), (b"Z", LETTERS[w])):
            if letter in values:
                scaled[name] = values[letter] * self.factor
        self.hole = self.hole.stated(scaled)
        sideways = {axis: target.get(axis, self.at[axis]) for axis in (u, v)}
        step = {axis: sideways[axis] - self.at[axis] for axis in sideways}
        count = max(1, _code(values.get(b"L", 1.0)))
        if math.isnan(self.at[w]):
            # whether the tool is below R is not known, nor whether it rises before it goes there
            self.unread.add(number)
            for axis, first in sideways.items():
                self.at[axis] = first + ((count - 1) * step[axis] if self.incremental else 0.0)
            self.at[w] = self.hole.r if self.to_r and not self.incremental else NAN
            return
        if count > _MOST_HOLES or self._pecks(code) > _MOST_HOLES:
            self._close(number, [])
            return
        held = self.conditions
        for rapid, moved, spindle in drilled(
            code, self.hole, self.at[w], sideways, step if self.incremental else {},
            count, w, self.incremental, self.to_r,
        ):  # fmt: skip
            end = [moved.get(axis, value) for axis, value in enumerate(self.at)]
            across = any(axis != w for axis in moved)
            if across or not abs(end[w] - self.at[w]) <= 1e-9:
                for axis in moved.keys() & {*target, w}:
                    self.placed[axis] = NAN
                self.conditions = held._replace(spindle=spindle or held.spindle)
                self._go(number, RAPID if rapid else LINE, end, feed)
        self.conditions = held

    def answered(self, asked: str | None) -> None:
        """The operator has gone on at a pause: a bit that was asked for by its number is in."""
        fit = _FIT.fullmatch(asked or "")
        if fit is not None:
            self.conditions = self.conditions._replace(tool=int(fit[1]))

    def passed(self, said: Mapping[bytes, float]) -> None:
        """Plain moves in absolute numbers have gone by: only what they said last is left."""
        for letter, value in said.items():
            if letter == b"G":
                self.code = _code(value) * 10
            elif letter == b"F":
                self.feed = value
            else:
                axis = _AXES[letter]
                self.at[axis] = value * (self.factor if axis < 3 else 1.0)
                self.placed[axis] = NAN
        self.begun = True


def steepness(
    start: Sequence[float], end: Sequence[float], arc: tuple[float, float, float, float]
) -> float:
    """How many times longer a helix is than what is seen of it in its plane."""
    u, v, w = PLANES[int(arc[3])]
    seen = math.hypot(start[u] - arc[0], start[v] - arc[1]) * arc[2]
    return math.hypot(seen, end[w] - start[w]) / seen if seen else 1.0


def last_said(lines: bytes, low: int, high: int) -> dict[bytes, float]:
    """What plain moves in `lines[low:high]` say last, by letter."""
    said = {}
    for letter in (b"G", b"F", *LETTERS):
        at = lines.rfind(letter, low, high)
        if at >= 0 and (number := _NUMBER.match(lines, at + 1)):
            whole = _WELL_FORMED.fullmatch(number[0])
            said[letter] = float(number[0]) if whole else NAN
    return said


_SYSTEMS = {540: 1, 550: 2, 560: 3, 570: 4, 580: 5, 590: 6, 591: 7, 592: 8, 593: 9}
_MOTIONS = {0, 10, 20, 30, 382, 800, *CYCLES, 870}


def _code(value: float) -> int:
    """A whole number; -1 for one that no code can be."""
    return round(value) if math.isfinite(value) else -1


def _sorted(words: Words) -> tuple[set[int], set[int], dict[bytes, float]]:
    """G codes times ten, M codes, and the other numbers of a line."""
    g: set[int] = set()
    m: set[int] = set()
    values: dict[bytes, float] = {}
    for letter, text in words:
        if letter == b"G":
            g.add(_code(float(text) * 10))
        elif letter == b"M":
            m.add(_code(float(text)))
        else:
            values[letter] = float(text)
    return g, m, values


def _turns(start: Place, end: Place) -> bool:
    """Whether only rotary axes move; one that stays unknown stands still, as far as is known."""
    turned = (
        a != b and not (math.isnan(a) and math.isnan(b)) for a, b in zip(start, end, strict=True)
    )
    return start[:3] == end[:3] and any(list(turned)[3:])


def _by_radius(
    start: tuple[float, float], stop: tuple[float, float], radius: float, clockwise: bool
) -> tuple[tuple[float, float], float]:
    """The centre lies on the chord's bisector; a negative radius takes the longer way (3.5.3.1)."""
    chord = math.hypot(stop[0] - start[0], stop[1] - start[1])
    half = chord / 2
    if half - abs(radius) > SHORT:
        return (NAN, NAN), NAN
    height = math.sqrt(max(radius * radius - half * half, 0.0))
    left = (radius > 0) != clockwise
    side = height if left else -height
    way = ((stop[0] - start[0]) / chord, (stop[1] - start[1]) / chord) if chord else (NAN, NAN)
    centre = (
        (start[0] + stop[0]) / 2 - side * way[1],
        (start[1] + stop[1]) / 2 + side * way[0],
    )
    short = 2 * math.atan2(half, height)
    return centre, short if radius > 0 else 2 * math.pi - short


def lines_of(data: bytes) -> Iterator[bytes]:
    """Bare lines one by one, each with its LF."""
    begun = 0
    while begun < len(data):
        end = data.index(b"\n", begun) + 1
        yield data[begun:end]
        begun = end
