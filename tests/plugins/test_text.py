"""Steps that touch nothing but text: strip, renumber, comments."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plugins.shop import JOBS, job, refused, text, through

from headrace import Program

NOT_TEXT = sorted(path for path in JOBS.iterdir() if path.is_file() and path.name != "README.md")


class TestStrip:
    """Blank lines, blanks, line ends."""

    def test_blank_lines(self) -> None:
        done = through(job("G21\n\n \t\nG0 X1\n\nM30\n\n"), "strip")
        assert done.program.to_bytes() == b"G21\nG0 X1\nM30\n\n"

    def test_blanks_outside_comments(self) -> None:
        source = "N10 G0  X 1 ( A (B) C ) Y2 ; left  alone\nG1 (not closed  X1\nM30 \n"
        done = through(job(source), ("strip", {"spaces": True}))
        assert text(done) == ["N10G0X1( A (B) C )Y2; left  alone", "G1(not closed  X1", "M30"]

    def test_line_ends(self) -> None:
        done = through(job("G21\rG0 X1\nM30", "relay"), "strip")
        assert done.program.to_bytes() == b"G21\r\nG0 X1\r\nM30\r\n"
        done = through(job("G21\r\nM30"), ("strip", {"line-ends": "keep"}))
        assert done.program.to_bytes() == b"G21\r\nM30"

    def test_what_stands_behind_the_end_is_left_alone(self) -> None:
        done = through(job("M30\n\n  some  text\n"), ("strip", {"spaces": True}))
        assert done.program.to_bytes() == b"M30\n\n  some  text\n"

    def test_nothing_to_do(self) -> None:
        source = job("G21\nM30\n")
        assert through(source, "strip").program is source.program

    def test_lines_stay_what_they_are(self) -> None:
        done = through(job("G21\n\nG0 X1\nM30\n"), "home", ("strip", {"spaces": True}))
        origins = [line.origin for line in done.program]
        assert origins == [None, None, 0, 2, 3]
        causes = [line.cause and line.cause.step for line in done.program]
        assert causes == ["strip", "strip", None, "strip", None]


class TestRenumber:
    """N words."""

    def test_only_lines_with_words(self) -> None:
        source = "%\nN7 G21\n(A)\n\nN3(B)\n/ N9 G0 X1\n  m3 ; C\nM30\n%\nG9\n"
        done = through(job(source), ("renumber", {"from": 5, "step": 5}))
        assert text(done) == [
            "%", "N5 G21", "(A)", "", "(B)", "/N10 G0 X1", "N15 m3 ; C", "N20 M30", "%", "G9",
        ]  # fmt: skip

    def test_removal(self) -> None:
        source = "N1G0X1\n n 2 0 X2\n(C) N3 X3\n/N4 X4\nN5\nM30\nN6 X9\n"
        done = through(job(source), ("renumber", {"remove": True}))
        assert text(done) == ["G0X1", " X2", "(C) X3", "/X4", "", "M30", "N6 X9"]

    def test_a_lone_return_ends_a_line(self) -> None:
        done = through(job(b"N1 G0 X1\rN2 X2\rM30\r"), "renumber")
        assert done.program.to_bytes() == b"N10 G0 X1\rN20 X2\rN30 M30\r"

    def test_numbers_run_out(self) -> None:
        source = job("G0 X1\n" * 10_000)
        finding = refused(source, "renumber")
        assert finding.name == "line-numbers-run-out"
        step = re.search(r"at most (\d+)", finding.remedy)
        assert step
        through(source, ("renumber", {"step": int(step[1])}))
        more = ("renumber", {"step": int(step[1]) + 1})
        assert refused(source, more).name == "line-numbers-run-out"

    def test_a_line_without_room(self) -> None:
        long = "G0 X1 (" + "A" * 72 + ")\n"
        finding = refused(job(long), "renumber")
        assert finding.name == "line-no-room"
        assert finding.place.line == 1

    @pytest.mark.parametrize(("wanted", "remove"), [("required", True), ("refused", False)])
    def test_against_the_machine(self, wanted: str, remove: bool) -> None:
        odd = job("G21\n", changes={"line/numbers": wanted})
        finding = refused(odd, ("renumber", {"remove": remove}))
        assert finding.name == "line-numbers-contradict"


class TestComments:
    """The machine's style."""

    def test_style_and_length(self) -> None:
        source = "(A LONG HEADING OF A JOB)\nG0 X1 ; right (inner) part\nM30\n"
        done = through(job(source, "relay"), ("comments", {"width": 12}))
        assert text(done) == ["(A LONG HEA..)", "G0 X1 (right [inn..)", "M30"]
        done = through(job(source, changes={"comments": "semicolon"}), "comments")
        assert text(done) == ["; A LONG HEADING OF A JOB", "G0 X1 ; right [inner] part", "M30"]
        done = through(job(source, changes={"comments": "none"}), "comments")
        assert text(done) == ["G0 X1", "M30"]

    def test_a_comment_between_words_stays_there(self) -> None:
        assert text(through(job("G0 (é) X1\n"), "comments")) == ["G0 (e) X1"]

    def test_several_comments_get_lines_of_their_own(self) -> None:
        source = "G0 (ONE) X1 (MSG, TWO) Y2 (THREE)\n"
        done = through(job(source), "comments")
        assert text(done) == ["(ONE)", "(THREE)", "G0 X1 (MSG, TWO) Y2"]
        assert str(done.trace.events[0].value).strip() == "TWO"

    def test_a_message_stays_a_message(self) -> None:
        done = through(
            job("( msg , BEES WITHIN, CLOSE THE SHUTTER)\n"), ("comments", {"width": 20})
        )
        assert text(done) == ["( msg , BEES WITHIN..)"]
        message = done.program[0].comments[0].message
        assert message is not None
        assert message.strip() == "BEES WITHIN.."

    def test_open_and_nested_comments_are_mended(self) -> None:
        done = through(job("G0 X1 (OPEN\n(A (B) C)\n"), "comments")
        assert text(done) == ["G0 X1 (OPEN)", "(A [B] C)"]
        assert not done.trace.findings

    def test_what_is_no_ascii(self) -> None:
        done = through(job("(Honigräume µ)\n".encode("latin-1")), "comments")
        assert text(done) == ["(Honigraume ?)"]
        kept = through(job("(Honigräume)\n"), ("comments", {"ascii": False}))
        assert text(kept) == ["(Honigräume)"]

    def test_a_greek_question_mark_opens_no_comment(self) -> None:
        """U+037E is canonically equal to the semicolon (Unicode 15.1, UnicodeData.txt)."""
        assert text(through(job("(LID\u037e BODY)\n"), "comments")) == ["(LID, BODY)"]

    @pytest.mark.parametrize("style", ["parentheses", "semicolon", "none"])
    @pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
    def test_many_lines_come_out_as_each_by_itself(self, style: str, end: str) -> None:
        """Long jobs are rewritten in stretches: the lines are the same, and so is what each is."""
        lines = [
            "G0 X1 ; Bär", "G0 X2 (A; B)", "G1 X3 (ONE)(TWO)", "(MSG, LOOK)", "G1 X4 (A (B) C)",
            "G1 X5", "(a comment that is longer than it may be)", "N5 G1 X6 (OPEN", "( )", ";", "",
        ] + [f"G1 X{n} ; side {n}" for n in range(60)]  # fmt: skip
        step = ("comments", {"width": 12})
        changes = {"comments": style}
        alone = [text(through(job(f"G21\n{line}\n", changes=changes), step))[1:] for line in lines]
        source = job(end.join(["G21", *lines, ""]), changes=changes)
        done = through(source, step)

        assert text(done)[1:] == [new for each in alone for new in each]
        raws = [line.raw for line in done.program]
        assert all(raw.endswith(end.encode()) for raw in raws)
        of_job = [line for line in done.program if line.origin is not None]
        for line in of_job:
            before = source.program[line.origin or 0].text
            assert (line.cause is not None) == (line.text != before), line

    def test_those_of_cam_go_and_those_of_the_operator_stay(self) -> None:
        source = "(HEADING)\n(CHANGE BIT)\nM0\nG0 X1 (SIDE)\n(MSG,LOOK)\nM30 (END)\n"
        done = through(
            job(source), ("pause", {"at": "end", "text": "HI"}), ("comments", {"keep": "none"})
        )
        assert text(done) == ["(CHANGE BIT)", "M0", "G0 X1", "(MSG,LOOK)", "(HI)", "M0", "M30"]

    def test_what_the_operator_is_asked_stays_asked(self) -> None:
        steps = ("home", "corner-zero", "touch-off")
        done = through(job("G21\nM30\n", "relay"), *steps, ("comments", {"width": 40}))
        assert "M0 (PLATE UNDER THE BIT, CLIP ON)" in text(done)
        assert [line.asks for line in done.program if line.asks] == ["clip-on", "clip-off"]
        short = refused(job("G21\nM30\n", "relay"), *steps, ("comments", {"width": 14}))
        assert short.name == "text-too-long"

    def test_a_comment_without_room_gets_its_own_line(self) -> None:
        words = "G1 X1.0000000001 Y1.000000000000001 Z1.0000000000001 F1000.00000000001 "
        done = through(job(words + "(SIDE OF THE LID)\n"), "comments")
        assert text(done) == ["(SIDE OF THE LID)", words.rstrip()]

    def test_a_pauses_text_without_room_is_refused(self) -> None:
        source = "M0 (" + "A" * 60 + ")\n"
        odd = job(source, "relay", changes={"line/length": 20})
        assert refused(odd, "comments").name == "text-too-long"
        source = "S11111.1111111 M0 (AAAAAAAAAAAAAAAAAAAA)\n"
        odd = job(source, "relay", changes={"line/length": 20})
        assert refused(odd, "comments").name == "line-no-room"


