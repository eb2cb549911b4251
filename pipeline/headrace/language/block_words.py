"""The words of one line, evaluated and checked against the rules that hold for a line alone."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from headrace.language.modal import (
    ACTIVE_SYSTEM,
    AXES,
    AXIS_USERS,
    G_GROUP,
    M_GROUP,
    first_origin,
    g_name,
)
from headrace.program.expression import ReadingError, evaluate, parameter_index
from headrace.program.grammar import Scan, Word

_NEAR = 0.0001
"""A number this near to a whole one counts as whole (3.3.2.1)."""

_OLDER_UNITS: Mapping[int, str] = {700: "G20 (inch)", 710: "G21 (mm)"}
"""Words of ISO 6983 that the language has not: common practice in older lists of codes."""
_TOO_LARGE = 1e15
"""From here on a number is surely a fault, and sums with it would lose what stands behind the
point. The columns read in bulk hold no such number either."""


@dataclass(frozen=True, slots=True)
class LineWords:
    """What a line says: G codes by group, M codes by group, and the other letters.

    `values` are in the units of the program; `columns` tell where each letter stands.
    """

    g: Mapping[int, int]
    m: Mapping[int, int]
    values: Mapping[str, float]
    settings: Mapping[int, float]
    columns: Mapping[str, tuple[int, int]]

    @property
    def axes(self) -> list[int]:
        """The axes that the line names, in order."""
        return [axis for axis, name in enumerate(AXES) if name in self.values]


def read_words(
    scan: Scan, parameters: Mapping[int, float], outputs: Collection[int], stops: frozenset[int]
) -> LineWords:
    """Evaluate a line; raises ReadingError with the first rule that it breaks.

    `outputs` and `stops` are M codes that the machine has beyond the standard's.
    """
    g: dict[int, int] = {}
    m: dict[int, int] = {}
    values: dict[str, float] = {}
    columns: dict[str, tuple[int, int]] = {}
    count = 0
    for word in scan.words:
        value = _value(word, parameters)
        span = (word.start, word.end - word.start)
        if word.letter == "G":
            _add_g(g, value, span)
            columns.setdefault("G", span)
        elif word.letter == "M":
            count += 1
            _add_m(m, value, span, outputs, stops)
            columns.setdefault("M", span)
        elif word.letter in values:
            raise ReadingError("repeated-letter", f"{word.letter} stands twice on a line", *span)
        else:
            if word.letter in "DFHLPQST" and value < 0 and word.letter not in "PQL":
                raise ReadingError("negative-value", f"{word.letter} may not be negative", *span)
            values[word.letter] = value
            columns[word.letter] = span
    if count > 4:
        raise ReadingError("too-many-m", "more than four M words on a line", *columns["M"])
    settings: dict[int, float] = {}
    for setting in scan.settings:
        index = parameter_index(evaluate(setting.index, parameters), setting.start)
        if ACTIVE_SYSTEM <= index < first_origin(9) + 6:
            what = f"#{index} belongs to the work offsets; when a setting acts is not certain"
            raise ReadingError("parameter-reserved", what, setting.start)
        settings[index] = evaluate(setting.value, parameters)
    _check_axes(g, columns)
    return LineWords(g, m, values, settings, columns)


def _value(word: Word, parameters: Mapping[int, float]) -> float:
    if word.expression is not None:
        value = evaluate(word.expression, parameters)
    else:
        assert word.value is not None
        value = float(word.value)
    if abs(value) >= _TOO_LARGE:
        what = f"{word.letter} has a number of more than fifteen digits"
        raise ReadingError("number-too-large", what, word.start, word.end - word.start)
    return value


def whole(value: float, letter: str, span: tuple[int, int]) -> int:
    """A value that must be whole; ReadingError where it is not."""
    if abs(value - round(value)) > _NEAR:
        raise ReadingError("integer-expected", f"{letter} must be a whole number", *span)
    return round(value)


def _add_g(g: dict[int, int], value: float, span: tuple[int, int]) -> None:
    code = round(value * 10)
    if abs(value * 10 - code) > 10 * _NEAR or code not in G_GROUP:
        older = _OLDER_UNITS.get(code)
        hint = f": older lists state the unit by it, and {older} does so here" if older else ""
        raise ReadingError("unknown-g", f"G{value:g} is not a code of the language{hint}", *span)
    group = G_GROUP[code]
    if group in g:
        raise ReadingError(
            "same-modal-group", f"{g_name(g[group])} and {g_name(code)} exclude each other", *span
        )
    g[group] = code


def _add_m(
    m: dict[int, int],
    value: float,
    span: tuple[int, int],
    outputs: Collection[int],
    stops: frozenset[int],
) -> None:
    code = whole(value, "M", span)
    group = M_GROUP.get(code, 4 if code in stops else 8 if code in outputs else None)
    if group is None:
        raise ReadingError("unknown-m", f"M{code} is not a code of the language", *span)
    if group in m:
        raise ReadingError("same-modal-group", f"M{m[group]} and M{code} exclude each other", *span)
    m[group] = code


def _check_axes(g: Mapping[int, int], columns: Mapping[str, tuple[int, int]]) -> None:
    """A motion and a code of group 0 may not both want the axis words (3.4)."""
    if 1 in g and g[1] != 800 and g.get(0) in AXIS_USERS:
        raise ReadingError(
            "axis-conflict",
            f"{g_name(g[1])} and {g_name(g[0])} both want the axis words",
            *columns["G"],
        )
