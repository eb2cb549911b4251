"""headrace's interpreter over the worked examples of NISTIR 6556 (RS274/NGC).

The table is `reference/examples.py`; each example carries the section that it comes from.
"""

from __future__ import annotations

import math

import pytest
from reference.examples import EXAMPLES, VALUES, Example, Value

from headrace.findings import Severity
from headrace.language import Trace
from headrace.language.modal import PLANES
from headrace.program.expression import evaluate
from headrace.program.grammar import scan

from .comparing import events_of_trace, rows_of_trace, trace_of, until_probe

_NOT_OURS = ("length offset", "G43")
_FAULTS = {"bad-number": ("bad-number", "exponent"), "unknown-operation": ("word-without-value",)}


@pytest.mark.parametrize("case", VALUES, ids=lambda case: case.text)
def test_value_is_the_printed_one(case: Value) -> None:
    line = scan(f"X {case.text}")

    assert not line.faults
    word = line.words[0]
    value = float(word.value) if word.value is not None else None
    if word.expression is not None:
        value = evaluate(word.expression, case.parameters)
    assert value == pytest.approx(case.value, abs=case.tolerance)


def _needs_tool_lengths(case: Example) -> bool:
    return case.options.lengths is not None


@pytest.mark.parametrize(
    "case",
    [case for case in EXAMPLES if not _needs_tool_lengths(case)],
    ids=lambda case: f"{case.section}: {case.name}",
)
def test_example_comes_out_as_printed(case: Example) -> None:
    trace = trace_of(list(case.lines), case.start, case.options)

    rows = until_probe(list(rows_of_trace(trace)))
    expected = case.moves[: len(rows)] if any(r.kind == "probe" for r in rows) else case.moves
    refused = [f for f in trace.findings if f.severity is Severity.REFUSE]
    if case.error is not None:
        assert refused
        assert refused[0].place is not None
        assert refused[0].place.line - 1 == case.error[1]
        return
    assert not refused
    assert [row.kind for row in rows] == [move.kind for move in expected]
    for row, move in zip(rows, expected, strict=True):
        for got, wanted in zip(row.end[:3], move.end, strict=True):
            assert got == pytest.approx(wanted * case.scale, abs=case.tolerance * case.scale)
    _compare_arcs(trace, case)
    told = [(kind, data) for _, kind, data in events_of_trace(trace)]
    silent = ("path", "speed", "tool-select", "coolant", "synch", "orient")
    assert told == [event for event in case.events if event[0] not in silent]


def _compare_arcs(trace: Trace, case: Example) -> None:
    """Centres, radii, turns and lengths of the arcs, as far as the example prints them."""
    arcs = [move for move in case.moves if move.kind in ("cw", "ccw")]
    solved = []
    for block in trace.blocks:
        if block.arcs is None:
            continue
        first, second, across = PLANES[block.setting.plane]
        for at, row in enumerate(block.arcs.rows):
            u, v = float(block.arcs.centre_u[at]), float(block.arcs.centre_v[at])
            start = [float(block.starts(axis)[row]) for axis in range(3)]
            rise = float(block.ends[across][row]) - start[across]
            radius = math.dist((u, v), (start[first], start[second]))
            solved.append(((u, v), radius, float(block.arcs.turn[at]), rise))
    assert len(solved) == len(arcs)
    for (centre, radius, turn, rise), arc in zip(solved, arcs, strict=True):

        def close(value: float) -> object:
            return pytest.approx(value * case.scale, abs=case.tolerance * case.scale)

        if arc.centre is not None:
            assert centre[0] == close(arc.centre[0])
            assert centre[1] == close(arc.centre[1])
        if arc.radius is not None:
            assert radius == close(arc.radius)
        if arc.turn is not None:
            assert math.degrees(turn) == pytest.approx(arc.turn, abs=1e-4)
        if arc.flat is not None:
            assert radius * turn == close(arc.flat)
        if arc.along is not None:
            assert math.hypot(radius * turn, rise) == close(arc.along)
