"""Edits against a plain list of lines.

The model knows nothing of pieces: it is a list, and an edit is done to it by slicing. Line ends are
those that RS274/NGC 3.3 and common practice allow: LF, CR LF and a lone CR.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from dataclasses import replace as with_
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headrace import Edit, PluginError, after, before, delete, replace, rewrite
from headrace.findings import Place
from headrace.program import Action, Cause, Program
from headrace.program import editing as editing_module

CAUSES = tuple(Cause(name, at) for at, name in enumerate(("home", "spindle", "park"), 1))
BOM = b"\xef\xbb\xbf"


@dataclass(frozen=True)
class Row:
    """One line of the model."""

    text: str
    id: int
    cause: Cause | None = None
    asks: str | None = None


@dataclass(frozen=True)
class Model:
    """Lines, and the next free id."""

    rows: tuple[Row, ...]
    next_id: int

    @classmethod
    def of(cls, texts: list[str]) -> Model:
        return cls(tuple(Row(text, at) for at, text in enumerate(texts)), len(texts))

    def edited(self, edits: list[Edit], cause: Cause) -> Model:
        """By lines, and at one line what goes before it, the line, what goes behind it."""
        rows: list[Row] = []
        free = self.next_id

        def put(wanted: list[Edit]) -> None:
            nonlocal free
            for edit in wanted:
                for text in edit.texts:
                    rows.append(Row(text, free, cause, edit.asks))
                    free += 1

        skip = 0
        for at in range(len(self.rows) + 1):
            here = [edit for edit in edits if edit.line == at]
            stretch = next((edit.stretch for edit in here if edit.stretch is not None), None)
            if stretch is not None:
                texts = [part.rstrip(b"\r\n").decode() for part in stretch.data.split(b"\n")[:-1]]
                kept = range(at, stretch.stop) if stretch.kept is None else stretch.kept.tolist()
                for index, text in zip(kept, texts, strict=True):
                    old = self.rows[index]
                    rows.append(old if text == old.text else with_(old, text=text, cause=cause))
                skip = stretch.stop
            if at < skip:
                continue
            put([edit for edit in here if edit.action is Action.BEFORE])
            if at == len(self.rows):
                break
            old = self.rows[at]
            news = [edit for edit in here if edit.action in (Action.REPLACE, Action.DELETE)]
            if news:
                rows += [
                    Row(text, old.id, cause, news[0].asks or old.asks) for text in news[0].texts
                ]
            else:
                rows.append(old)
            put([edit for edit in here if edit.action is Action.AFTER])
        return Model(tuple(rows), free)


def rows_of(program: Program) -> tuple[Row, ...]:
    return tuple(Row(line.text, line.id, line.cause, line.asks) for line in program)


def check_against(program: Program, model: Model, job: list[str]) -> None:
    assert rows_of(program) == model.rows
    assert program.next_id == model.next_id
    ids = np.array([row.id for row in model.rows], np.int32)
    for step in (1, 2, -1):
        lines = np.arange(len(program))[::step]
        assert np.array_equal(program.ids(lines), ids[lines])
    assert len(program) == len(model.rows)
    for index, row in enumerate(model.rows):
        line = program[index]
        assert line.index == index
        assert line.origin == (row.id if row.id < len(job) else None)
    # the bytes say the same to whoever reads them next
    data = program.to_bytes()
    assert data == b"".join(line.raw for line in program)
    again = Program.read(data)
    assert [line.text for line in again] == [row.text for row in model.rows]


TEXTS = st.sampled_from(["", "G1 X1", "(bee)", "M3 S18000", "X2 Y3", "N5 G0 Z5", "(wabe ü)", " "])
ENDS = st.sampled_from(["\n", "\r\n", "\r"])


@st.composite
def jobs(draw: st.DrawFn, most: int = 12) -> tuple[bytes, list[str]]:
    """The bytes of a job and the texts of its lines."""
    texts = draw(st.lists(TEXTS, max_size=most))
    ends = draw(st.lists(ENDS, min_size=len(texts), max_size=len(texts)))
    data = b"".join((text + end).encode() for text, end in zip(texts, ends, strict=True))
    if texts and texts[-1] and draw(st.booleans()):
        data = data[: -len(ends[-1])]
    if draw(st.sampled_from([False, False, False, True])):
        data = BOM + data
    program = Program.read(data)
    return data, [line.text for line in program]


@st.composite
def some_edits(draw: st.DrawFn, length: int) -> list[Edit]:
    """Edits that agree with one another, in any order."""
    edits: list[Edit] = []
    asks = st.sampled_from([None, None, "clip-on", "spindle-off"])
    texts = st.lists(TEXTS, min_size=1, max_size=3)
    for line in range(length + 1):
        kinds = draw(st.lists(st.sampled_from("--bardb"), max_size=3))
        own = False
        for kind in kinds:
            if kind == "b":
                edits.append(before(line, *draw(texts), asks=draw(asks)))
            elif kind == "a" and line < length:
                edits.append(after(line, *draw(texts), asks=draw(asks)))
            elif kind in "rd" and line < length and not own:
                own = True
                new = replace(line, *draw(texts), asks=draw(asks))
                edits.append(new if kind == "r" else delete(line))
    # edits may come in any order of lines; those of one line keep theirs
    lines = draw(st.permutations(range(length + 1)))
    return [edit for line in lines for edit in edits if edit.line == line]


@given(jobs(), st.data())
@settings(max_examples=250, deadline=None)
def test_edits_against_a_list_of_lines(job: tuple[bytes, list[str]], data: st.DataObject) -> None:
    source, texts = job
    program, model = Program.read(source, "lid.nc"), Model.of(texts)
    for cause in CAUSES:
        edits = data.draw(some_edits(len(program)))
        before_bytes = program.to_bytes()
        edited = program.edited(edits, cause)
        model = model.edited(edits, cause)

        check_against(edited, model, texts)
        assert program.to_bytes() == before_bytes, "the old program stays what it was"
        assert (edited.name, edited.job_lines) == ("lid.nc", len(texts))
        program = edited


@given(jobs(), st.data())
@settings(max_examples=100, deadline=None)
def test_untouched_lines_keep_their_bytes(
    job: tuple[bytes, list[str]], data: st.DataObject
) -> None:
    """But for the line end of a last line that another one follows now, and for a line end that
    would melt together with the one before it."""
    program = Program.read(job[0])
    edited = program.edited(data.draw(some_edits(len(program))), CAUSES[0])

    was = {line.id: line.raw for line in program}
    for line in edited:
        if line.cause is None and line.origin is not None:
            raw, old = line.raw.removeprefix(BOM), was[line.id].removeprefix(BOM)
            if raw != old:
                unended = not old.endswith((b"\r", b"\n"))
                assert unended or (old, raw) == (b"\n", b"\r\n")
                assert raw.rstrip(b"\r\n") == old.rstrip(b"\r\n")


@given(jobs(), st.data())
@settings(max_examples=100, deadline=None)
def test_many_pieces_are_joined_without_a_trace(
    job: tuple[bytes, list[str]], data: st.DataObject
) -> None:
    """The limit on pieces changes nothing that can be seen, but for the line end that most lines
    of the longest text have."""
    program = Program.read(job[0])
    edits = [data.draw(some_edits(len(program)))]
    apart = program.edited(edits[0], CAUSES[0])
    edits.append(data.draw(some_edits(len(apart))))
    apart = apart.edited(edits[1], CAUSES[1])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(editing_module, "_MOST_PIECES", 0)
        joined = program.edited(edits[0], CAUSES[0]).edited(edits[1], CAUSES[1])

    assert len(joined.pieces) <= 1 or not edits[1]
    assert rows_of(joined) == rows_of(apart)
    assert joined.to_bytes().splitlines() == apart.to_bytes().splitlines()
    assert Program.read(joined.to_bytes()).job_lines == len(joined)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("seed", range(3))
def test_more_pieces_than_are_kept(seed: int, end: str) -> None:
    rng = random.Random(seed)
    texts = [f"G1 X{at}" for at in range(6000)]
    program = Program.read("".join(text + end for text in texts).encode())
    model = Model.of(texts)
    for cause in CAUSES:
        edits: list[Edit] = []
        for at in range(len(program)):
            if rng.random() < 0.5:
                make: Callable[[int], Edit] = rng.choice(
                    [delete, lambda i: replace(i, "G0", "G0"), lambda i: after(i, "(wax)")]
                )
                edits.append(make(at))
        program, model = program.edited(edits, cause), model.edited(edits, cause)
        check_against(program, model, texts)
        assert len(program.pieces) == 1


# --- stretches --------------------------------------------------------------------------------


@given(st.lists(TEXTS, min_size=1, max_size=12), st.data())
@settings(max_examples=200, deadline=None)
def test_rewritten_stretches(texts: list[str], data: st.DataObject) -> None:
    """Behind other edits, so that a stretch runs over many pieces."""
    program = Program.read("".join(text + "\n" for text in texts).encode())
    model = Model.of(texts)
    edits = [edit for edit in data.draw(some_edits(len(program))) if edit.asks is None]
    program, model = program.edited(edits, CAUSES[0]), model.edited(edits, CAUSES[0])
    start = data.draw(st.integers(0, len(program)))
    stop = data.draw(st.integers(start, len(program)))
    kept = (
        sorted(data.draw(st.sets(st.integers(start, max(start, stop - 1))))) if stop > start else []
    )
    news = [data.draw(st.sampled_from([model.rows[at].text, "G1 X9"])) for at in kept]
    whole = len(kept) == stop - start and data.draw(st.booleans())
    edit = rewrite(
        start,
        stop,
        "".join(text + "\n" for text in news).encode(),
        None if whole else np.array(kept, np.int64),
    )
    if start == len(program):
        return
    edited = program.edited([edit], CAUSES[1])

    check_against(edited, model.edited([edit], CAUSES[1]), texts)


def test_edits_around_a_stretch() -> None:
    program = Program.read(b"a1\nb1\nc1\nd1\n")
    edits = [before(0, "first"), rewrite(1, 3, b"b2\nc1\n"), delete(3), before(4, "last")]
    edited = program.edited(edits, CAUSES[0])

    assert edited.to_bytes() == b"first\na1\nb2\nc1\nlast\n"
    assert [line.cause for line in edited] == [CAUSES[0], None, CAUSES[0], None, CAUSES[0]]
    assert [line.id for line in edited] == [4, 0, 1, 2, 5]


def test_a_stretch_keeps_what_the_operator_was_asked() -> None:
    program = Program.read(b"G0 X1\nG0 X2\nG0 X3\n")
    program = program.edited(
        [after(0, "M0", asks="clip-on"), before(3, "M0", asks="end")], CAUSES[0]
    )
    edited = program.edited([rewrite(0, 4, b"G0 X1\nM00\nG0 X3\n", np.array([0, 1, 3]))], CAUSES[1])

    assert [line.asks for line in edited] == [None, "clip-on", None, "end"]
    assert [line.text for line in edited] == ["G0 X1", "M00", "G0 X3", "M0"]
    with pytest.raises(PluginError, match="without a line that asks the operator"):
        program.edited([rewrite(0, 4, b"G0 X1\nG0 X3\n", np.array([0, 3]))], CAUSES[1])


# --- contradictions ---------------------------------------------------------------------------

SOURCE = b"G21\nG0 X1\nG1 X2 F100\nM30\n"


def contradictions() -> Iterator[tuple[str, list[Edit], str]]:
    yield (
        "replaced twice",
        [replace(1, "a"), replace(1, "b")],
        "line 2 is replaced or deleted twice",
    )
    yield (
        "replaced and deleted",
        [replace(1, "a"), delete(1)],
        "line 2 is replaced or deleted twice",
    )
    yield "before the first", [before(-1, "a")], "line 0, which is not there"
    yield "behind the end", [before(5, "a")], "line 6, which is not there"
    yield "after the end", [after(4, "a")], "line 5, which is not there"
    yield "no such line", [delete(4)], "line 5, which is not there"
    yield "several lines", [before(0, "G0 X1\nG0 X2")], "a text of several lines"
    yield "several lines by CR", [replace(0, "G0 X1\rG0 X2")], "a text of several lines"
    yield "two stretches", [rewrite(0, 2, b"a\nb\n"), rewrite(1, 3, b"c\nd\n")], "inside a stretch"
    yield "inside", [rewrite(0, 3, b"a\nb\nc\n"), delete(1)], "line 2 inside a stretch"
    yield "at its start", [rewrite(1, 3, b"a\nb\n"), before(1, "c")], "where a stretch begins"
    yield "too few lines", [rewrite(0, 2, b"a\n")], "1 lines in the place of 2"
    yield "too many lines", [rewrite(0, 2, b"a\nb\nc\n")], "3 lines in the place of 2"
    yield "beyond the end", [rewrite(2, 9, b"a\n" * 7)], "7 lines in the place of 2, from line 3"


@pytest.mark.parametrize(
    ("edits", "said"), [case[1:] for case in contradictions()], ids=[c[0] for c in contradictions()]
)
def test_contradictory_edits_are_refused(edits: list[Edit], said: str) -> None:
    program = Program.read(SOURCE)
    cause = Cause("slip", 3, Place("lids.yaml", 9, 5))

    with pytest.raises(PluginError) as refusal:
        program.edited(edits, cause)
    finding = refusal.value.findings[0]
    assert finding.name == "edits-faulty"
    assert "`slip`" in finding.what
    assert said in finding.what
    assert finding.place == cause.place
    assert program.to_bytes() == SOURCE


@pytest.mark.parametrize(
    ("edits", "said"),
    [
        (["G0 X1"], "'G0 X1', which is no edit"),
        ([Edit(0, Action.BEFORE, (5,))], "5 as a line, which is no text"),
    ],
)
def test_what_is_no_edit_is_refused(edits: Any, said: str) -> None:
    with pytest.raises(PluginError, match=said):
        Program.read(SOURCE).edited(edits, CAUSES[0])


def test_nothing_to_do_gives_the_same_program() -> None:
    program = Program.read(SOURCE)

    assert program.edited([], CAUSES[0]) is program
    assert program.edited(iter(()), CAUSES[0]) is program


# --- small certain things ---------------------------------------------------------------------


def test_new_lines_take_the_line_end_of_the_file() -> None:
    for end in (b"\n", b"\r\n", b"\r"):
        program = Program.read(SOURCE.replace(b"\n", end))
        edited = program.edited(
            [before(0, "(lid)"), replace(1, "G0 X9"), before(4, "%")], CAUSES[0]
        )
        assert edited.to_bytes() == b"(lid)\nG21\nG0 X9\nG1 X2 F100\nM30\n%\n".replace(b"\n", end)


def test_a_last_line_without_an_end_gets_one_when_another_follows() -> None:
    program = Program.read(b"G21\r\nM5\r\nM30")

    assert program.edited([before(3, "%")], CAUSES[0]).to_bytes() == b"G21\r\nM5\r\nM30\r\n%\r\n"
    assert program.edited([after(2, "%")], CAUSES[0]).to_bytes() == b"G21\r\nM5\r\nM30\r\n%\r\n"
    kept = program.edited([before(2, "(end)")], CAUSES[0])
    assert kept.to_bytes() == b"G21\r\nM5\r\n(end)\r\nM30"
    assert [line.cause for line in program.edited([before(3, "%")], CAUSES[0])][:3] == [None] * 3


def test_what_is_asked_stays_with_a_last_line_that_gets_an_end() -> None:
    program = Program.read(b"G21\nM0").edited([replace(1, "M0", asks="clip-on")], CAUSES[0])
    unended = program.edited([rewrite(0, 2, b"G21\nM0")], CAUSES[1])
    edited = unended.edited([before(2, "M30")], CAUSES[2])

    assert [line.asks for line in edited] == [None, "clip-on", None]
    assert edited.to_bytes() == b"G21\nM0\nM30\n"


def test_line_ends_never_melt_together() -> None:
    """A lone CR and the LF of an empty line behind it would read as one line end, CR LF."""
    program = Program.read(b"G21\rG0 X1\r\nG0 X2\n\nM30\n")
    assert len(program) == 5
    edited = program.edited([delete(1), delete(2)], CAUSES[0])

    assert [line.text for line in edited] == ["G21", "", "M30"]
    assert [line.text for line in Program.read(edited.to_bytes())] == ["G21", "", "M30"]
    assert [line.id for line in edited] == [0, 3, 4]
    chain = Program.read(b"G21\rG0 X1\r\n\n\nM30\n").edited([delete(1)], CAUSES[0])
    assert [line.text for line in Program.read(chain.to_bytes())] == ["G21", "", "", "M30"]
    for edits in ([delete(1), before(2, "", "")], [replace(0, "", ""), replace(1, "", "")]):
        edited = program.edited(edits, CAUSES[0])
        assert len(Program.read(edited.to_bytes())) == len(edited)


def test_a_byte_order_mark_stays_at_the_beginning() -> None:
    program = Program.read(BOM + b"G21\nM30\n")
    edited = program.edited([before(0, "(lid)", "(oak)")], CAUSES[0])

    assert edited.to_bytes() == BOM + b"(lid)\n(oak)\nG21\nM30\n"
    assert [line.text for line in edited] == ["(lid)", "(oak)", "G21", "M30"]
    assert not any(line.scan.faults for line in edited)
    again = edited.edited([before(0, "%")], CAUSES[1])
    assert again.to_bytes() == BOM + b"%\n(lid)\n(oak)\nG21\nM30\n"
    assert program.edited([before(0), after(0, "G90")], CAUSES[0]).to_bytes() == (
        BOM + b"G21\nG90\nM30\n"
    )


def test_a_line_in_latin_1_is_replaced_in_latin_1() -> None:
    program = Program.read("(Weißtanne)\nG21\n".encode("latin-1"))
    edited = program.edited([replace(0, program[0].text.upper() + " ß")], CAUSES[0])

    assert edited.to_bytes() == "(WEISSTANNE) ß\nG21\n".encode("latin-1")
    wider = program.edited([replace(0, "(\u2192)")], CAUSES[0])
    assert wider.to_bytes() == b"(\\u2192)\nG21\n", "no letter is lost that Latin-1 has not"


def test_lines_out_of_range() -> None:
    program = Program.read(SOURCE)

    for index in (-1, 4):
        with pytest.raises(IndexError, match="a program of 4 lines"):
            program[index]


def test_words_of_a_line() -> None:
    line = Program.read(b"N10 G1 X[1+1] Y2.50 (edge) F900 Y3\n")[0]

    assert line.get("Y") is not None
    assert str(line.get("Y")) == "2.50"
    assert line.get("X") is None
    assert line.get("Z") is None
    assert line.has("X")
    assert not line.has("X", 2)
    assert line.has("F", 900)
    assert not line.has("F", 901)
    assert line.without(*(word for word in line.words if word.letter == "F")) == (
        "N10 G1 X[1+1] Y2.50 (edge) Y3"
    )
    assert repr(line) == "<line 1: 'N10 G1 X[1+1] Y2.50 (edge) F900 Y3'>"
    first = Program.read(b"G1 X1\n")[0]
    assert first.without(first.words[0]) == "X1"
