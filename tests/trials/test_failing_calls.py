"""The trial of failing calls, smaller: see `failing_calls.py`."""

from __future__ import annotations

from trials.tools import needed_tools


def test_a_call_that_fails_leaves_whole_files_and_is_told() -> None:
    needed_tools("strace")
    from trials import failing_calls

    counts, found = failing_calls.trial(0, 1, 17)

    assert found == []
    assert counts["points"] > 70
    assert counts["exit code 5"] > 20
    assert counts["exit code 0"] > 5
