"""One tiny program for each fault; what is not allowed is an error (NISTIR 6556, 3.3)."""

from __future__ import annotations

import pytest
from reference import Start, run
from reference.refusals import REFUSALS, Refusal


@pytest.mark.parametrize("case", REFUSALS, ids=lambda case: f"{case.kind}: {case.lines[-1][:30]}")
def test_fault_is_named_and_placed(case: Refusal) -> None:
    result = run(case.lines, start=case.start, options=case.options)

    assert result.error is not None
    assert result.error.kind == case.kind
    assert result.error.line == (len(case.lines) - 1 if case.line < 0 else case.line)
    if case.column is not None:
        assert result.error.column == case.column


def test_line_at_fault_does_nothing() -> None:
    """The dwell and the new speed come before the move in table 8, and must not happen."""
    result = run(["G0 X5", "#7=1 S900 M3 G4 P1 G2 X9 F10"], start=Start())

    assert result.error is not None
    assert result.error.kind == "arc-no-centre"
    assert len(result.moves) == 1
    assert result.events == ()
    assert result.final.program[0] == 5
    assert result.final.spindle == "off"
    assert result.final.feed == 0
    assert 7 not in result.final.parameters
