"""The generated programs are what they claim to be, and the reference holds on all of them."""

from __future__ import annotations

import math
import random
import re
from collections import Counter

import pytest
from hypothesis import HealthCheck, given, settings
from reference import Options, Run, run
from reference.arcs import PLANE_AXES
from reference.codes import CYCLES
from reference.programs import programs, random_program

EXTENDED = Options(centre_codes=True, level_twenty=True)


def _holds_together(result: Run) -> None:
    """What is true of every run: moves join up, arcs lie on their circle and turn their way."""
    at = result.moves[0].machine_start if result.moves else None
    for move in result.moves:
        assert move.machine_start == at
        at = move.machine_end
        if move.centre is None:
            continue
        first, second, _ = PLANE_AXES[move.plane]
        centre = complex(*move.centre)
        start = complex(move.start[first], move.start[second]) - centre
        end = complex(move.end[first], move.end[second]) - centre
        assert abs(abs(start) - abs(end)) <= 0.00508 + 1e-9
        signed = -move.turn if move.kind == "cw" else move.turn
        assert 0 < move.turn <= math.tau
        turned = start * complex(math.cos(signed), math.sin(signed))
        assert abs(turned / abs(turned) - end / abs(end)) < 1e-6
    if at is not None:
        assert result.final.machine == at


@pytest.mark.parametrize("options", [Options(), EXTENDED, Options(block_delete=True)])
def test_generated_programs_are_valid(options: Options) -> None:
    for seed in range(60):
        lines = random_program(random.Random(seed), 40, options=options)

        result = run(lines, options=options)

        assert result.error is None, (seed, result.error, lines[result.error.line])
        _holds_together(result)


def test_generated_programs_reach_everything() -> None:
    moves: Counter[str] = Counter()
    events: Counter[str] = Counter()
    endings: Counter[str] = Counter()
    for seed in range(150):
        result = run(random_program(random.Random(seed), 50), options=Options())
        moves.update(move.kind for move in result.moves)
        moves.update(move.cycle for move in result.moves if move.cycle)
        moves.update(f"{move.kind}{move.plane}" for move in result.moves)
        moves.update(move.feed_unit for move in result.moves if move.feed_unit)
        moves.update("full" for move in result.moves if move.turn == math.tau)
        events.update(event.kind for event in result.events)
        endings[result.ending] += 1

    wanted = {"rapid", "feed", "probe", "full", "mm/min", "deg/min", "1/min", *CYCLES} - {"G88"}
    wanted |= {f"{kind}{plane}" for kind in ("cw", "ccw") for plane in (17, 18, 19)}
    assert all(moves[kind] >= 5 for kind in wanted), moves
    wanted = {"message", "speed", "tool-select", "tool-change", "spindle", "orient", "coolant"}
    wanted |= {"overrides", "dwell", "path", "synch", "stop", "optional-stop", "pallet-stop"}
    assert all(events[kind] >= 5 for kind in wanted), events
    assert set(endings) == {"", "M2", "M30", "%"}


def test_faults_are_put_in_when_asked_for() -> None:
    kinds = set()
    for seed in range(200):
        result = run(random_program(random.Random(seed), 12, faults=1.0))
        kinds.add(result.error.kind if result.error else "")

    assert len(kinds) > 40


def test_same_seed_same_program() -> None:
    assert random_program(random.Random(7), 30) == random_program(random.Random(7), 30)
    assert random_program(random.Random(7), 30) != random_program(random.Random(8), 30)


def test_unknown_profile_is_refused() -> None:
    with pytest.raises(ValueError, match="no such profile"):
        random_program(random.Random(1), 5, profile="fancy")


def test_plain_programs_hold_nothing_but_plain_words() -> None:
    plain = re.compile(r"(N\d+ ?)?((G[0123]|[XYZIJ]-?\d+\.\d{3}|[FS]\d+) ?)*|\([^()]*\)")
    for seed in range(10):
        lines = random_program(random.Random(seed), 400, profile="plain")

        result = run(lines)

        assert result.error is None
        assert result.ending == "M30"
        assert {move.kind for move in result.moves} == {"rapid", "feed", "cw", "ccw"}
        assert all(plain.fullmatch(line) for line in lines[3:-1])
        _holds_together(result)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(programs(longest=15, faults=0.3))
def test_any_program_is_either_run_or_refused_in_its_place(lines: list[str]) -> None:
    result = run(lines)

    _holds_together(result)
    if result.error:
        assert result.error.line < len(lines)
        assert 0 <= result.error.column <= len(lines[result.error.line])
