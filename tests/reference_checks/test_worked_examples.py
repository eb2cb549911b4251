"""The worked examples printed in NISTIR 6556; each carries its section."""

from __future__ import annotations

import math

import pytest
from reference import Move, run
from reference.arcs import PLANE_AXES
from reference.examples import EXAMPLES, VALUES, Example, Expected, Value
from reference.grammar import read_line

_QUIET = ("path", "speed", "tool-select")


@pytest.mark.parametrize("case", VALUES, ids=lambda case: case.text)
def test_value_is_the_printed_one(case: Value) -> None:
    line = read_line(f"X {case.text}", case.parameters)

    assert [word.letter for word in line.words] == ["x"]
    assert line.words[0].value == pytest.approx(case.value, abs=case.tolerance)


@pytest.mark.parametrize("case", EXAMPLES, ids=lambda case: f"{case.section}: {case.name}")
def test_example_comes_out_as_printed(case: Example) -> None:
    result = run(case.lines, start=case.start, options=case.options)

    fault = (result.error.kind, result.error.line) if result.error else None
    assert fault == case.error
    assert [move.kind for move in result.moves] == [move.kind for move in case.moves]
    for move, expected in zip(result.moves, case.moves, strict=True):
        _compare(move, expected, case)
    if not case.error:
        told = [(e.kind, e.data) for e in result.events if case.all_events or e.kind not in _QUIET]
        assert told == list(case.events)
    for index, value in case.parameters.items():
        assert result.final.parameters.get(index, 0.0) == pytest.approx(value, abs=1e-9)
    if case.reads is not None:
        assert result.final.program[:3] == pytest.approx(case.reads, abs=1e-9)
    if case.machine is not None:
        assert result.final.machine[:3] == pytest.approx(case.machine, abs=1e-9)


def _compare(move: Move, expected: Expected, case: Example) -> None:
    def close(value: float) -> object:
        return pytest.approx(value * case.scale, abs=case.tolerance * case.scale)

    for got, wanted in zip(move.end[:3], expected.end, strict=True):
        assert got == close(wanted)
    if expected.kind not in ("cw", "ccw"):
        assert move.centre is None
        return
    first, second, third = PLANE_AXES[move.plane]
    assert move.centre is not None
    radius = math.dist(move.centre, (move.start[first], move.start[second]))
    if expected.centre is not None:
        assert move.centre[0] == close(expected.centre[0])
        assert move.centre[1] == close(expected.centre[1])
    if expected.radius is not None:
        assert radius == close(expected.radius)
    if expected.turn is not None:
        assert math.degrees(move.turn) == pytest.approx(expected.turn, abs=1e-4)
    if expected.flat is not None:
        assert radius * move.turn == close(expected.flat)
    if expected.along is not None:
        rise = move.end[third] - move.start[third]
        assert math.hypot(radius * move.turn, rise) == close(expected.along)
