"""Places of one bit said in another work offset system: of that bit alone, and with their numbers
unchanged. Which system a line selects is RS274/NGC 3.5.13, which bit is in 3.6.3."""

from __future__ import annotations

import pytest

from headrace import Facet, Renumbering
from headrace.plugins import Contract

from .trial import line_for_line, passes

JOB = [
    "G21 G90 G17 G94 G54",
    "T1 M6",
    "G54",
    "G0 X10 Y10 Z5",
    "G1 Z-2 F300",
    "T2 M6",
    "G54",
    "G0 X20 Y10",
    "G1 Z-3 F300",
    "G1 X30 F900",
    "T1 M6",
    "G54",
    "G1 X40 F900",
    "M30",
]
MOVED = [*JOB]
MOVED[6] = "G55"
SPOKEN = frozenset({Facet.WORK_ZERO, Facet.SPELLING})


def contract(*renumbers: Renumbering) -> Contract:
    return Contract(SPOKEN, renumbers=renumbers)


SECOND = contract(Renumbering(1, 2, (0.0, 0.0, 0.0), tool=2))


def test_what_one_bit_cuts_may_be_said_elsewhere() -> None:
    assert passes(line_for_line(JOB, MOVED, SECOND))


FAULTS: dict[str, tuple[int, str]] = {
    "it is left where it was": (6, "G54"),
    "it is in a third one": (6, "G56"),
    "the other bit goes too": (2, "G55"),
    "the other bit does not come back": (11, "G55"),
    "a number is another one": (7, "G0 X20.1 Y10"),
    "a depth is another one": (8, "G1 Z-3.1 F300"),
    "another bit is called": (5, "T3 M6"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_nothing_else_passes(fault: str) -> None:
    line, text = FAULTS[fault]
    result = [*MOVED[:line], text, *MOVED[line + 1 :]]

    assert not passes(line_for_line(JOB, result, SECOND))


def test_all_bits_is_another_contract() -> None:
    everything = contract(Renumbering(1, 2, (0.0, 0.0, 0.0)))

    assert not passes(line_for_line(JOB, MOVED, everything))
    assert passes(line_for_line(JOB, [line.replace("G54", "G55") for line in JOB], everything))


def test_what_holds_for_one_bit_comes_before_what_holds_for_all() -> None:
    both = contract(Renumbering(1, 3, (0.0, 0.0, 0.0)), Renumbering(1, 2, (0.0, 0.0, 0.0), tool=2))
    result = [line.replace("G54", "G56") for line in JOB]
    result[6] = "G55"

    assert passes(line_for_line(JOB, result, both))


def test_two_steps_one_behind_the_other() -> None:
    """The second step finds the bit's places where the first has left them."""
    back = contract(Renumbering(2, 3, (5.0, 0.0, 0.0)))

    assert SECOND.then(back).renumbers == (
        Renumbering(1, 3, (5.0, 0.0, 0.0), tool=2),
        Renumbering(2, 3, (5.0, 0.0, 0.0)),
    )
