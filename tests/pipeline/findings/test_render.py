"""Findings as text. The widths of characters are those of Unicode Standard Annex 11 (East Asian
Width: W and F take two columns) and of combining marks (none), as in `unicodedata`."""

from __future__ import annotations

import pickle
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headrace.errors import (
    CardError,
    HeadraceError,
    JobRefused,
    PluginError,
    RecipeError,
)
from headrace.findings import Finding, Place, render
from headrace.findings.text import few


def shown(excerpt: str, column: int, length: int = 1) -> tuple[str, str]:
    """The two lines of the excerpt, without what stands left of the bar."""
    place = Place("lid.nc", 7, column, length, excerpt)
    lines = render(Finding.of("bad-number", "it", place)).splitlines()
    assert lines[1].startswith("     7 | ")
    assert lines[2].startswith("       | ")
    return lines[1][9:], lines[2][9:]


def columns(text: str) -> int:
    """Columns of a terminal that a text takes."""
    wide = sum(unicodedata.east_asian_width(c) in ("W", "F") for c in text)
    return len(text) + wide - sum(bool(unicodedata.combining(c)) for c in text)


def test_everything_that_a_person_needs() -> None:
    place = Place("lid.nc", 12, 4, 3, "G1 X--")
    text = render(Finding.of("bad-number", "'X--' is not a number", place))

    assert text.splitlines() == [
        "refuse: 'X--' is not a number  [HRL004 bad-number] at lid.nc:12:4",
        "    12 | G1 X--",
        "       |    ^^^",
        "   why: a number that can be read two ways is no number",
        "    do: write it as digits with one sign and one point at the most",
    ]


def test_without_place_why_or_remedy() -> None:
    assert render(Finding.of("no-end", "it", why="", remedy="")) == "warn: it  [HRJ009 no-end]"


def test_a_place_without_its_line() -> None:
    lines = render(Finding.of("no-end", "it", Place("lid.nc", 3))).splitlines()

    assert lines[0].endswith(" at lid.nc:3:1")
    assert len(lines) == 3
    assert "^" not in "".join(lines)


def test_carets_under_wide_characters() -> None:
    line, under = shown("(蜂 巣) Q", 7)

    assert line == "(蜂 巣) Q"
    assert under == " " * columns("(蜂 巣) ") + "^"
    assert shown("(蜂巣)", 2, 2)[1] == " ^^^^"


def test_combining_marks_take_no_column() -> None:
    assert shown("(bie\u0301) Q", 8)[1] == " " * 6 + "^"


def test_tabs_are_one_column() -> None:
    """Else the caret would stand wherever the terminal's tab stops are."""
    assert shown("\tG1\tQ", 5) == (" G1 Q", "    ^")


def test_control_characters_are_not_sent_to_the_terminal() -> None:
    """ISO/IEC 6429: ESC would begin a command to the terminal."""
    line, under = shown("G1 \x1b[2JX\x07", 8)

    assert line == "G1 \ufffd[2JX\ufffd"
    assert under == "       ^"


@pytest.mark.parametrize("column", [1, 49, 51, 150, 299, 300])
def test_long_lines_are_cut_around_the_place(column: int) -> None:
    text = "".join(chr(97 + at % 26) for at in range(300))
    line, under = shown(text, column)

    assert len(line) <= 102
    assert line[under.index("^")] == text[column - 1]
    assert under.count("^") == 1
    assert line.startswith("…") == (column > 51)
    assert line.endswith("…") == (column < 251)


def test_carets_end_with_the_line() -> None:
    assert shown("G1", 2, 50)[1] == " ^"
    assert shown("G1", 3, 1)[1] == "  ^", "behind the end: something is missing there"
    assert shown("G1", 99, 4)[1] == "  ^"


def test_carets_end_with_what_is_shown() -> None:
    line, under = shown("w" * 300, 101, 200)

    assert columns(under) <= columns(line)


@given(
    st.text(st.characters(exclude_categories=["Cs", "Zl", "Zp", "Cc"]), min_size=1, max_size=260),
    st.integers(1, 300),
    st.integers(0, 300),
)
def test_the_caret_stands_under_its_character(text: str, column: int, length: int) -> None:
    _, under = shown(text, column, length)

    assert set(under) <= {" ", "^"}
    assert under.endswith("^")
    before = under.index("^")
    first = min(column - 1, len(text))
    start = max(0, first - 50) if len(text) > 100 else 0
    assert before == columns("…" * bool(start) + text[start:first])


def test_places_as_text() -> None:
    assert str(Place("a/b.nc", 3, 4)) == "a/b.nc:3:4"


@pytest.mark.parametrize(
    ("error", "code"),
    [(HeadraceError, 70), (RecipeError, 3), (PluginError, 4), (JobRefused, 1), (CardError, 5)],
)
def test_errors_carry_their_findings_between_processes(
    error: type[HeadraceError], code: int
) -> None:
    finding = Finding.of("no-end", "no M2 or M30", Place("lid.nc", 3, 1, 2, "X1"))
    raised = error(findings=[finding])
    copy = pickle.loads(pickle.dumps(raised))

    assert type(copy) is error
    assert (copy.findings, copy.message, str(copy)) == ((finding,), "no M2 or M30", "no M2 or M30")
    assert copy.exit_code == code


def test_errors_without_findings_have_a_message() -> None:
    assert str(CardError()) == "CardError"
    assert str(CardError("the card is full")) == "the card is full"


def test_of_many_names_the_first_are_told_and_how_many_there_are_more() -> None:
    names = ["lid.nc", "rim.nc", "roof.nc"]
    assert few(names) == few(names, 3) == "lid.nc, rim.nc, roof.nc"
    assert few(names, 2) == "lid.nc, rim.nc and 1 more"
