"""Canned cycles as the moves that they stand for (RS274/NGC 3.5.16)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from headrace.language.block_words import LineWords, whole
from headrace.language.modal import AXES, PLANES, g_name
from headrace.language.state import State
from headrace.program.expression import ReadingError

PECK_CLEARANCE = 0.254
"""How far above the last depth a peck comes back down to, in mm (from memory: 0.010 inch)."""

_REACHED = 1e-9
_MOST_PECKS = 10_000
_MOST_REPEATS = 10_000

NEEDS: Mapping[int, str] = {820: "P", 830: "Q", 860: "P", 870: "IJK", 880: "P", 890: "P"}


@dataclass(frozen=True, slots=True)
class CycleMove:
    """A move of a cycle: some axes get new positions (mm), rapidly or at feed."""

    rapid: bool
    to: Mapping[int, float]


@dataclass(frozen=True, slots=True)
class CycleAct:
    """Something between the moves: `dwell` (value in P), `spindle` (off or a way), `stop`."""

    kind: str
    value: float | str | None = None


def expand(
    code: int, words: LineWords, state: State, spans: Mapping[str, tuple[int, int]]
) -> Iterator[CycleMove | CycleAct]:
    """The moves of one line of a cycle, from the state, whose sticky numbers it brings up to date.

    Raises ReadingError where the line breaks a rule of 3.5.16.
    """
    first, second, depth = PLANES[state.plane]
    if state.plane == 18:
        first, second = second, first  # X before Z, as the words are written
    scale = state.factor
    span = spans.get("G", next(iter(spans.values()), (0, 1)))
    _check(code, words, state, depth, span)
    again = state.cycle == code
    for letter in (AXES[depth], "R", "P", "Q", "I", "J", "K"):
        if letter in words.values:
            length = letter not in "PQ" or letter == "Q"
            state.sticky[letter] = words.values[letter] * (scale if length else 1.0)
    state.cycle = code
    needed = ("" if again else AXES[depth]) + "R" + NEEDS.get(code, "")
    for letter in needed:
        if letter not in state.sticky:
            raise ReadingError("cycle-word-missing", f"{g_name(code)} needs {letter}", *span)
    _check_numbers(code, state, span, spans)
    repeats = whole(words.values.get("L", 1.0), "L", spans.get("L", span))
    if not 1 <= repeats <= _MOST_REPEATS:
        what = f"L must be from 1 to {_MOST_REPEATS}"
        raise ReadingError("cycle-repeats", what, *spans.get("L", span))
    here = list(state.position)
    clear_r = state.sticky["R"] + (here[depth] if state.incremental else 0.0)
    bottom = state.sticky[AXES[depth]] + (clear_r if state.incremental else 0.0)
    if clear_r < bottom:
        raise ReadingError("cycle-r-below-depth", "R lies below the depth", *span)
    clear = clear_r if state.return_to_r else max(here[depth], clear_r)
    if math.isnan(bottom + clear):
        raise ReadingError("cycle-start-unknown", "no line has stated the height yet", *span)
    if code == 830 and (clear_r - bottom) / state.sticky["Q"] > _MOST_PECKS:
        raise ReadingError("cycle-peck", "more pecks than can be meant", *spans.get("Q", span))
    if here[depth] < clear_r:
        yield CycleMove(True, {depth: clear_r})
        here[depth] = clear_r
    for _ in range(repeats):
        for axis in (first, second):
            if AXES[axis] in words.values:
                step = words.values[AXES[axis]] * scale
                here[axis] = here[axis] + step if state.incremental else step
        yield CycleMove(True, {first: here[first], second: here[second]})
        if here[depth] != clear_r:
            yield CycleMove(True, {depth: clear_r})
        yield from _hole(code, state, (first, second, depth), here, clear_r, bottom, clear)
        here[depth] = bottom if code == 880 else clear


def _check(code: int, words: LineWords, state: State, depth: int, span: tuple[int, int]) -> None:
    if state.inverse_time:
        raise ReadingError("cycle-inverse-time", "a cycle under G93", *span)
    if any(axis > 2 for axis in words.axes):
        raise ReadingError("cycle-rotary", "a rotary axis in a cycle", *span)
    if not words.axes:
        raise ReadingError("cycle-no-axis", "a cycle without X, Y or Z", *span)
    if AXES[depth] not in words.values and state.cycle != code:
        raise ReadingError("cycle-word-missing", f"{g_name(code)} needs {AXES[depth]}", *span)
    turns = {840: state.spindle == "cw", 860: _turning(state), 870: _turning(state),
             880: _turning(state)}  # fmt: skip
    if not turns.get(code, True):
        raise ReadingError("cycle-spindle", f"{g_name(code)} needs a turning spindle", *span)


def _turning(state: State) -> bool:
    return state.spindle in ("cw", "ccw")


def _check_numbers(
    code: int, state: State, span: tuple[int, int], spans: Mapping[str, tuple[int, int]]
) -> None:
    if "P" in NEEDS.get(code, "") and state.sticky["P"] < 0:
        raise ReadingError("dwell-negative", "a negative dwell", *spans.get("P", span))
    if code == 830 and state.sticky["Q"] <= 0:
        raise ReadingError("cycle-peck", "Q must be above 0", *spans.get("Q", span))


def _hole(
    code: int,
    state: State,
    axes: tuple[int, int, int],
    here: list[float],
    clear_r: float,
    bottom: float,
    clear: float,
) -> Iterator[CycleMove | CycleAct]:
    """What happens at one place, from the R level down and up again."""
    depth = axes[2]
    down = CycleMove(False, {depth: bottom})
    up = CycleMove(True, {depth: clear})
    slow_up = CycleMove(False, {depth: clear})
    dwell = CycleAct("dwell", state.sticky.get("P"))
    stop = CycleAct("spindle", "off")
    turn = CycleAct("spindle", state.spindle)
    if code == 830:
        yield from _pecks(state.sticky["Q"], depth, clear_r, bottom, clear)
    elif code == 840:
        yield from (down, stop, CycleAct("spindle", "ccw"), slow_up, stop, turn)
    elif code == 870:
        yield from _back_bore(state, axes, here, bottom, clear)
    else:
        # the operator takes the tool out of a G88 by hand: as far as the file knows it stays
        yield from {
            810: (down, up),
            820: (down, dwell, up),
            850: (down, slow_up),
            860: (down, dwell, stop, up, turn),
            880: (down, dwell, stop, CycleAct("stop"), turn),
            890: (down, dwell, slow_up),
        }[code]


def _pecks(
    step: float, depth: int, clear_r: float, bottom: float, clear: float
) -> Iterator[CycleMove]:
    """Down by a step at a time, out to clear the chips, and back to just above the last depth."""
    peck = 1
    while (reached := clear_r - peck * step) > bottom + _REACHED:
        yield CycleMove(False, {depth: reached})
        yield CycleMove(True, {depth: clear})
        yield CycleMove(True, {depth: min(reached + PECK_CLEARANCE, clear)})
        peck += 1
    yield CycleMove(False, {depth: bottom})
    yield CycleMove(True, {depth: clear})


def _back_bore(
    state: State, axes: tuple[int, int, int], here: list[float], bottom: float, clear: float
) -> Iterator[CycleMove | CycleAct]:
    """From below: past the bore beside its axis, in, up to K, and out the same way."""
    first, second, depth = axes
    shift = {axis: here[axis] + state.sticky["IJK"[axis]] for axis in (first, second)}
    centre = {axis: here[axis] for axis in (first, second)}
    top = state.sticky["IJK"[depth]]
    if state.incremental:
        top += bottom
    stop, turn = CycleAct("spindle", "off"), CycleAct("spindle", state.spindle)
    yield from (CycleMove(True, shift), stop, CycleMove(True, {depth: bottom}))
    yield from (CycleMove(True, centre), turn)
    yield from (CycleMove(False, {depth: top}), CycleMove(False, {depth: bottom}), stop)
    yield from (CycleMove(True, shift), CycleMove(True, {depth: clear}))
    yield from (CycleMove(True, centre), turn)
