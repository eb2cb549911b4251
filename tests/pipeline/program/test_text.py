"""Reading: lossless for every file, and in bulk the same as line by line."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headrace.program import Program, Text, scan
from headrace.program import text as text_module
from headrace.program.columns import COMMENT, ODD, RARE, Chunk

JOBS = sorted(
    path
    for folder in ("tests/jobs", "tests/jobs/refused", "recipes/jobs")
    for path in Path(__file__).parents[3].joinpath(folder).iterdir()
    if path.is_file() and path.suffix not in (".py", ".md")
)

_NUMBERS = st.sampled_from(
    ["1", "+1", "-1", "1.5", "-.004", "5.", "123456789", "0.123456789012345", "12345678.1234567",
     "12.123456789012345678", ".", "-", "1.2.3", "1-2", "", "1 2", " 7", "#1", "[1]", "é", "00012",
     "-.-2", "1e5", "9999999999999999", "0"]
)  # fmt: skip
_WORDS = st.builds(lambda a, b: a + b, st.sampled_from([*"GXYZMFIJKNgxABUOE"]), _NUMBERS)
_EXTRAS = st.sampled_from(
    ["/", "%", "N10", "(c)", "; hi G1", "(un", "((a) b)", "é", "\x00", "(MSG, hi)", "(\x07)", " "]
)
_LINES = st.builds(
    lambda parts, gap, end: gap.join(parts) + end,
    st.lists(st.one_of(_WORDS, _WORDS, _EXTRAS), max_size=5),
    st.sampled_from(["", " ", "\t"]),
    st.sampled_from(["\n", "\r\n", "\r"]),
)
_FILES = st.builds(lambda lines, cut: "".join(lines)[: None if cut else -1], st.lists(_LINES),
                   st.booleans())  # fmt: skip


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.name)
def test_every_job_is_written_as_it_was_read(path: Path) -> None:
    data = path.read_bytes()

    program = Program.read(data, path.name)

    assert program.to_bytes() == data
    assert b"".join(line.raw for line in program) == data


@given(st.one_of(st.binary(max_size=400), _FILES.map(str.encode)))
@settings(max_examples=300, deadline=None)
def test_any_bytes_are_written_as_they_were_read(data: bytes) -> None:
    text = Text(data)

    assert b"".join(text.raw(line) for line in range(len(text))) == data
    assert Program.read(data).to_bytes() == data


@given(st.binary(max_size=400))
@settings(max_examples=200, deadline=None)
def test_lines_end_where_the_standard_library_ends_them(data: bytes) -> None:
    """Outside reference: bytes.splitlines of Python, with LF, CR LF and CR as line ends."""
    text = Text(data)

    lines = [text.raw(line) for line in range(len(text))]

    assert lines == data.splitlines(keepends=True)


@given(_FILES, st.sampled_from([32, 64, 1 << 20]))
@settings(max_examples=400, deadline=None)
def test_bulk_reading_agrees_with_the_grammar(source: str, chunk: int) -> None:
    """Whatever the columns hold is what the grammar reads; where they hold nothing, it says so."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(text_module, "SMALL", 0)
        patch.setattr(text_module, "CHUNK_BYTES", chunk)
        text = Text(source.encode())
        lines = 0
        for part in text.chunks:
            assert part.first_line == lines
            lines += len(part)
            for at in range(len(part)):
                _compare_line(text, part, at)
    assert lines == len(text)


