"""Where the numbers count from: origins of work offset systems (G10) and the shift (G92)."""

from __future__ import annotations

from headrace.language.block_words import LineWords, whole
from headrace.language.modal import AXES, SHIFT, first_origin
from headrace.language.state import State
from headrace.program.expression import ReadingError


def set_origin(state: State, words: LineWords, sets_here: bool) -> tuple[str, int, str]:
    """G10: the origin of a system, in absolute coordinates (L2) or, where the machine has it, from
    where it stands (L20). Gives what was set: how, which, along which axes."""
    values, columns = words.values, words.columns
    key = values.get("L")
    here = key == 20 and sets_here
    if key != 2 and not here:
        raise ReadingError("g10-l", "G10 needs L2", *columns.get("L", columns["G"]))
    if "P" not in values:
        raise ReadingError("g10-p", "G10 needs P, a system from 1 to 9", *columns["G"])
    system = whole(values["P"], "P", columns["P"])
    if not 1 <= system <= 9:
        raise ReadingError("g10-p", "P of G10 names a system from 1 to 9", *columns["P"])
    origin = state.origins[system - 1]
    for axis in words.axes:
        value = _length(state, words, axis)
        if here:
            reached = state.machine[axis] - state.longer(axis)
            origin[axis] = reached - state.shift[axis] - value
        else:
            origin[axis] = value
    state.store(first_origin(system), origin)
    if system == state.system:
        state.renumbered()
        for axis in words.axes:
            if here:
                state.position[axis] = _length(state, words, axis)
    return "origin", system, _named(words)


def set_shift(state: State, words: LineWords, code: int) -> tuple[str, int, str]:
    """G92 and its kin (3.5.18). Gives what was set: how, which, along which axes."""
    if code == 920:
        if not words.axes:
            raise ReadingError("no-axis-g92", "G92 without an axis", *words.columns["G"])
        origin = state.origins[state.system - 1]
        for axis in words.axes:
            wanted = _length(state, words, axis)
            reached = state.machine[axis] - state.longer(axis)
            state.shift[axis] = reached - origin[axis] - wanted
            state.position[axis] = wanted
        state.store(SHIFT, state.shift)
    else:
        zeros = [0.0] * len(AXES)
        state.shift = state.stored(SHIFT) if code == 923 else zeros
        if code == 921:
            state.store(SHIFT, zeros)
        state.renumbered()
    return "shift", code, _named(words)


def _length(state: State, words: LineWords, axis: int) -> float:
    """An axis word in mm or degrees."""
    return words.values[AXES[axis]] * (state.factor if axis < 3 else 1.0)


def _named(words: LineWords) -> str:
    return "".join(AXES[axis] for axis in words.axes)
