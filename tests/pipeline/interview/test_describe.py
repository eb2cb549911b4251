"""`headrace describe` as people and scripts use it."""

from __future__ import annotations

import json
import os
import re
import select
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator
from pipeline.interview.people import GALLERY, RECIPES, answers_for, described

from headrace.cli.group import headrace
from headrace.interview.questions import QUESTIONS
from headrace.report.schema import output_schema

BENCH = """\
Bench machine, router switched by hand
both
M0   # t
1
20
milliseconds # test file
M2
word
g28
named
0 0 0 # measured
low low high
0 620
0 560
-85, 0
0 0 0
clamps
machine
4000 4000 1500
3000 3000 800
g92
none
yes
no
mm
no
by-hand
10000 30000
2
8
yes
120 30
G38.2
0
108 # measured with a rod
15
short
NC
250 250 100
"""
"""What somebody types for the questions of a first card, one line after the other."""


@pytest.fixture(autouse=True)
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder, in which commands are run."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def describe(*words: str, typed: str = "", code: int = 0) -> Result:
    result = CliRunner().invoke(headrace, ["describe", "mine.yaml", *words], input=typed)
    assert result.exit_code == code, result.output
    return result


def said() -> dict[str, Any]:
    found: dict[str, Any] = yaml.safe_load(Path("mine.yaml").read_text("utf-8"))
    return found


# --- from standard input ----------------------------------------------------------------------


def test_typed_answers_make_a_machine_that_a_recipe_can_use() -> None:
    result = describe(typed=BENCH)
    wanted = described(GALLERY[0])

    assert "recipes can use it" in result.stderr
    for path in re.findall(r"recipes/[\w/.-]+\w", result.stderr):
        assert (RECIPES.parent / path).is_file(), path
    for name in ("rotary-bench", "two-heads"):  # what is described by hand has its example there
        assert f"machines/{name}.yaml" in result.stderr
    for key in ("axes", "pause", "dwell", "soft-limits", "work-zero", "bed"):
        made = json.loads(json.dumps(said()[key]))
        if key == "axes":
            for axis in made.values():
                assert axis.pop("back-off") == 0
        if key == "work-zero":
            assert made.pop("systems") == []
        assert made == wanted[key]
    Path("job.nc").write_text("(CLIP ON)\nG21 G90 G94\nM0\nM2\n", "ascii")
    checked = CliRunner().invoke(headrace, ["check", "--machine", "mine.yaml", "job.nc"])
    assert checked.exit_code == 0, checked.output


def test_it_goes_on_where_it_was() -> None:
    lines = BENCH.splitlines(keepends=True)
    for start in range(0, len(lines), 9):
        result = describe(typed="".join(lines[start : start + 9]))
        assert lines[start + 8 : start + 9] == [] or "mine.yaml:" in result.stderr
    once = said()
    Path("mine.yaml").unlink()
    describe(typed=BENCH)

    assert said() == once


def test_what_is_left_open_is_asked_again_the_next_time() -> None:
    describe(typed="Mine\n\n-\n.\n")
    assert said() == {"format": "headrace-machine/1", "name": "Mine"}
    result = describe(typed="parentheses\n")

    assert result.stderr.count("comments >") == 1
    assert "name >" not in result.stderr
    assert said()["comments"] == "parentheses"


def test_an_answer_that_cannot_be_taken_ends_a_script_and_says_why() -> None:
    result = describe(typed="Mine\nboth\nM0\nbehind\nM0\n", code=3)

    assert "[HRM231 answer-unusable]" in result.stderr
    assert "the answer to `pause-text`, 'behind', cannot be taken" in result.stderr
    assert said()["pause"] == {"word": "M0"}


def test_a_name_may_hold_what_elsewhere_tells_how_a_value_was_found() -> None:
    describe(typed="Bench #2, by the door\n")
    assert said()["name"] == "Bench #2, by the door"
    describe("--again", "bed", typed="108 # a rod\n")
    assert said()["bed"] == 108


def test_nothing_is_begun_without_an_answer() -> None:
    describe(typed="")
    describe(typed=".\n")

    assert not Path("mine.yaml").exists()


def test_an_answer_is_given_anew() -> None:
    describe(typed=BENCH)
    result = describe("--again", "bed", typed="107.5 # measured anew\n.\n")

    assert "now: 108" in result.stderr
    assert said()["bed"] == 107.5
    text = Path("mine.yaml").read_text("utf-8")
    assert "(measured anew)" in text
    assert "(measured with a rod)" not in text
    assert "did you mean travel-x?" in describe("--again", "travl-x", code=2).stderr


