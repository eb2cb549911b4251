"""The table of what can go wrong names findings that there are, and all of the rehearsal's."""

from __future__ import annotations

import re
from pathlib import Path

import headrace
from headrace.findings import CATALOGUE

TABLE = Path(str(headrace.__file__)).parent / "rehearsal" / "COVERAGE.md"
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in TABLE.read_text("utf-8").splitlines()
    if re.match(r"\| F\d\d ", line)
]
NAMED = [name.strip() for row in ROWS for name in row[2].split(",") if name.strip()]


def test_all_sixty_are_there_once_and_in_order() -> None:
    assert [row[0] for row in ROWS] == [f"F{number:02}" for number in range(1, 61)]


def test_it_names_findings_that_there_are() -> None:
    assert sorted(set(NAMED) - set(CATALOGUE)) == []


def test_every_row_says_what_finds_it_or_what_is_left() -> None:
    assert [row[0] for row in ROWS if not row[2] and not row[3]] == []


def test_every_kind_of_the_rehearsal_has_its_row() -> None:
    kinds = {kind.name for kind in CATALOGUE.values() if "HRM050" <= kind.id <= "HRM149"}

    assert sorted(kinds - set(NAMED)) == []
