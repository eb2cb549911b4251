"""The trial of kills, smaller: see `kills.py`."""

from __future__ import annotations

import random

import pytest
from trials.tools import needed_tools


@pytest.fixture(autouse=True)
def _tools() -> None:
    needed_tools("strace")


def test_a_run_that_is_killed_leaves_whole_files_and_the_next_one_finishes() -> None:
    from trials import kills

    told = kills.trial(0, 1, 23, 12)

    assert told["faults"] == []
    once, plain, twice = told["once"], told["once, without exchange"], told["twice"]
    assert isinstance(once, dict)
    assert isinstance(plain, dict)
    assert isinstance(twice, dict)
    assert once["killed"] == once["points"] > 20
    assert plain["killed"] == plain["points"] > 3
    assert once["missing for a while"] == 0
    assert twice["points"] == 12


def test_damage_is_seen() -> None:
    """What looks at the card sees what it should."""
    from trials.disturbed import scene

    with scene() as stage:
        for name in ("LID.NC", "OLD.TAP"):
            stage.lay()
            (stage.card / name).write_bytes(stage.before[name][:-1])
            assert stage.faults() == [f"{name} is neither the old file nor the new one"]
        stage.lay()
        (stage.card / "FRAME.NC").unlink()
        assert stage.faults(("LID.NC",)) == ["missing: FRAME.NC"]
        stage.lay()
        (stage.card / "LID.NC").unlink()
        assert stage.faults(("LID.NC",)) == []
        assert stage.faults() == ["missing: LID.NC"]
        stage.lay()
        (stage.card / "HEADRACE.JSON").write_bytes(stage.before["HEADRACE.JSON"][:-9])
        assert len(stage.faults()) == 1
        stage.lay()
        (stage.card / "FIRST.NC").write_bytes(random.Random(1).randbytes(99))
        assert stage.not_repaired()
