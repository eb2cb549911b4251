"""The trial of sameness in small: a few jobs in two circumstances that differ in all."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest
from trials import sameness


def test_a_few_jobs_are_the_same_whatever_the_circumstances() -> None:
    values = sameness.circumstances()
    rows = [{name: some[at] for name, some in values.items()} for at in (0, -1)]
    found = sameness.shown(8, rows)
    assert found.differing == ()
    assert found.touched == ()
    assert found.kept


def test_all_values_have_their_turn_and_any_two_that_are_to_meet_do() -> None:
    values = sameness.circumstances()
    rows = sameness.covering(values)
    for name, some in values.items():
        assert {row[name] for row in rows} == set(some)
    for one, other in combinations(sameness.MEETING, 2):
        met = {(row[one], row[other]) for row in rows}
        assert met == {(a, b) for a in values[one] for b in values[other]}


def test_a_difference_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """A recipe that says something else in one of the runs."""
    original = sameness.checkout

    def otherwise(folder: Path, ends: str) -> None:
        original(folder, ends)
        if ends != "\n":
            path = folder / "clean-text.yaml"
            path.write_bytes(path.read_bytes().replace(b"width: 60", b"width: 59"))

    monkeypatch.setattr(sameness, "checkout", otherwise)
    values = sameness.circumstances()
    rows = [{name: some[at] for name, some in values.items()} for at in (0, -1)]
    found = sameness.shown(4, rows)
    assert [name.split(" with ")[0] for name in found.differing] == ["clean-text/HEADRACE.JSON"]
    assert not found.kept
