"""Reads a track by its format alone, number by number: slow, and with no code of the writer's."""

from __future__ import annotations

from base64 import b64decode
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from math import floor

STILL, RAPID, CUT, PROBE, HOME, PAUSE, DWELL, END = range(8)
IDLE = {STILL, PAUSE, DWELL, END}


@dataclass(frozen=True)
class State:
    kind: int
    known: int
    spindle: int
    speed: int
    bit: int
    feed: int
    inverse: int
    spread: int


@dataclass(frozen=True)
class Pause:
    at: int
    optional: bool
    text: str


@dataclass(frozen=True)
class Read:
    """Places in mm, times in s."""

    lines: int
    within: float
    kept: int
    crooked: bool
    line: list[int]
    place: list[tuple[float, float, float]]
    time: list[float]
    state: list[State]
    pauses: list[Pause]

    def at(self, line: int) -> tuple[tuple[float, float, float], float, int]:
        """Place and time when a line has been carried out, and the point whose state holds."""
        here = bisect_right(self.line, line) - 1
        after = here + 1
        if self.line[here] == line or after == len(self.line) or self.state[after].kind in IDLE:
            return self.place[here], self.time[here], here
        share = (line - self.line[here]) / (self.line[after] - self.line[here])
        x, y, z = (
            one + (other - one) * share
            for one, other in zip(self.place[here], self.place[after], strict=True)
        )
        time = self.time[here] + (self.time[after] - self.time[here]) * share
        return (x, y, z), time, after


class Bits:
    """Bits of bytes, from the highest of the first one on."""

    def __init__(self, data: bytes) -> None:
        self._bits = "".join(f"{byte:08b}" for byte in data)
        self._at = 0

    def number(self, order: int) -> int:
        zeros = self._bits.index("1", self._at) - self._at
        width = zeros + order + 1
        self._at += zeros
        written = int(self._bits[self._at : self._at + width], 2)
        self._at += width
        return written - (1 << order)

    def column(self) -> list[int]:
        count, order = self.number(8), self.number(2)
        return [self.number(order) for _ in range(count)]

    @property
    def rest(self) -> str:
        return self._bits[self._at :]


def signed(number: int) -> int:
    return -(number + 1) // 2 if number % 2 else number // 2


def _rows(column: list[int], width: int) -> Iterator[list[int]]:
    assert len(column) % width == 0
    return (column[at : at + width] for at in range(0, len(column), width))


def _whole(lines: list[int], column: list[int], trended: int) -> list[int]:
    found, step_before, line_before, value = [], 0, 0, 0
    for line, left in zip(lines, column, strict=True):
        step = signed(left)
        if trended and line_before:
            step += floor(line * step_before / line_before + 0.5)
        value += step
        found.append(value)
        step_before, line_before = step, line
    return found


def read(track: str) -> Read:
    """All of a track."""
    data = b64decode(track, validate=True)
    assert data[0] == 1
    bits = Bits(data[1:])
    lines, within, unit, kept, crooked, *trends = bits.column()
    table = [State(*row) for row in _rows(bits.column(), 8)]
    runs = zip(bits.column(), bits.column(), strict=True)
    state = [table[which] for which, further in runs for _ in range(1 + further)]
    steps = bits.column()
    x, y, z, time = (_whole(steps, bits.column(), trended) for trended in trends)
    pauses, point = [], 0
    told = list(_rows(bits.column(), 3))
    text = bytes(bits.column())
    for step, optional, length in told:
        point += step
        pauses.append(Pause(point, bool(optional), text[:length].decode()))
        text = text[length:]
    assert not text
    assert set(bits.rest) <= {"0"}
    assert len(bits.rest) < 8
    assert len(state) == len(steps)
    line, reached = [], 0
    for step in steps:
        reached += step
        line.append(reached)
    place = [tuple(unit * one / 100 for one in point) for point in zip(x, y, z, strict=True)]
    return Read(lines, within / 1000, kept, bool(crooked), line, place,
                [unit * step / 100 for step in time], state, pauses)  # fmt: skip
