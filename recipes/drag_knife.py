"""A transform for a machine with a drag knife.

Its blade swivels freely, and the tip trails the axis by an offset, as the wheel of a trailer does.
Jobs come as if the axis itself cut. Here the axis goes ahead of each path by the offset, along the
tangent, so that the tip follows the path; at corners it goes round the tip. What the tip does then,
headrace works out from the finished file and compares with the job: `trails` declares that. A slip
in this file is found there.

Two things nobody can work out, so they are taken for true: that the blade points to the right at
first, as the operator is asked (what the hand misses by is gone behind some offsets of the first
cut), and that it does not turn above the sheet.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from math import atan2, cos, isnan, nan, pi, radians, remainder, sin
from typing import Any

from headrace import (
    Edit,
    Facet,
    Finding,
    Job,
    JobRefused,
    Line,
    Move,
    Place,
    Trailing,
    delete,
    number_text,
    pausing,
    replace,
    transform,
)

ASKED = "BLADE TO THE RIGHT?"
"""To +X, from tip to axis: what everything else follows from."""


def length(what: str, **more: Any) -> dict[str, Any]:
    told = {"type": "number", "exclusiveMinimum": 0, "maximum": 20}
    return {**told, "description": f"{what}; mm.", **more}


@transform(
    "drag-knife",
    changes=[Facet.SPINDLE, Facet.STOPS, Facet.COMMENTS, Facet.LINE_NUMBERS],
    options={
        "offset": length("How far the tip trails the axis, as the maker of the knife states it"),
        "bite": length("How deep the blade must be to swivel when it is pulled", default=0.3),
        "lift-from": {
            "type": "number",
            "description": "From which corners on the blade is lifted to `bite` to turn; degrees.",
            "minimum": 0,
            "maximum": 180,
            "default": 60,
        },
        "tolerance": length("How far the tip may stray from the job's path", default=0.02),
    },
    required=["offset"],
    within=lambda _, *, tolerance, **__: tolerance,
    trails=lambda _, *, offset, bite, **__: Trailing(offset, bite),
)
def drag_knife(
    job: Job, *, offset: float, bite: float, lift_from: float, tolerance: float
) -> Iterator[Edit]:
    """Lead the axis ahead of the job's path, so that the tip of a drag knife follows it.

    Asks for the blade to be turned to the right. Plunges to `bite`, turns the blade to where the
    cut goes, and only then goes deep. Spindle words are taken out. Feeds are those of the axis.
    """
    units = job.state_at(job.landmarks.first_cut or 0).units
    odd = job.dialect.absolute_centres or len(job.program.lines_with("G", 20, 90.1, 91, 93))
    moves = [move for move in job.trace.moves() if job.program[move.line].origin is not None]
    if odd or units != "mm" or len({move.line for move in moves}) < len(moves):
        raise unsuited("drag-knife: the job is not in plain moves in mm: put `adapt` before it")
    knife = Knife(job, offset, bite, radians(lift_from), tolerance)
    led = {move.line: knife.leads(move, islice(moves, at, None)) for at, move in enumerate(moves)}
    for line in job.program:
        words = [w for w in line.words if w.letter == "S" or w.code in ("M3", "M4", "M5")]
        if led.get(line.index):
            yield replace(line.index, *knife.written(line, led[line.index]))
        elif words and line.origin is not None:
            left = line.without(*words)
            yield replace(line.index, left) if left.strip() else delete(line.index)
    if moves:
        yield from pausing(job.machine, moves[0].line, ASKED)


class Knife:
    """The axis with its blade. Directions are in rad, from +X towards +Y."""

    def __init__(
        self, job: Job, offset: float, bite: float, lift_from: float, tolerance: float
    ) -> None:
        self.job, self.offset, self.bite, self.lift_from = job, offset, bite, lift_from
        self.least = tolerance / 4 / offset
        self.places = 4 if job.machine.decimals is None else job.machine.decimals
        self.blade, self.at, self.plunge = 0.0, (0.0, 0.0), nan

    def leads(self, move: Move, on: Iterable[Move]) -> list[str]:
        """The lines that lead the tip through a move; none where the job's own line does. `on` are
        the moves from this one on."""
        highest, lowest = max(move.start[2], move.end[2]), min(move.start[2], move.end[2])
        if stays(move):
            return self.goes_down(move, on) if highest > -self.bite and lowest < 0 else []
        if move.kind in ("rapid", "line") and not lowest < 0:
            rapid = move.kind == "rapid"
            text = f"{'G0' if rapid else 'G1'} {self.ahead(move.end, self.blade)}{self.z(move)}"
            return [text + ("" if rapid else self.feed(move.feed))]
        self.needs(move, highest <= -self.bite, "cuts above the bite, or slants into it")
        self.needs(move, move.cuts and move.plane == 17, "is no cut in X and Y")
        return self.cuts(move)

    def goes_down(self, move: Move, on: Iterable[Move]) -> list[str]:
        """Down to the bite, round to where the cut behind it goes, and down to its depth."""
        cut = next((each for each in on if not stays(each)), None)
        if move.kind != "line" or move.end[2] > move.start[2] or cut is None or not cut.cuts:
            return []
        self.needs(move, move.end[2] <= -self.bite, "goes down less than the bite")
        self.plunge = move.feed
        turning = self.turned(move.end, self.way(cut, cut.start), move.feed)
        down = f"G1 Z-{self.n(self.bite)}{self.feed(move.feed)}"
        return [down, *turning, f"G1 Z{self.n(move.end[2])}"] if turning else []

    def cuts(self, move: Move) -> list[str]:
        """Round the tip where the path has a corner, lifted where that is sharp; then along."""
        way, depth = self.way(move, move.start), move.start[2]
        corner = abs(remainder(way - self.blade, 2 * pi))
        turning = self.turned(move.start, way, move.feed)
        if turning and corner >= self.lift_from and depth < -self.bite:
            down = f"G1 Z{self.n(depth)}{self.feed(self.plunge)}"
            turning = [f"G0 Z-{self.n(self.bite)}", *turning, down]
        here, self.blade = self.at, self.way(move, move.end)
        code = {"line": "G1", "cw": "G2", "ccw": "G3"}[move.kind]
        text = f"{code} {self.ahead(move.end, self.blade)}{self.z(move)}"
        text += "" if move.centre is None else self.centre(here, move.centre)
        return [*turning, text + self.feed(move.feed)]

    def turned(self, tip: Sequence[float], way: float, feed: float) -> list[str]:
        """Round the tip until the blade points along the way; nothing where it nearly does."""
        side, here = remainder(way - self.blade, 2 * pi), self.at
        if abs(sin(side)) <= self.least and cos(side) > 0:
            return []
        self.blade = way
        code = "G3" if side > 0 else "G2"
        text = f"{code} {self.ahead(tip, way)}{self.centre(here, (tip[0], tip[1]))}"
        return [text + self.feed(feed)]

    def way(self, move: Move, place: Sequence[float]) -> float:
        """Where the path goes to at a place of a move."""
        if move.centre is None:
            return atan2(move.end[1] - move.start[1], move.end[0] - move.start[0])
        out = atan2(place[1] - move.centre[1], place[0] - move.centre[0])
        return out + (pi / 2 if move.kind == "ccw" else -pi / 2)

    def ahead(self, tip: Sequence[float], blade: float) -> str:
        """The words for the axis where the tip is there."""
        x, y = tip[0] + self.offset * cos(blade), tip[1] + self.offset * sin(blade)
        self.at = round(x, self.places), round(y, self.places)
        return f"X{self.n(x)} Y{self.n(y)}"

    def centre(self, here: tuple[float, float], centre: tuple[float, float]) -> str:
        return f" I{self.n(centre[0] - here[0])} J{self.n(centre[1] - here[1])}"

    def z(self, move: Move) -> str:
        rests = isnan(move.end[2]) or move.start[2] == move.end[2]
        return "" if rests else f" Z{self.n(move.end[2])}"

    def feed(self, feed: float) -> str:
        return "" if isnan(feed) else f" F{self.n(feed)}"

    def n(self, value: float) -> str:
        return number_text(value, self.places)

    def written(self, line: Line, texts: list[str]) -> list[str]:
        """The lines with the number and the comments of the job's own."""
        plain = {"G0", "G1", "G2", "G3", "M3", "M4", "M5"}
        odd = [w for w in line.words if w.letter in "GM" and w.code not in plain]
        if odd or line.scan.block_delete:
            what = "drag-knife: this line does more than move"
            raise unsuited(what, self.job.program.place(line.index))
        number = [line.text[word.start : word.end] for word in line.words if word.letter == "N"]
        notes = [line.text[note.start : note.end] for note in line.comments]
        lines = [" ".join([*number, texts[0]]), *texts[1:]]
        return [*lines[:-1], " ".join([lines[-1], *notes])]

    def needs(self, move: Move, holds: bool, what: str) -> None:
        """JobRefused where the knife cannot follow a move."""
        if not holds:
            raise unsuited(f"drag-knife: this line {what}", self.job.program.place(move.line))


def stays(move: Move) -> bool:
    """Whether a move goes nowhere in X and Y."""
    known = not isnan(move.end[0] + move.end[1])
    return not known or (move.centre is None and move.start[:2] == move.end[:2])


def unsuited(what: str, place: Place | None = None) -> JobRefused:
    return JobRefused(findings=[Finding.of("step-unsuited", what, place)])