STEPS = [
    ("strip", {"spaces": True}),
    ("renumber", {"from": 1, "step": 1}),
    ("renumber", {"remove": True}),
    ("comments", {"width": 20}),
    ("comments", {"keep": "none"}),
]


@pytest.mark.parametrize("path", NOT_TEXT, ids=lambda path: path.name)
@pytest.mark.parametrize("step", STEPS, ids=lambda step: f"{step[0]}-{len(str(step[1]))}")
def test_words_of_awkward_files_stay(path: object, step: tuple[str, dict[str, object]]) -> None:
    """Word for word as the reader finds them, in order; and a second time nothing changes."""
    source = job(path.read_bytes(), changes={"line/length": 300})  # type: ignore[attr-defined]
    done = through(source, step)
    assert words(done.program) == words(source.program)
    assert through(done, step).program.to_bytes() == done.program.to_bytes()


def words(program: Program) -> list[str]:
    return [
        "/" * line.scan.block_delete + " ".join(word.code for word in line.words)
        for line in program
        if line.words
    ]


PARTS = st.sampled_from(
    ["G0", "X1", "Y-2.5", " ", "\t", "(A B)", "(A (B) C)", "(ä)", "; end", "(open", "N10", "/",
     "M3", "\n", "\n", "\r\n", "%"]
)  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(st.lists(PARTS, max_size=30), st.sampled_from(STEPS))
def test_words_of_any_text_stay(parts: list[str], step: tuple[str, dict[str, object]]) -> None:
    source = job("".join(parts))
    if any(line.scan.fatal for line in source.program):
        return
    assert words(through(source, step).program) == words(source.program)