def _compare_line(text: Text, chunk: Chunk, at: int) -> None:
    line = text.scan(chunk.first_line + at)
    words = range(chunk.first_word[at], chunk.first_word[at + 1])
    assert bool(chunk.flags[at] & COMMENT) == bool(line.comments)
    if chunk.flags[at] & ODD:
        assert not words
        assert chunk.flags[at] & RARE
        return
    if line.fatal:
        assert line.fatal.name == "line-number-misplaced"
        assert chunk.flags[at] & RARE
        return
    got = [
        (chr(chunk.letter[w]), Decimal(int(chunk.mantissa[w])).scaleb(-int(chunk.scale[w])))
        for w in words
    ]
    wanted = [(word.letter, word.value) for word in line.words]
    if line.number is not None:
        wanted.insert(0, ("N", Decimal(line.number)))
    assert got == wanted
    assert not line.settings
    assert not line.block_delete
    assert not line.percent
    if not chunk.flags[at] & RARE:
        letters = [word.letter for word in line.words]
        assert len(set(letters)) == len(letters)
        assert set(letters) <= set("GXYZABCIJKRF")
        assert all(word.value in (0, 1, 2, 3) for word in line.words if word.letter == "G")


@given(st.decimals(allow_nan=False, allow_infinity=False, places=7, min_value=-99999,
                   max_value=99999))  # fmt: skip
def test_numbers_are_exact(value: Decimal) -> None:
    """Outside reference: decimal.Decimal of the standard library."""
    text = f"{value:f}"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(text_module, "SMALL", 0)
        chunk = Text(f"X{text}\n".encode()).chunks[0]

    assert Decimal(int(chunk.mantissa[0])).scaleb(-int(chunk.scale[0])) == value
    assert scan(f"X{text}").words[0].value == value
    assert float(chunk.mantissa[0] / 10.0 ** chunk.scale[0]) == float(text)


@pytest.mark.parametrize(
    ("text", "letter", "value"),
    [
        ("g0x +0. 12 34y 7", "X", "0.1234"),  # RS274/NGC 3.3 gives this line
        ("X5.", "X", "5"),
        ("X-.004", "X", "-0.004"),
        ("X+3", "X", "3"),
        ("X0.123456789012345", "X", "0.123456789012345"),
        ("G007", "G", "7"),
    ],
)
def test_numbers_are_read_as_the_language_has_them(text: str, letter: str, value: str) -> None:
    word = next(word for word in scan(text).words if word.letter == letter)

    assert word.value == Decimal(value)


@pytest.mark.parametrize(
    ("text", "name", "column", "length"),
    [
        ("G1 Z-.-2", "bad-number", 4, 3),
        ("X1.2.3", "bad-number", 1, 4),
        ("X--1", "bad-number", 1, 2),
        ("G1 X1E-5", "exponent", 5, 1),
        ("G1 X", "word-without-value", 3, 1),
        ("G1 E5", "unknown-letter", 3, 1),
        ("G1 X1 é", "bad-character", 6, 1),
        ("G1 N5", "line-number-misplaced", 3, 1),
        ("N5.5 G1", "line-number-bad", 0, 1),
        ("#5 X1", "setting-without-equals", 0, 1),
        ("X[1+2", "bracket-open", 1, 1),
        ("X[1 ? 2]", "unknown-operation", 4, 1),
        ("X[1+]", "value-expected", 4, 1),
        ("X SIN 5", "function-without-bracket", 2, 3),
        ("X ATAN[1]", "atan-form", 2, 4),
        ("X" + "[" * 60 + "1" + "]" * 60, "expression-deep", 52, 1),
        ("% hello", "bad-character", 2, 1),
        ("X5 (a", "comment-open", 3, 2),
        ("X5 (a (b) c)", "comment-nested", 3, 9),
    ],
)
def test_faults_have_a_name_and_a_place(text: str, name: str, column: int, length: int) -> None:
    fault = scan(text).faults[0]

    assert (fault.name, fault.column, fault.length) == (name, column, length)


def test_spans_lead_back_to_the_text() -> None:
    text = "N10 g1 x 1.5 (edge) Y[1+2] ; done"

    line = scan(text)

    assert [text[word.start : word.end] for word in line.words] == ["g1", "x 1.5", "Y[1+2]"]
    assert [text[c.start : c.end] for c in line.comments] == ["(edge)", "; done"]
    assert line.number_span == (0, 3)