def test_what_was_written_by_hand_stays() -> None:
    describe(typed="Mine\nboth\n")
    path = Path("mine.yaml")
    text = path.read_text("utf-8").replace(
        "comments: both", "comments: semicolon   # I know\nbed: 99"
    )
    path.write_text(text, "utf-8")
    result = describe(typed="M0\n")

    assert "comments >" not in result.stderr
    assert "comments: semicolon   # I know\nbed: 99\n" in path.read_text("utf-8")
    assert "#? - bed" not in path.read_text("utf-8")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("format: headrace-setup/1\n", "this must be a machine description"),
        ("G21\nG0 X1\n", "recipe-several-lines"),
        ("hive parts\n", "must hold keys and values"),
        ("", "is empty"),
        ("format: headrace-machine/1\nbed: -1\n", "`bed` is `-1`; it must be more than 0"),
        ("format: headrace-machine/1\nbad: 1\n", "no key `bad`"),
    ],
)
def test_a_file_that_is_no_sound_machine_file_stays_as_it_is(text: str, told: str) -> None:
    Path("mine.yaml").write_text(text, "utf-8")
    result = describe(typed=BENCH, code=3)

    assert told in result.stderr
    assert Path("mine.yaml").read_text("utf-8") == text


def test_a_file_that_may_not_be_written_stays() -> None:
    describe(typed="Mine\n")
    path = Path("mine.yaml")
    before = path.read_bytes()
    path.chmod(0o444)
    result = describe(typed="both\n", code=3)

    assert "[HRS006 machine-file-kept]" in result.stderr
    assert path.read_bytes() == before
    assert [each.name for each in Path().iterdir()] == ["mine.yaml"]


def test_loading_an_unfinished_file_says_how_to_go_on() -> None:
    describe(typed="Mine\nboth\n")
    Path("job.nc").write_text("G21\nG0 X1\nM2\n", "ascii")
    checked = CliRunner().invoke(headrace, ["check", "--machine", "mine.yaml", "job.nc"])

    assert checked.exit_code == 3
    assert checked.stderr.startswith("refuse: mine.yaml was begun by an interview")
    assert "run `headrace describe mine.yaml`: it asks for what is open" in checked.stderr
    assert "lacks `axes`" in checked.stderr


# --- from a file of answers -------------------------------------------------------------------


@pytest.mark.parametrize("name", GALLERY)
def test_a_file_of_answers_makes_the_machine(name: str) -> None:
    Path("answers.yaml").write_text(yaml.safe_dump(answers_for(described(name))), "utf-8")
    describe("--answers", "answers.yaml")

    assert said() == described(name)
    before = Path("mine.yaml").read_bytes()
    describe("--answers", "answers.yaml")
    assert Path("mine.yaml").read_bytes() == before


def test_all_of_its_answers_are_taken_or_none() -> None:
    Path("answers.yaml").write_text(
        "name: Mine\ndwel: seconds\nbed: -3\ntravel-x: [0, 620]\ndial: 1=10000\n", "utf-8"
    )
    result = describe("--answers", "answers.yaml", code=3)

    assert not Path("mine.yaml").exists()
    assert "there is no question `dwel`" in result.stderr
    assert "did you mean `dwell`?" in result.stderr
    assert "the answer to `bed` cannot be taken" in result.stderr
    assert "at answers.yaml:3:6" in result.stderr
    assert "the answer to `dial` cannot be taken: the answers so far leave nothing" in result.stderr


def test_a_file_of_answers_does_not_change_answers() -> None:
    describe(typed="Mine\n")
    Path("answers.yaml").write_text("name: Yours\n", "utf-8")
    result = describe("--answers", "answers.yaml", code=3)

    assert "[HRM233 answer-stands]" in result.stderr
    assert said()["name"] == "Mine"


# --- what it tells ----------------------------------------------------------------------------


def test_the_list_has_every_question_and_how_it_stands() -> None:
    describe(typed="Mine\nnone\n")
    lines = describe("--list").stdout.splitlines()

    assert len(lines) == len(QUESTIONS)
    assert lines[0].split() == ["*", "name", "Mine"]
    told = {line[2:].split()[0]: line[2:].split(maxsplit=1)[1].strip() for line in lines}
    assert told["pause-text"] == "not asked here"
    assert told["homing-word"] == "hangs on another answer"
    assert told["bed"] == "open"


