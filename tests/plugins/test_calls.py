"""Subprograms written out where they are called (common practice), against Python that does the
same with lists of lines."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from itertools import chain

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plugins.alike import WRITING, standard_job
from plugins.shop import refused, text, through

from headrace import Job, Program
from headrace.language import State, interpret
from headrace.proof import prove_run
from headrace.proof.second.follower import Dialect as SecondDialect
from headrace_transforms.expand_calls import needs_calls_expanded

HEAD = ["G21 G90 G17 F100", "G0 X0 Y0 Z5"]


def expanded(*lines: str, **fields: object) -> list[str]:
    source = standard_job(list(lines), **fields)
    assert source.trace.findings == ()
    return text(done_of(source))


def done_of(source: Job) -> Job:
    done = through(source, "expand-calls")
    proof = prove_run(source.program, [done.program], WRITING, False, SecondDialect({}))
    assert proof.breach is None, proof.breach
    assert proof.unread == 0
    return done


def test_what_stands_behind_the_end() -> None:
    found = expanded(
        "%", "O0007 (LID)", *HEAD, "N5 M98 P100 L2", "M98 P0200 (SIDE)", "M30",
        "O100", "N1 G91 G1 X5", "", "M98 P200", "G90", "N9 M99", "O200", "G1 Y5 (ON)", "M99", "%",
    )  # fmt: skip
    notch = ["G91 G1 X5", "G1 Y5 (ON)", "G90"]
    assert found == [
        "%", "(LID)", *HEAD, "N5 G91 G1 X5", *notch[1:], *notch, "(SIDE)", "G1 Y5 (ON)", "M30", "%",
    ]  # fmt: skip


def test_what_o_words_enclose() -> None:
    found = expanded("o100 sub", "G1 X5", "o100 endsub", *HEAD, "O100 CALL (A)", "O 100 call", "M2")
    assert found == [*HEAD, "(A)", "G1 X5", "G1 X5", "M2"]


def test_a_number_alone_goes() -> None:
    """Many exports begin with one (common practice); it does nothing."""
    lines = ["O1234", *HEAD, "M30"]
    assert expanded(*lines) == lines[1:]
    assert expanded("(LID)", "N10 O1234 (LID)", *HEAD, "M30")[1] == "N10 (LID)"
    assert needs_calls_expanded(standard_job(lines)) == {}
    assert needs_calls_expanded(standard_job(lines, subprograms=True)) is None
    assert needs_calls_expanded(standard_job(lines[1:])) is None


def test_optional_calls_stay_optional() -> None:
    tail = ["M30", "O5", "G1 X5", "(IN)", "Y5", "M99"]
    assert expanded(*HEAD, "/N3 M98 P5", *tail) == [*HEAD, "/N3 G1 X5", "/(IN)", "/Y5", "M30"]
    lines = [*HEAD, "M98 P5", "M30", "O5", "/G1 X5", "M99"]
    told = refused(standard_job(lines), "expand-calls")
    assert (told.name, told.place.line) == ("switch-decides", 6)


def test_stops_show_their_own_text() -> None:
    found = expanded(*HEAD, "M98 P5", "M30", "O5", "(TURN THE LID)", "M0", "M99")
    assert found == [*HEAD, "(TURN THE LID)", "M0", "M30"]


def faults(*lines: str) -> list[tuple[str, int]]:
    program = Program.read("".join(line + "\n" for line in lines).encode())
    found = interpret(program, start=State.at_zero()).findings
    return [(finding.name, finding.place.line if finding.place else 0) for finding in found]


@pytest.mark.parametrize(
    ("lines", "name", "line"),
    [
        (["M98 P5", "M30"], "subprogram-missing", 1),
        (["M98", "M30"], "subprogram", 1),
        (["G0 X1 M98 P5", "M30", "O5", "M99"], "subprogram", 1),
        (["M98 P[2+3]", "M30", "O5", "M99"], "subprogram", 1),
        (["M98 P5 L0", "M30", "O5", "M99"], "subprogram", 1),
        (["M98 P5 L1.5", "M30", "O5", "M99"], "subprogram", 1),
        (["M98 P5", "M30", "O5", "M98 P5", "M99"], "subprogram-endless", 1),
        (["M98 P5", "M30", "O5", "M98 P6", "M99", "O6", "M98 P5", "M99"], "subprogram-endless", 1),
        (["M98 P5 L1000000", "M30", "O5", "G0 X1", "X2", "M99"], "subprogram-endless", 1),
        (["M98 P5", "M30", "O5", "G0 X1"], "subprogram", 3),
        (["M98 P5", "M30", "O5", "G0 X1", "O6", "M99"], "subprogram", 5),
        (["M98 P5", "M30", "O5", "G0 X1 M99"], "subprogram", 4),
        (["M98 P5", "M30", "O5", "M99", "O5", "M99"], "subprogram", 5),
        (["M98 P5", "M30", "O5", "M30", "M99"], "subprogram", 4),
        (["M98 P5", "M30", "/O5", "M99"], "subprogram", 3),
        (["G0 X1", "M99", "M30"], "subprogram", 2),
        (["G0 X1", "O5", "G0 X2", "M30"], "subprogram", 2),
        (["O5", "O6", "M30"], "subprogram", 2),
        (["O5 sub", "G0 X1", "M30"], "subprogram", 3),
        (["O5 sub", "G0 X1", "M99", "O5 endsub", "O5 call", "M30"], "subprogram", 3),
        (["O5 sub", "#1=3", "O5 endsub", "O5 call", "M30"], "subprogram", 2),
        (["O5 sub", "X##40", "O5 endsub", "O5 call", "M30"], "subprogram", 2),
        (["O5 sub", "O6 endsub", "O5 call", "M30"], "subprogram", 2),
        (["O5 call [3]", "M30"], "subprogram", 1),
        (["O<lid> call", "M30"], "subprogram", 1),
        (["O5 if [1 GT 0]", "O5 endif", "M30"], "subprogram", 1),
    ],
)
def test_what_is_not_followed_is_told(lines: list[str], name: str, line: int) -> None:
    assert (name, line) in faults(*lines)


def test_nine_deep_and_no_deeper() -> None:
    def nested(deep: int) -> list[str]:
        rows = [[f"O{at}", f"M98 P{at + 1}", "M99"] for at in range(1, deep)]
        return ["M98 P1", "M30", *chain.from_iterable(rows), f"O{deep}", "G0 X1", "M99"]

    assert faults(*nested(9)) == []
    assert faults(*nested(10)) == [("subprogram-endless", 1)]


def test_many_calls_within_calls_are_counted_not_run() -> None:
    """A thousand calls of a thousand calls, nine deep, would be 10**27 lines."""
    rows = [[f"O{at}", *[f"M98 P{at + 1}"] * 1000, "M99"] for at in range(1, 9)]
    lines = ["M98 P1", "M30", *chain.from_iterable(rows), "O9", "G0 X1", "M99"]
    assert faults(*lines) == [("subprogram-endless", 1)]


def test_moves_happen_at_the_line_of_the_call() -> None:
    body = [f"G1 X{at} Y{at % 7}" for at in range(400)]  # long enough for reading in bulk
    source = standard_job([*HEAD, "M98 P5 L3", "G0 Z5", "M30", "O5", *body, "M99"])
    assert source.trace.line.tolist() == [1, *[2] * 1200, 3]
    np.testing.assert_array_equal(source.trace.ends(0)[1:-1], np.tile(np.arange(400.0), 3))


@dataclass
class Tree:
    """Lines, and calls of other trees so many times."""

    number: int
    parts: list[str | tuple[Tree, int]] = field(default_factory=list)

    def flat(self) -> list[str]:
        rows: list[str] = []
        for part in self.parts:
            rows += [part] if isinstance(part, str) else part[0].flat() * part[1]
        return rows

    def called(self, by_words: bool) -> list[str]:
        rows: list[str] = []
        for part in self.parts:
            if isinstance(part, str):
                rows.append(part)
            elif by_words:
                rows += [f"O{part[0].number} call"] * part[1]
            else:
                rows.append(f"M98 P{part[0].number} L{part[1]}")
        return rows


def trees(rng: random.Random) -> list[Tree]:
    """Some trees; the last calls those before it, and so on."""
    made: list[Tree] = []
    for number in range(rng.randint(1, 5)):
        tree = Tree(100 + number)
        for _ in range(rng.randint(1, 6)):
            if made and rng.random() < 0.4:
                tree.parts.append((rng.choice(made), rng.randint(1, 3)))
                continue
            x, y = rng.randint(-99, 99) / 10, rng.randint(-99, 99) / 10
            lines = [f"G1 X{x} Y{y}", f"G0 Z{abs(x)}", f"G91 X{y}", "G90", f"F{100 + abs(y)}"]
            lines += ["M3 S900", f"G4 P{abs(x)}", f"G90 G81 X{x} Z-3 R2", f"Y{y}", "G80 G0 X0"]
            tree.parts.append(rng.choice(lines))
        made.append(tree)
    return made


@given(st.randoms(use_true_random=False), st.booleans())
@settings(max_examples=60, deadline=None)
def test_generated_trees_of_calls(rng: random.Random, by_words: bool) -> None:
    *inner, main = trees(rng)
    bodies = [
        [f"O{tree.number} sub", *tree.called(True), f"O{tree.number} endsub"]
        if by_words
        else [f"O{tree.number}", *tree.called(False), "M99"]
        for tree in inner
    ]
    rng.shuffle(bodies)
    definitions = [line for body in bodies for line in body]
    lines = [*HEAD, *main.called(by_words), "M30"]
    lines = [*definitions, *lines] if by_words else [*lines, *definitions]
    flat = standard_job([*HEAD, *main.flat(), "M30"])
    source = standard_job(lines)
    np.testing.assert_array_equal(source.trace.kind, flat.trace.kind)
    for axis in range(3):
        np.testing.assert_array_equal(source.trace.ends(axis), flat.trace.ends(axis))
    assert [(e.kind, e.value) for e in source.trace.events] == [
        (e.kind, e.value) for e in flat.trace.events
    ]
    if flat.trace.findings:  # axis words without a motion: told, and nothing to write out
        return
    assert text(done_of(source)) == text(flat)
