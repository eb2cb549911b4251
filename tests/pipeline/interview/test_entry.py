"""Values put into the text of machine files: against PyYAML, and byte for byte."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from headrace.errors import RecipeError
from headrace.interview.answering import answered
from headrace.interview.answers import Unusable
from headrace.interview.draft import Draft, read_draft, said_by
from headrace.interview.entry import with_value
from headrace.interview.question import Question
from headrace.interview.questions import QUESTIONS, question_of
from headrace.recipe.schema import schema

HEAD = "format: headrace-machine/1\n"
TYPED = (
    *(
        "0",
        "1",
        "-3",
        "620",
        "1.5",
        "M8",
        "M0",
        "G28",
        "G54",
        "=",
        ",",
        ":",
        "#",
        " #",
        "yes",
        "no",
    ),
    *("none", "z", "xy", "low", "high", "word", "deviation", "full-stop", "{", "}", "[", "'", '"'),
    *(
        "\\",
        "é",
        "- ",
        "|",
        "M8=fan",
        "1=2",
        "null",
        "~",
        "1e3",
        "%",
        "?",
        "...",
        "---",
        "&a",
        "!b",
    ),
)
"""Pieces of answers, right and wrong ones, and what means something in YAML."""


def draft_of(text: str) -> Draft:
    path = Path("mine.yaml")
    return Draft(path, text.encode(), text, said_by(text, path))


def put(text: str, dotted: str, value: Any, found: str = "measured") -> str:
    return with_value(draft_of(text), text, tuple(dotted.split(".")), value, found)


def is_kept(before: str, after: str) -> bool:
    """Whether every line of one text stands in the other, in the same order."""
    lines = iter(after.splitlines())
    return all(line in lines for line in before.splitlines())


@pytest.mark.parametrize(
    "text",
    [
        HEAD,
        HEAD + "# my own note\nbed: 120   # with a rod\n",
        HEAD + "spindle:\n    # four blanks\n    control: relay   # by its plate\n",
        HEAD + "spindle: {control: relay}\n",
        HEAD + "spindle: {}\nnut: 22\n",
        HEAD + "spindle: {control: relay,}   # with a comma\n",
        HEAD + "spindle:\n  range:\n    - 1\n    - 2\n\n\n# the end\n",
        HEAD.replace("\n", "\r\n") + "bed: 120\r\nspindle:\r\n  control: relay\r\n",
        HEAD + "bed: 120",
        "\ufeff" + HEAD + "name: Zähler für Rähmchen 蜜蜂 🐝\nspindle:\n  control: relay\n",
        '"format": headrace-machine/1\n"spindle":\n  "control": relay\n',
    ],
)
def test_what_people_wrote_stays(text: str) -> None:
    made = put(text, "spindle.run-up", 3)
    wanted = yaml.safe_load(text)
    wanted["spindle"] = {**(wanted.get("spindle") or {}), "run-up": 3}

    assert yaml.safe_load(made) == wanted
    if "{" not in text:
        assert is_kept(text, made)
        assert "switching on until it is at speed; s. (measured)" in made
    else:
        assert is_kept("\n".join(line for line in text.splitlines() if "{" not in line), made)
    assert ("\r\n" in made) == ("\r\n" in text)
    assert made.replace("\r\n", "").count("\n") == (0 if "\r\n" in text else made.count("\n"))


def test_a_value_that_is_there_is_exchanged_and_its_note_with_it() -> None:
    text = put(HEAD, "bed", 108) + "# mine\nnut: 22   # over the corners\n"
    made = put(text, "bed", 109.5, "with a rod")
    again = put(made, "nut", 24)

    assert made == put(HEAD, "bed", 109.5, "with a rod") + "# mine\nnut: 22   # over the corners\n"
    assert again == made.replace("nut: 22 ", "nut: 24 ")


def test_a_note_that_somebody_changed_stays() -> None:
    text = put(HEAD, "bed", 108).replace("(measured)", "(measured twice)\n# and again")
    made = put(text, "bed", 109)

    assert made == text.replace("bed: 108", "bed: 109")


@pytest.mark.parametrize(
    ("text", "dotted"),
    [
        (HEAD + "bed:\n  - 1   # mine\n  - 2\n", "bed"),
        (HEAD + "spindle: relay\n", "spindle.run-up"),
    ],
)
def test_where_nothing_can_be_put_in_it_says_what_to_write(text: str, dotted: str) -> None:
    with pytest.raises(RecipeError) as told:
        put(text, dotted, 3)
    finding = told.value.findings[0]

    assert finding.name == "answer-unplaced"
    assert "3" in finding.remedy


@given(
    st.lists(
        st.sampled_from(
            [
                "bed",
                "nut",
                "axes.x.travel",
                "axes.z.rapid",
                "probe.quick",
                "probe.slow",
                "homing.by",
            ]
        ),
        unique=True,
    ),
    st.integers(1, 500),
)
def test_many_values_in_any_order(paths: list[str], value: int) -> None:
    text, wanted = HEAD, {"format": "headrace-machine/1"}
    for dotted in paths:
        before, text = text, put(text, dotted, value)
        here: Any = wanted
        *way, last = dotted.split(".")
        for key in way:
            here = here.setdefault(key, {})
        here[last] = value
        assert is_kept(before, text)

    assert yaml.safe_load(text) == wanted


def test_an_answer_that_contradicts_another_is_not_taken() -> None:
    draft = draft_of(HEAD)
    for name, typed in (("travel-x", "0 620"), ("homed-numbers", "0 0 0")):
        question = question_of(name)
        assert question is not None
        draft = answered(draft, question, typed)
    ends = question_of("home-ends")
    assert ends is not None

    with pytest.raises(Unusable, match="is 0, at the other end of 0 to 620"):
        answered(draft, ends, "high low high")
    assert answered(draft, ends, "low low high").value(("axes", "z", "home-end")) == "high"


def test_an_answer_with_what_nobody_can_see_is_not_taken() -> None:
    bed = question_of("bed")
    assert bed is not None
    for typed in ("108 # me\u202eas", "108\x1b[D", "1\u200b08"):
        with pytest.raises(Unusable, match="cannot be seen"):
            answered(draft_of(HEAD), bed, typed)


def test_open_questions_stand_at_the_end_and_are_written_anew(tmp_path: Path) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text(HEAD + "# mine\n", "utf-8")
    bed, probe = question_of("bed"), question_of("probe")
    assert bed is not None
    assert probe is not None
    first = answered(read_draft(path), bed, "108")
    second = answered(first, probe, "no")
    third = answered(second, probe, "yes")

    assert "#? - bed:" not in first.text
    assert "#? - probe:" in first.text
    assert "# probe: there is none, as was answered.\n" in second.text
    assert "#? - probe" not in second.text
    assert "there is none" not in third.text
    for draft in (first, second, third):
        own, _, open_lines = draft.text.partition("\n#?")
        assert all(line.startswith("#?") for line in f"#?{open_lines}".splitlines())
        assert own.startswith(HEAD + "# mine\n")


@given(
    st.sampled_from(QUESTIONS),
    st.lists(
        st.sampled_from(TYPED) | st.text(max_size=3),
        max_size=5,
    ).map(" ".join),
)
def test_whatever_is_typed_is_taken_whole_or_refused(question: Question, typed: str) -> None:
    draft = draft_of(HEAD + "# mine\nbed: 100   # so far\n")
    try:
        made = answered(draft, question, typed)
    except Unusable:
        return
    said = yaml.safe_load(made.text)

    assert said == made.data
    assert said["format"] == "headrace-machine/1"
    if question.fields:
        assert made.answer(question) is not None
        faults = Draft202012Validator(schema("machine")).iter_errors(said)
        assert {fault.validator for fault in faults} <= {"required"}
    assert "# mine\nbed: " in made.text
