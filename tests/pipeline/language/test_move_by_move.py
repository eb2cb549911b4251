"""Moves one by one say what the reference interpreter says of them (RS274/NGC, from the report)."""

from __future__ import annotations

import math

import pytest
from reference import run

from headrace import Program
from headrace.language import State, interpret

JOB = """G21 G90 G17 G94
G0 X10 Y5 Z4
G1 Z-1 F300
G1 X20 Y5 F900
G2 X20 Y-5 I0 J-5
G3 X20 Y-5 I3 J0 Z-2
G18 G2 X30 Z-2 I5 K0
X31 R40
G17 G0 Z9
"""


def test_they_are_those_of_the_reference() -> None:
    trace = interpret(Program.read(JOB.encode(), "job.nc"), start=State.at_zero())
    moves, wanted = list(trace.moves()), run(JOB.splitlines()).moves

    assert len(moves) == len(wanted) == len(trace)
    for move, other in zip(moves, wanted, strict=True):
        assert move.line == other.line
        assert move.kind == {"feed": "line"}.get(other.kind, other.kind)
        assert move.cuts == (other.kind != "rapid")
        assert move.start == pytest.approx(other.start[:3])
        assert move.end == pytest.approx(other.end[:3])
        assert not move.cuts or move.feed == other.feed
        assert (move.centre is None) == (other.centre is None)
        if other.centre is not None:
            assert move.centre == pytest.approx(other.centre)
            assert move.turn == pytest.approx(other.turn)
            assert move.plane == other.plane


def test_what_is_not_known_is_not_said() -> None:
    trace = interpret(Program.read(b"G21 G90\nG0 Z5\n", "job.nc"))
    (move,) = trace.moves()

    assert math.isnan(move.end[0])
    assert move.end[2] == 5
