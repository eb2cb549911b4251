"""The trial of run sheets in small; `python tests/trials/sheets.py` does it at length."""

from __future__ import annotations

from pathlib import Path

import pytest
from trials import sheets
from trials.leaves import Tree, pause_lines


def test_sheets_tell_what_is_on_the_card() -> None:
    seen = sheets.tried(6, 2, ["bench-lids", "speed-feeder-boards", "bench-setup-cards"])
    assert seen.broken == []
    assert seen.sheets == 3
    assert seen.refused > 0
    assert seen.pauses > 20
    assert seen.times > 6


def test_a_sheet_of_another_card_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """The card is changed behind the sheet: a byte, a pause, a file."""
    original = sheets.made

    def changed(*given: object) -> tuple[Path, Path, int]:
        sheet, card, code = original(*given)  # type: ignore[arg-type]
        lid = card / "LID.NC"
        lid.write_bytes(lid.read_bytes().replace(b"\nM2", b"\n(MORE WAX)\nM0\nM2"))
        (card / "FRAME.NC").write_bytes(lid.read_bytes())
        return sheet, card, code

    monkeypatch.setattr(sheets, "made", changed)
    monkeypatch.setattr(sheets, "timed", lambda *_: None)
    told = "\n".join(sheets.tried(1, 1, ["bench-lids"]).broken)
    assert "LID.NC: the hash is" in told
    assert "LID.NC: pauses in lines" in told
    assert "FRAME.NC" in told


def test_the_gallery_is_all_there() -> None:
    found = dict(sheets.gallery())
    assert len(found) == len(list(sheets.RECIPES.glob("*.yaml")))
    assert sum(map(len, found.values())) > 10


def test_pauses_are_found_by_their_words_alone() -> None:
    text = b"(PLATE AWAY?)\nM0\nG1 X1 (M0)\n;M0\nN5 M 00 (HIVE)\n/M0\nM05\nM30\nG4 P1 M1\n"
    assert pause_lines(text) == {
        2: {"same-line": [], "before": ["PLATE AWAY?"]},
        5: {"same-line": ["HIVE"], "before": ["M0"]},
        9: {"same-line": [], "before": []},
    }


@pytest.mark.parametrize("text", ["<p><b>hive</p></b>", "<p>hive", "</p>"])
def test_elements_that_are_not_nested_are_seen(text: str) -> None:
    with pytest.raises(ValueError):
        Tree(text)
