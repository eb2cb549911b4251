"""Numbers in columns and written anew, checked against Python's `decimal` and `format`."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headrace.program import Numerals, Program
from headrace.program.numerals import MOST_DIGITS

JOBS = Path(__file__).parents[2] / "jobs"
FILES = sorted(path for path in JOBS.iterdir() if path.is_file() and path.name != "README.md")
PADDING = "".join(f"X{at}.125 Y-{at} Z.5\n" for at in range(400))
"""So much that a program is read in bulk."""


def numbers(sections: list[Numerals]) -> list[tuple[int, str, Decimal]]:
    return [
        (int(line), chr(letter), Decimal(int(mantissa)).scaleb(-int(scale)))
        for n in sections
        for line, letter, mantissa, scale in zip(n.line, n.letter, n.mantissa, n.scale, strict=True)
    ]


def expected(program: Program) -> list[tuple[int, str, Decimal]]:
    """What the grammar finds, line by line."""
    return [
        (line.index, word.letter, word.value)
        for line in program
        for word in line.words
        if word.value is not None and len(word.value.as_tuple().digits) <= MOST_DIGITS
    ]


@pytest.mark.parametrize("padding", ["", PADDING])
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_awkward_files_read_and_written(path: Path, padding: str) -> None:
    """The same numbers as the grammar finds; each doubled, and nothing else changed."""
    source = path.read_bytes()
    program = Program.read(padding.encode() + source)
    sections = Numerals.of(program, 0, len(program))
    assert numbers(sections) == expected(program)
    whole = b"".join(n.written(np.ones(len(n), bool), n.mantissa * 2, n.scale) for n in sections)
    assert b"".join(n.written(np.zeros(len(n), bool), n.mantissa, n.scale) for n in sections) == (
        program.to_bytes()
    )
    doubled = Program.read(whole)
    assert [(at, letter, 2 * value) for at, letter, value in expected(program)] == expected(doubled)
    figures = re.compile(rb"[-+0-9. \t]")
    assert figures.sub(b"", whole) == figures.sub(b"", program.to_bytes())
    assert len(doubled) == len(program)
    for old, new in zip(program, doubled, strict=True):
        assert [c.text for c in old.comments] == [c.text for c in new.comments]
        assert old.scan.number == new.scan.number


@given(
    st.lists(
        st.tuples(
            st.integers(-(10**14) + 1, 10**14 - 1), st.integers(0, 14), st.booleans(), st.booleans()
        ),
        min_size=1,
        max_size=60,
    )
)
def test_numbers_are_plain_decimals(cases: list[tuple[int, int, bool, bool]]) -> None:
    """No exponent, no zeros behind what counts, no -0, a figure at least; a point if asked for."""
    program = Program.read((PADDING + "".join("G1X7Y8.50(X9)\n" for _ in cases)).encode())
    (n,) = Numerals.of(program, 400, len(program))
    assert len(n) == 3 * len(cases)
    mantissa, scale = n.mantissa.copy(), n.scale.copy()
    which, point = np.zeros(len(n), bool), np.zeros(len(n), bool)
    texts = []
    for at, (value, places, keep, pointed) in enumerate(cases):
        mantissa[3 * at + 1], scale[3 * at + 1] = value, places
        which[3 * at + 1], point[3 * at + 1] = not keep, pointed
        text = format(Decimal(value).scaleb(-places), "f")
        text = text.rstrip("0").rstrip(".") if "." in text else text
        text = "0" if text == "-0" else text
        text += "." if pointed and "." not in text else ""
        texts.append(b"G1X%sY8.50(X9)\n" % (b"7" if keep else text.encode()))
    assert n.written(which, mantissa, scale, point) == b"".join(texts)


def test_points_are_told() -> None:
    program = Program.read((PADDING + "G1 X5. Y5 Z.5 F 9 . (1.5)\nG1 X 5 . 0 Y7\n").encode())
    (n,) = Numerals.of(program, 400, 402)
    assert n.pointed.tolist() == [False, True, False, True, True, False, True, False]


def test_what_is_no_number_is_told() -> None:
    program = Program.read(b"G1 X[1+2] Y4\n#1=5\nG1 X1234567890123456789 Y2\nG1 X2\n")
    (n,) = Numerals.of(program, 0, 4)
    assert n.unread.tolist() == [0, 1, 2]
    assert numbers([n])[:2] == [(0, "G", Decimal(1)), (0, "Y", Decimal(4))]


def test_lines_that_steps_wrote_and_parts_of_a_program() -> None:
    from headrace.program import Cause, before, replace

    program = Program.read(PADDING.encode())
    edited = program.edited([before(7, "G4 P3"), replace(9, "X1", "Y2")], Cause("step", 1))
    sections = Numerals.of(edited, 5, 14)
    assert numbers(sections) == [each for each in expected(edited) if 5 <= each[0] < 14]
    assert sections[0].start == 5
    assert sections[-1].stop == 14
