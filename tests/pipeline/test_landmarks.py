"""Where steps insert: the start and end of the job's own part, its first cut, tool changes."""

from __future__ import annotations

from pathlib import Path

import pytest

from headrace import Landmarks, Program, State, after, before
from headrace.language import interpret
from headrace.program import Cause

JOBS = Path(__file__).parents[1] / "jobs"
CAUSE = Cause("test", 1)


def landmarks(program: Program) -> Landmarks:
    return Landmarks.of(program, interpret(program, start=State.at_zero()))


def of(text: str) -> Landmarks:
    return landmarks(Program.read(text.encode()))


def test_a_usual_job() -> None:
    found = of(
        "%\n(hive lid)\n(6 mm bit)\n\nG21 G90\nT1 M6\nG0 X1\nG1 Z-1 F300\nT2 M6\nG1 X2\nM30\n%\n"
    )

    assert found == Landmarks(start=4, end=10, first_cut=7, tool_changes=(5, 8))


@pytest.mark.parametrize(
    ("text", "start", "end"),
    [
        ("", 0, 0),
        ("\n\n", 2, 2),
        ("(only)\n(text)\n", 2, 2),
        ("(lid)\nM30\n", 1, 1),
        ("(lid)\nM30\nG0 X1\n", 1, 1),
        ("G0 X1\n", 0, 1),
        ("%\nG0 X1\n%\n", 1, 2),
        ("%\n%\n", 1, 1),
        ("(lid)\n\nN5 (n)\nN10 G21\nM2\n", 3, 4),
        ("#1=5\nG0 X#1\n", 0, 2),
        ("Q\nG0 X1\n", 0, 2),
        ("/G0 X1\nM30\n", 0, 1),
    ],
)
def test_where_the_jobs_own_part_is(text: str, start: int, end: int) -> None:
    found = of(text)

    assert (found.start, found.end) == (start, end)


@pytest.mark.parametrize("word", ["M0", "M1", "M60"])
def test_a_stop_and_its_text_stay_together(word: str) -> None:
    """Displays show the comment above a stop (common practice): nothing may come between."""
    assert of(f"(lid)\n(CLAMPS ON?)\n{word}\nG0 X1\n").start == 1
    assert of(f"(lid)\n\n{word}\nG0 X1\n").start == 2
    assert of(f"{word}\nG0 X1\n").start == 0
    assert of("(lid)\n(CLAMPS ON?)\nM3\nG0 X1\n").start == 2


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("G0 X1\nG0 Z5\nM30\n", None),
        ("G0 X1\nG1 X2 F100\n", 1),
        ("F100\nG2 X0 Y0 I5 J0\n", 1),
        ("F100\nG3 X0 Y0 I5 J0\n", 1),
        ("F100\nG81 X1 Y1 Z-2 R1\n", 1),
        ("F100\nG38.2 Z-5\nG1 Z1\n", 2),
        ("F100\nG28\nG1 Z1\n", 2),
        ("M30\nG1 X2 F100\n", None),
    ],
)
def test_the_first_cut(text: str, first: int | None) -> None:
    """A probe or a way home is no cut; nothing is cut behind the end (RS274/NGC 3.6.1)."""
    assert of(text).first_cut == first


def test_lines_that_steps_added_are_not_the_jobs_own() -> None:
    program = Program.read(b"(lid)\nG21\nG1 X2 F100\nM30\n")
    program = program.edited([before(0, "G0 Z5", "G1 Z4 F100"), after(0, "G1 Z3 F100")], CAUSE)
    found = landmarks(program)

    assert [line.text for line in program][:4] == ["G0 Z5", "G1 Z4 F100", "(lid)", "G1 Z3 F100"]
    assert found.start == 4
    assert program[found.start].text == "G21"
    assert found.first_cut == 5
    assert found.end == 6


def test_a_first_cut_in_a_program_of_added_lines_only() -> None:
    program = Program.read(b"").edited([before(0, "G1 X1 F100", "G1 X2")], CAUSE)

    assert landmarks(program) == Landmarks(start=2, end=2, first_cut=None, tool_changes=())


def test_an_added_stop_is_not_taken_for_the_jobs() -> None:
    """The comment above must be the job's own too."""
    program = Program.read(b"(lid)\nM0\nG0 X1\n").edited([after(0, "(added)")], CAUSE)

    assert landmarks(program).start == 2


def test_a_first_cut_behind_many_added_ones() -> None:
    """Programs of which the first thousand cuts were all added by a step."""
    job = Program.read(b"G21 F100\nG1 X1\n" + b"X2\n" * 5)
    program = job.edited([after(0, "G1 X9", *(f"X[{at}]" for at in range(1500)))], CAUSE)

    first = landmarks(program).first_cut
    assert first is not None
    assert program[first].origin == 1


@pytest.mark.parametrize("path", sorted(JOBS.glob("*.nc")), ids=lambda path: path.name)
def test_landmarks_of_awkward_files(path: Path) -> None:
    program = Program.read(path.read_bytes())
    found = landmarks(program)

    assert 0 <= found.start <= found.end <= len(program)
    assert not any(program[at].is_code for at in range(found.start)) or program[found.start].has(
        "M"
    )
    if found.first_cut is not None:
        assert found.start <= found.first_cut <= found.end
        assert found.first_cut == interpret_first_cut(program)


def interpret_first_cut(program: Program) -> int:
    """The line before which the trace has no cutting move and behind which it has one."""
    for line in program:
        kinds = interpret(program, start=State.at_zero(), before_line=line.index + 1).kind
        if ((kinds >= 1) & (kinds <= 3)).any():
            return line.index
    raise AssertionError("no cut")
