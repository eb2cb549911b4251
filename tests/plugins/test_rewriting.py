"""Rewriting many lines at once, as the steps that touch only text do."""

from __future__ import annotations

import numpy as np
import pytest

from headrace import PluginError, Program, after, before, delete, rewrite
from headrace.program import Cause

CAUSE = Cause("tidy", 1)


def program() -> Program:
    return Program.read(b"G21\n\nG0 X1\nG0 X2\nM30\n", "job.nc")


def test_lines_keep_their_identity_and_their_cause_where_nothing_changed() -> None:
    done = program().edited([rewrite(1, 4, b"\nG0X1\nG0 X2\n")], CAUSE)
    assert done.to_bytes() == b"G21\n\nG0X1\nG0 X2\nM30\n"
    assert [line.origin for line in done] == [0, 1, 2, 3, 4]
    assert [line.cause for line in done] == [None, None, CAUSE, None, None]


def test_lines_that_are_not_kept_go() -> None:
    done = program().edited([rewrite(0, 5, b"G21\nG0 X1\nM30\n", np.array([0, 2, 4]))], CAUSE)
    assert [line.origin for line in done] == [0, 2, 4]


def test_what_is_asked_stays_with_its_line() -> None:
    asking = program().edited([before(2, "(CLIP ON)", asks=None), before(2, "M0", asks="clip-on")],
                              Cause("touch", 1))  # fmt: skip
    done = asking.edited([rewrite(0, 7, b"G21\n\n(CLIP ON)\nM0\nG0X1\nG0X2\nM30\n")], CAUSE)
    assert [line.asks for line in done] == [None, None, None, "clip-on", None, None, None]
    assert done[3].cause == Cause("touch", 1)
    kept = np.array([0, 1, 2, 4, 5, 6])
    with pytest.raises(PluginError, match="asks the operator"):
        asking.edited([rewrite(0, 7, b"G21\n\n(CLIP ON)\nG0X1\nG0X2\nM30\n", kept)], CAUSE)


def test_other_edits_stand_beside_it() -> None:
    edits = [before(0, "(A)"), rewrite(1, 3, b"\nG0X1\n"), after(3, "(B)"), delete(4)]
    done = program().edited(edits, CAUSE)
    assert done.to_bytes() == b"(A)\nG21\n\nG0X1\nG0 X2\n(B)\n"


@pytest.mark.parametrize(
    "edits",
    [
        [rewrite(0, 2, b"G21\n")],
        [rewrite(0, 2, b"G21\n\nG0\n")],
        [rewrite(0, 9, b"G21\n\nG0 X1\nG0 X2\nM30\n")],
        [rewrite(0, 3, b"G21\n\nG0\n"), delete(1)],
        [rewrite(0, 3, b"G21\n\nG0\n"), before(0, "(A)")],
        [rewrite(0, 3, b"G21\n\nG0\n"), rewrite(2, 4, b"G0\nG0\n")],
    ],
    ids=["too few", "too many", "past the end", "inside", "at its start", "two that overlap"],
)
def test_contradictions_are_refused(edits: list[object]) -> None:
    with pytest.raises(PluginError) as caught:
        program().edited(edits, CAUSE)  # type: ignore[arg-type]
    assert caught.value.findings[0].name == "edits-faulty"
