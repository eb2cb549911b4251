"""Places instead of increments: of moves, and of the centres of arcs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace as changed
from typing import Any

import numpy as np

from headrace import Dialect, Edit, EventKind, Facet, Job, number_text, transform
from headrace_transforms.lines.slashes import undecided
from headrace_transforms.numbers.exact import Decimals
from headrace_transforms.numbers.exchanging import Exchange, Longs, Touch, edits, require_read
from headrace_transforms.numbers.figure_rules import require_unconditional
from headrace_transforms.numbers.modes import Bools, Mode, require_codes
from headrace_transforms.numbers.style import MM_IN_INCH, Floats, inch_mode
from headrace_transforms.paths.arcs import AXES, CENTRES, Arcs
from headrace_transforms.paths.reach import end_of
from headrace_transforms.telling.refusing import refusal

_TURNING = "ABC"
_USUAL, _MOST = 6, 9
"""Places behind the point that a sum is written with, if need be, and at the most."""
_BOTH_UNITS = 8
"""Places where millimetres are said in inches: these are less than a millionth of one."""


def _dialect(job: Job, *, centres: str, **_: str) -> Dialect:
    if centres == "keep":
        return job.dialect
    return changed(job.dialect, absolute_centres=Dialect.of(job.machine).absolute_centres)


@transform(
    "absolute",
    changes=[Facet.SPELLING],
    dialect=_dialect,
    options={
        "distances": {
            "description": "Whether increments (G91) become places (G90), or stay.",
            "enum": ["absolute", "keep"],
            "default": "absolute",
        },
        "centres": {
            "description": "Whether centres of arcs count as the machine has it, or as they do.",
            "enum": ["machine", "keep"],
            "default": "machine",
        },
    },
    idempotent=True,
)
def absolute(job: Job, *, distances: str, centres: str) -> Iterator[Edit]:
    """Say places instead of increments (G91), and centres of arcs as the machine counts them.

    Places are exact sums of what the job says (RS274/NGC 3.5.17). Where a job counts from a place
    that no line has stated it is refused, and so are cycles in increments. G90.1 and G91.1 stay
    only where the machine's `modes` have them.

        G90 G0 X10 Y5        ->        G90 G0 X10 Y5
        G91 G1 X2.5 F900               G90 G1 X12.5 F900
        G2 X4 I2 J0                    G2 X16.5 I2 J0
    """
    stop = end_of(job)
    require_codes(job, stop)
    increments = Mode.of(job, stop, (91.0, 90.0), job.start.incremental)
    every = Exchange.of(job, stop)
    places = _Places(job, stop, every)
    touched: dict[int, Touch] = {}
    if distances == "absolute" and increments.lasting is not False:
        _require_moves(job, increments, every)
        for each in every:
            _write_ends(job, each, increments, places)
    if centres == "machine":
        _write_centres(job, stop, every, places, touched)
        _write_modes(job, stop, touched)
    yield from edits(job, every, touched)


def needs_absolute(job: Job) -> dict[str, Any] | None:
    """The options of the step where the machine reads no increments, or counts centres otherwise
    than the job; else None."""
    stop = end_of(job)
    lines = job.program.lines_with("G", 91)
    counts = job.start.incremental or bool((lines < stop).any())
    lacks = counts and "increments" not in job.machine.distances
    target = Dialect.of(job.machine).absolute_centres
    modes: dict[int, Touch] = {}
    _write_modes(job, stop, modes)
    other = bool(modes) or target != job.dialect.absolute_centres
    if not (lacks or other):
        return None
    return {
        "distances": "absolute" if lacks else "keep",
        "centres": "machine" if other else "keep",
    }


class _Places:
    """How places are written: exactly, in the unit of their line."""

    def __init__(self, job: Job, stop: int, every: list[Exchange]) -> None:
        self.inch = inch_mode(job, stop)
        scales = [each.numerals.scale[each.words("XYZABCIJK")] for each in every]
        most = max((int(scale.max(initial=0)) for scale in scales), default=0)
        if self.inch.lasting is None:
            most = max(most + 1, _BOTH_UNITS)
        self.scale = min(max(most, _USUAL), _MOST)

    def decimals(self, values: Floats, lines: Longs, turning: Bools | bool = False) -> Decimals:
        """Places (n; mm, or degrees where `turning`) as they are written on some lines (n)."""
        factor = np.where(self.inch.at(lines) & ~np.asarray(turning), MM_IN_INCH, 1.0)
        mantissa = np.rint(values / factor * 10.0**self.scale).astype(np.int64)
        return mantissa, np.full(len(values), self.scale, np.int8)

    def text(self, value: float, line: int) -> str:
        """One place (mm)."""
        inch = bool(self.inch.at(np.array([line]))[0])
        return number_text(value / (MM_IN_INCH if inch else 1.0), self.scale)


def _write_ends(job: Job, each: Exchange, increments: Mode, places: _Places) -> None:
    """Increments of one section become places, and its G91 become G90."""
    codes = each.codes(91)
    each.put(codes, (np.full(len(codes), 90), np.zeros(len(codes), np.int8)))
    numerals, trace = each.numerals, job.trace
    at = np.flatnonzero(each.words("XYZABC"))
    at = at[increments.at(numerals.line[at])]
    lines = numerals.line[at]
    at = at[~np.isin(lines, _stating(job))]
    lines = numerals.line[at].astype(np.int64)
    # the first move of a line is the one to the place that it names, by way of which others go on
    row = np.minimum(np.searchsorted(trace.line, lines), max(len(trace) - 1, 0))
    moving = trace.line[row] == lines if len(trace) else np.zeros(len(lines), bool)
    at, lines, row = at[moving], lines[moving], row[moving]
    values = np.empty(len(at))
    for axis, letter in enumerate(AXES + _TURNING):
        mine = numerals.letter[at] == ord(letter)
        if mine.any():
            values[mine] = trace.ends(axis)[row[mine]]
    unknown = np.isnan(values)
    if unknown.any():
        word = at[np.argmax(unknown)]
        what = f"{chr(numerals.letter[word])} counts from a place that no line has stated yet"
        raise refusal("place-unknown", what, place=job.program.place(int(numerals.line[word])))
    each.put(at, places.decimals(values, lines, numerals.letter[at] < ord("D")))


def _stating(job: Job) -> Longs:
    """The lines whose axis words are no increments, even under G91: those that set zeros, and that
    only name axes."""
    homing = job.dialect.homing
    names = [] if homing is None else [homing / 10]
    return job.program.lines_with("G", 10, 92, *names)


def _write_centres(
    job: Job, stop: int, every: list[Exchange], places: _Places, touched: dict[int, Touch]
) -> None:
    """Centres as the machine has them; offsets that are not named, and count as zero, are added."""
    target = Dialect.of(job.machine).absolute_centres
    arcs = Arcs.of(job)
    arcs = arcs.where((arcs.absolute != target) & ~arcs.by_radius)
    if not len(arcs):
        return
    require_unconditional(job, Mode.of(job, stop, (90.1, 91.1), job.start.absolute_centres))
    _require_certain(job, every, int(arcs.line[-1]) + 1, set(arcs.line.tolist()).__contains__)
    begun = arcs.in_plane(arcs.start)[:, :2]
    centre = arcs.centre if target else arcs.centre - begun
    for which in range(2):
        axes = arcs.axes(which)
        for axis, letter in enumerate(CENTRES):
            mine = axes == axis
            if mine.any():
                _write_offsets(every, letter, arcs.line[mine], centre[mine, which], places, touched)


def _write_offsets(
    every: list[Exchange],
    letter: str,
    lines: Longs,
    values: Floats,
    places: _Places,
    touched: dict[int, Touch],
) -> None:
    """One letter of the centres of arcs on some lines (n, ascending): their values (n; mm)."""
    named = np.zeros(len(lines), bool)
    for each in every:
        at = np.flatnonzero(each.words(letter))
        row = np.minimum(np.searchsorted(lines, each.numerals.line[at]), len(lines) - 1)
        here = lines[row] == each.numerals.line[at]
        at, row = at[here], row[here]
        named[row] = True
        each.put(at, places.decimals(values[row], lines[row]))
    for line, value in zip(lines[~named].tolist(), values[~named].tolist(), strict=True):
        touched.setdefault(line, Touch()).word = f"{letter}{places.text(value, line)}"


def _write_modes(job: Job, stop: int, touched: dict[int, Touch]) -> None:
    """The words for how centres count: that of the machine where its `modes` have it, else none."""
    absolute_ones = Dialect.of(job.machine).absolute_centres
    wanted, other = ("G90.1", "G91.1") if absolute_ones else ("G91.1", "G90.1")
    known = {word for mode in job.machine.modes for word in mode.split()}
    spelling = {other: wanted if wanted in known else ""}
    if wanted not in known:
        spelling[wanted] = ""
    lines, numbers = job.program.codes()
    for line, number in zip(lines.tolist(), numbers.tolist(), strict=True):
        if line < stop and f"G{number:g}" in spelling:
            touched.setdefault(line, Touch()).codes = spelling


def _require_moves(job: Job, increments: Mode, every: list[Exchange]) -> None:
    """Increments that each belong to one move, from a place that is certain."""
    cycles = np.array([e.line for e in job.trace.events_of(EventKind.CYCLE)], np.int64)
    counted = cycles[increments.at(cycles)]
    if len(counted):
        raise refusal(
            "cycle-in-force",
            "this line drills in increments",
            place=job.program.place(int(counted[0])),
        )
    require_unconditional(job, increments)
    last = int(np.flatnonzero(increments.on)[-1])
    until = increments.lines[last] if last < len(increments.lines) else len(job.program)
    _require_certain(job, every, int(until), lambda line: bool(increments.at(np.array([line]))[0]))


def _require_certain(
    job: Job, every: list[Exchange], until: int, which: Callable[[int], bool]
) -> None:
    """Some lines before `until` that say a place by how far it lies from the last one: that one
    must be certain, and the line run once."""
    calls = job.trace.calls.calls
    if calls:
        raise refusal(
            "numbers-not-plain",
            "what is called here counts from where it is called",
            place=job.program.place(min(calls)),
            remedy="put the step `expand-calls` before it",
        )
    require_read(job, every, which)
    optional = undecided(job)
    optional = optional[np.isin(optional, job.trace.line)]
    if len(optional) and optional[0] < until:
        what = "a line further down counts from the place that this line leads to, if it runs"
        raise refusal(
            "switch-decides",
            what,
            place=job.program.place(int(optional[0])),
            remedy="put the step `optional-lines` before it",
        )
