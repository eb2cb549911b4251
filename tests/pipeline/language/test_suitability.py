"""Files as jobs: every awkward file of `jobs/` is readable and gives the findings below, every file
of `jobs/refused/` is refused with its place, why, and what to do.

What the files hold, and the sections of RS274/NGC (NISTIR 6556) that they follow or break, is told
in `jobs/README.md`; the table here says what headrace makes of each.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from headrace.findings import Finding, Severity
from headrace.language import State, interpret
from headrace.language.suitability import ALIEN, examine, limits
from headrace.program import Cause, Program, before, delete, replace

JOBS = Path(__file__).parents[2] / "jobs"

READABLE: dict[str, tuple[tuple[str, int | None], ...]] = {
    "empty.nc": (("no-motion", None),),
    "incremental-throughout.nc": (("place-unknown", 4),),
    "line-number-too-long.nc": (("line-number-long", 1),),
    "nested-comment.nc": (("comment-nested", 1),),
    "no-end-word.nc": (("no-end", 12),),
    "no-header.nc": (("units-not-stated", 1),),
    "only-comments.nc": (("no-motion", 1),),
    "only-newlines.nc": (("no-motion", 1),),
    "only-percent.nc": (("no-motion", 1),),
    "percent-only-at-the-end.nc": (("percent-unexpected", 13),),
    "text-after-m30.nc": (("text-after-end", 14),),
    "text-after-percent.nc": (("text-after-end", 16),),
    "unclosed-comment.nc": (("comment-open", 6),),
    "units-change.nc": (("units-changed", 4),),
}
"""Findings and their lines, of those that give any; all other readable files give none."""

REFUSED: dict[str, tuple[str, int, int]] = {
    "arc-radius-full-circle.nc": ("arc-r-full-circle", 8, 1),
    "arc-radius-mismatch.nc": ("arc-radius-mismatch", 8, 1),
    "arc-without-centre.nc": ("arc-no-centre", 8, 1),
    "archive.nc": ("binary-file", 1, 1),
    "axis-words-unused.nc": ("axis-words-unused", 7, 1),
    "binary.nc": ("binary-file", 3, 1),
    "bracket-open.nc": ("unknown-operation", 7, 9),
    "conflict-marks.nc": ("conflict-marks", 7, 1),
    "cutter-compensation.nc": ("compensation", 7, 1),
    "decimal-comma.nc": ("bad-character", 7, 4),
    "divide-by-zero.nc": ("domain", 7, 5),
    "dwell-negative.nc": ("dwell-negative", 4, 4),
    "exponent.nc": ("exponent", 9, 3),
    "extruder-words.nc": ("additive-job", 3, 1),
    "feed-never-given.nc": ("feed-missing", 6, 1),
    "lathe-program.nc": ("lathe-program", 4, 1),
    "letter-alone.nc": ("word-without-value", 5, 1),
    "letter-o-for-zero.nc": ("word-without-value", 11, 1),
    "line-number-behind.nc": ("line-number-misplaced", 7, 5),
    "m98-call.nc": ("subprogram-missing", 7, 1),
    "m98-endless.nc": ("subprogram-endless", 4, 1),
    "no-digits.nc": ("bad-number", 7, 2),
    "nul-in-the-middle.nc": ("binary-file", 7, 1),
    "o-word-loop.nc": ("subprogram", 4, 1),
    "older-unit-words.nc": ("unknown-g", 3, 1),
    "peck-of-nothing.nc": ("cycle-peck", 6, 20),
    "percent-unclosed.nc": ("cut-short", 1, 1),
    "repeated-letter.nc": ("repeated-letter", 7, 5),
    "robot-program.nc": ("robot-program", 1, 1),
    "sign-behind-point.nc": ("bad-number", 6, 5),
    "slash-behind.nc": ("bad-character", 7, 5),
    "two-motion-words.nc": ("same-modal-group", 6, 4),
    "two-points.nc": ("bad-number", 6, 5),
    "two-signs.nc": ("bad-number", 6, 5),
    "two-spindle-words.nc": ("same-modal-group", 3, 11),
    "unknown-g.nc": ("unknown-g", 7, 1),
    "utf-16.nc": ("wide-characters", 1, 1),
    "web-page.nc": ("bad-character", 1, 1),
}
"""The finding that tells a person why, its line and its column."""


def files_of(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir() if path.is_file() and path.suffix != ".md")


def judged(data: bytes, name: str = "job.nc", assume: str | None = None) -> list[Finding]:
    """Everything that headrace says of a file before any step."""
    program = Program.read(data, name)
    trace = interpret(program, start=State(units=assume))
    return [*examine(program, trace, assume), *trace.findings]


def names(text: str, assume: str | None = "mm") -> list[str]:
    return [finding.name for finding in judged(text.encode("utf-8"), assume=assume)]


def test_the_tables_name_files_that_are_there() -> None:
    assert set(READABLE) <= set(files_of(JOBS))
    assert set(REFUSED) == set(files_of(JOBS / "refused"))


@pytest.mark.parametrize("name", files_of(JOBS))
def test_readable_file(name: str) -> None:
    data = (JOBS / name).read_bytes()

    assert Program.read(data, name).to_bytes() == data
    found = [(f.name, f.place.line if f.place else None) for f in judged(data, name)]
    assert found == list(READABLE.get(name, ()))


@pytest.mark.parametrize("name", files_of(JOBS / "refused"))
def test_refused_file(name: str) -> None:
    findings = judged((JOBS / "refused" / name).read_bytes(), name)

    refusals = [finding for finding in findings if finding.severity is Severity.REFUSE]
    places = {(f.name, f.place.line, f.place.column) for f in refusals if f.place}
    assert REFUSED[name] in places
    for finding in refusals:
        assert finding.what
        assert finding.why
        assert finding.remedy
        if finding.place is not None:
            assert finding.place.file == name
            assert finding.place.excerpt, "the line is shown"
            assert finding.place.column + finding.place.length <= len(finding.place.excerpt) + 1


def test_what_is_assumed_need_not_be_stated() -> None:
    data = (JOBS / "no-header.nc").read_bytes()

    assert [finding.name for finding in judged(data, assume="inch")] == []


@pytest.mark.parametrize(
    ("line", "name"),
    [
        ("M104 S210", "additive-job"),
        ("  m140 s60", "additive-job"),
        ("G1 X10 E0.4 F900", "additive-job"),
        ("DEF COMB()", "robot-program"),
        ("MOVEL P1", "robot-program"),
        ("G96 S180", "lathe-program"),
        ("N30 G97 S900", "lathe-program"),
        ("O100", "subprogram"),
        ("O<comb> sub", "subprogram"),
        ("N20 M98 P100", "subprogram-missing"),
        ("O100 call", "subprogram-missing"),
        ("O100 while [#1 LT 5]", "subprogram"),
        ("O100 call [5]", "subprogram"),
        ("O100 endsub", "subprogram"),
        ("G0 X1 M99", "subprogram"),
        ("<<<<<<< ours", "conflict-marks"),
        ("=======", "conflict-marks"),
    ],
)
def test_signs_of_files_for_other_machines(line: str, name: str) -> None:
    found = judged(f"G21\nG1 X1 F100\n{line}\nM30\n".encode())

    assert found[0].name == name
    assert found[0].place is not None
    assert found[0].place.line == 3
    assert found[0].name in ALIEN


@pytest.mark.parametrize(
    "line",
    ["M10", "G1 X1 (E words)", "(G96 is for lathes)", "G97.1", "M1400", "(DEF)", "; MOVEL", "M980"],
)
def test_what_only_looks_like_another_machine(line: str) -> None:
    kinds = {"additive-job", "robot-program", "lathe-program", "subprogram", "conflict-marks"}

    assert not kinds & set(names(f"G21\nG1 X1 F100\n{line}\nM30\n"))


def test_alien_files_give_their_first_sign_only() -> None:
    found = judged(b"M104 S210\nO100\nG1 X1 E5 F900\n")

    whole = [finding for finding in found if finding.id.startswith("HRJ")]
    assert [finding.name for finding in whole] == ["additive-job"]


def test_wide_characters_without_a_mark() -> None:
    """UTF-16 without a byte order mark (RFC 2781, 3.1): every other byte is NUL."""
    job = "(hive floor) G21 G90 G17 G94\nG0 X0 Y0 Z5\nM30\n"

    for encoding in ("utf-16-le", "utf-16"):
        assert judged(job.encode(encoding))[0].name == "wide-characters"


def test_control_characters_throughout() -> None:
    data = bytes(code for code in (1, 2, 14, 27, 65, 49)) * 40

    assert judged(data)[0].name == "binary-file"


def test_a_length_that_the_standard_allows_and_one_more() -> None:
    """RS274/NGC 3.3: a line has 256 characters at the most; 3.3.1: a line number five digits."""
    fits = "(" + "w" * 254 + ")"

    for end in ("\n", "\r\n", "\r"):
        assert names(f"G0 X1\n{fits}{end}M30\n") == []
        assert names(f"G0 X1\n{fits} {end}M30\n") == ["line-too-long"]
    assert names("N99999 G0 X1\nM30\n") == []
    assert names("N100000 G0 X1\nM30\n") == ["line-number-long"]


def test_long_line_numbers_in_bulk() -> None:
    """The same where lines are plain moves and read in bulk."""
    rows = [f"N{99_990 + at} X{at}" for at in range(2000)]
    found = judged(("G21 G1 F100 X0\n" + "\n".join(rows) + "\nM30\n").encode())

    assert [finding.name for finding in found] == ["line-number-long"]
    assert found[0].place is not None
    assert found[0].place.excerpt == "N100000 X10"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", ["no-motion"]),
        ("G21\n", ["no-motion", "no-end"]),
        ("%\nG0 X1\n", ["cut-short"]),
        ("%\nG0 X1\n%\n", []),
        ("(lid)\n%\nG0 X1\n", ["cut-short"]),
        ("G0 X1\n", ["no-end"]),
        ("G0 X1\nM30\n(done)\n\n", []),
        ("G0 X1\nM30\n(done)\nG0 X2\nG0 X3\n", ["text-after-end"]),
        ("G20 G0 X1\nG20 G0 X2\nM2\n", []),
        ("G20 G0 X1\nG21 G0 X2\nM2\n", ["units-changed"]),
    ],
)
def test_the_file_as_a_whole(text: str, expected: list[str]) -> None:
    assert names(text) == expected


def test_a_unit_behind_the_first_move_is_too_late() -> None:
    found = judged(b"G0 X1\nG21\nG0 X2\nM30\n")

    assert [finding.name for finding in found] == ["units-not-stated"]
    assert judged(b"G21 G0 X1\nM30\n") == []


def test_a_step_that_mends_a_length_takes_the_finding_away() -> None:
    """Lengths are judged in the program as it is, not in the text that its pieces come from."""
    lines = ["G21 G0 X0", "N1234567 X1", "(" + "w" * 300 + ")", *(f"X{at}" for at in range(900))]
    program = Program.read(("\n".join(lines) + "\nM30\n").encode(), "lid.nc")
    cause = Cause("mend", 1)

    assert [(f.name, f.place.line) for f in limits(program) if f.place] == [
        ("line-number-long", 2),
        ("line-too-long", 3),
    ]
    shifted = program.edited([before(0, "(heading)")], cause)
    assert [f.place.line for f in limits(shifted) if f.place] == [3, 4]
    numbers = shifted.edited([replace(2, "X1")], cause)
    assert [f.name for f in limits(numbers)] == ["line-too-long"]
    assert list(limits(numbers.edited([delete(3)], cause))) == []