def test_words_are_found_by_letter_and_number() -> None:
    lines = ["G21", "(M3)", "M3 S18000", "G1 X1 F600", "X2", "M5", "g01 x3", "M30 ; M3"]
    data = "\n".join(lines).encode()
    for small in (0, 1 << 20):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(text_module, "SMALL", small)
            program = Program.read(data)

            assert program.lines_with("M", 3, 5).tolist() == [2, 5]
            assert program.lines_with("X").tolist() == [3, 4, 6]
            assert program.lines_with("G", 1).tolist() == [3, 6]
            assert program.lines_with("Q").tolist() == []
            assert program.lines_with_comments().tolist() == [1, 7]


@pytest.mark.parametrize(
    "make",
    [
        lambda size: "(" * size,
        lambda size: "()" * (size // 2),
        lambda size: "[" * size,
        lambda size: "X" + "1" * size,
        lambda size: "X1 " * (size // 3),
        lambda size: "X[1" + "+1" * (size // 2) + "]",
        lambda size: "E" * size,
        lambda size: "-" * size,
        lambda size: " " * size,
        lambda size: "N" + "9" * size,
        lambda size: ";" * size,
        lambda size: "#1=" * (size // 3),
    ],
    ids=["open", "pairs", "brackets", "digits", "words", "sum", "letters", "signs", "blanks",
         "number", "semicolons", "settings"],
)  # fmt: skip
def test_hostile_lines_are_read_without_a_crash(make: object) -> None:
    text = make(100_000)  # type: ignore[operator]

    line = scan(text)

    assert line.text == text
    assert Program.read(text.encode()).to_bytes() == text.encode()


def test_byte_order_mark_is_kept_and_not_read_as_a_character() -> None:
    data = b"\xef\xbb\xbfG21\nG0 X1\n"
    for small in (0, 1 << 20):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(text_module, "SMALL", small)
            program = Program.read(data)

            assert program.to_bytes() == data
            assert program.lines_with("G", 21).tolist() == [0]
            assert not program[0].scan.faults


def test_lines_of_latin_1_are_shown_without_loss() -> None:
    program = Program.read("(Größe) G0 X1\n".encode("latin-1"))

    assert program[0].text == "(Größe) G0 X1"


def test_no_pattern_has_nested_quantifiers() -> None:
    """A repeated group that itself repeats may take exponential time."""
    nested = re.compile(r"\([^()]*[+*][^()]*\)[+*]")
    for module in Path(text_module.__file__).parents[1].rglob("*.py"):
        for pattern in re.findall(r're\.compile\(\s*r?b?"([^"\n]*)"', module.read_text()):
            assert not nested.search(pattern), (module.name, pattern)


def test_lines_with_finer_numbers() -> None:
    """Python's own decimal counts the places."""
    lines = ["G0 X1.25", "G59.1", "N10 G1 Y-.125", "X 1 . 0 0 0 5", "(1.23456)", "Z5.", "M3 S1.5"]
    program = Program.read("\n".join(lines).encode())

    found = {places: program.lines_finer(places).tolist() for places in (0, 1, 2, 3)}

    assert found == {0: [0, 2, 3, 6], 1: [0, 2, 3], 2: [2, 3], 3: [3]}
    assert -int(Decimal("1.0005").as_tuple().exponent) == 4


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.name)
def test_lines_that_begin_with_a_slash(path: Path) -> None:
    """As the grammar takes each line apart by itself."""
    program = Program.read(path.read_bytes())

    found = program.lines_optional().tolist()

    assert found == [line.index for line in program if line.scan.block_delete]


def test_a_slash_behind_a_comment_in_a_comment() -> None:
    program = Program.read(b"((A))/G1 X1\n(B)/X2\nX3 (/)\n /X4\n")

    assert program.lines_optional().tolist() == [0, 1, 3]