@pytest.mark.parametrize("words", [[], ["--list"], ["--tests", "card"]])
def test_its_document_is_as_its_schema_says(words: list[str]) -> None:
    Path("card").mkdir()
    describe(typed=BENCH)
    document = json.loads(describe(*words, "--json").stdout)

    Draft202012Validator(output_schema("describe")).validate(document)
    assert document["complete"]
    assert [each["question"] for each in document["questions"]] == [q.id for q in QUESTIONS]
    assert bool(document["test-files"]) == ("--tests" in words)


def test_test_files_come_from_the_command_line() -> None:
    Path("card").mkdir()
    describe(typed=BENCH)
    result = describe("--tests", "card")

    assert "T01PAUSE.NC  written" in result.stdout
    assert "read card/TESTS.TXT first" in result.stderr
    assert len(list(Path("card").iterdir())) == 11
    assert "[HRC001 card-missing]" in describe("--tests", "no-card", code=5).stderr


def test_only_one_thing_at_a_time() -> None:
    assert "one at a time" in describe("--list", "--again", "bed", code=2).stderr


def test_every_machine_of_the_gallery_can_be_asked_about() -> None:
    for path in sorted((RECIPES / "machines").glob("*.yaml")):
        result = CliRunner().invoke(headrace, ["describe", str(path), "--list"])
        assert result.exit_code == 0, result.output
        assert "recipes can use it" in result.stderr


# --- at a terminal ----------------------------------------------------------------------------


class Terminal:
    """The command at a terminal of its own."""

    def __init__(self, width: int) -> None:
        pty = pytest.importorskip("pty")
        self.shown = ""
        mine, theirs = pty.openpty()
        self._descriptor = mine
        environment = {**os.environ, "COLUMNS": str(width), "TERM": "xterm", "NO_COLOR": "1"}
        self._process = subprocess.Popen(
            [sys.executable, "-m", "headrace", "describe", "mine.yaml"],
            stdin=theirs, stdout=theirs, stderr=theirs, env=environment, start_new_session=True,
        )  # fmt: skip
        os.close(theirs)

    def until(self, text: str, most: float = 60) -> str:
        """What is shown up to a text; it fails where that never comes."""
        begun, end = len(self.shown), time.monotonic() + most
        while text not in self.shown[begun:]:
            assert time.monotonic() < end, self.shown
            if select.select([self._descriptor], [], [], 0.2)[0]:
                try:
                    self.shown += os.read(self._descriptor, 4096).decode()
                except OSError:  # it has ended
                    break
        return self.shown[begun:].replace("\r\n", "\n")

    def type(self, line: str) -> None:
        os.write(self._descriptor, f"{line}\n".encode())

    def interrupt(self) -> None:
        self._process.send_signal(signal.SIGINT)

    def end(self) -> int:
        code = self._process.wait(timeout=60)
        os.close(self._descriptor)
        return code


@pytest.fixture(params=[40, 80])
def width(request: pytest.FixtureRequest) -> int:
    return int(request.param)


def test_a_person_is_asked_helped_and_may_go(width: int) -> None:
    terminal = Terminal(width)
    terminal.until("name > ")
    terminal.type("Shop machine")
    terminal.until("comments > ")
    terminal.type("brackets")
    assert "Not taken: answer parentheses," in terminal.until("comments > ")
    terminal.type("?")
    explained = terminal.until("comments > ")
    assert "Why: " in explained
    assert "How to find out: " in explained
    terminal.type("1")
    assert "taken: parentheses" in terminal.until("pause-word > ")
    terminal.type("<")
    assert "now: parentheses" in terminal.until("comments > ")
    terminal.type("both")
    terminal.until("pause-word > ")
    terminal.interrupt()
    terminal.until("interrupted")
    assert terminal.end() == 130
    assert "every answer so far is in mine.yaml" in " ".join(terminal.shown.split())
    assert said() == {"format": "headrace-machine/1", "name": "Shop machine", "comments": "both"}
    for line in terminal.shown.splitlines():
        assert len(line) <= width + 20, line  # with what was typed behind a prompt
    assert not re.search(r"\x1b", terminal.shown)

    later = Terminal(width)
    assert "2 answered" in later.until("pause-word > ")
    later.type(".")
    later.until("recipe can use it")
    assert later.end() == 0
