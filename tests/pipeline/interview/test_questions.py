"""The table of questions, held against the machine schema: nothing is written twice, nothing of a
machine is forgotten, and what is accepted is what the schema accepts."""

from __future__ import annotations

import json
from collections.abc import Iterator
from importlib.resources import files
from typing import Any

import pytest

from headrace.interview.fields import field_schema, is_required
from headrace.interview.question import Question
from headrace.interview.questions import NOT_ASKED, QUESTIONS, question_of
from headrace.interview.trial.files import FILES
from headrace.interview.wanted import left_open, range_of, wanted

SCHEMA = json.loads(files("headrace.recipe").joinpath("schemas", "machine.json").read_text("utf-8"))
IDS = [question.id for question in QUESTIONS]


def fields_of(schema: dict[str, Any], path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """The ways to all fields that hold a value, read from the schema without the interview."""
    if "$ref" in schema:
        schema = SCHEMA["$defs"][schema["$ref"].rpartition("/")[2]]
    inner = schema.get("properties")
    if (
        inner is None
        or schema.get("maxProperties") == 1
        or path[:1] in (("rotary",), ("timing",), ("heads",))
    ):
        yield path
    else:
        for key, part in inner.items():
            yield from fields_of(part, (*path, key))


def test_every_field_of_a_machine_is_asked_for_or_left_out_with_a_reason() -> None:
    asked = {path for question in QUESTIONS for path in question.fields}
    left = {tuple(dotted.split(".")) for dotted in NOT_ASKED}
    there = set(fields_of(SCHEMA))

    assert asked | left == there
    assert not asked & left


def test_ids_are_their_own_and_can_be_typed() -> None:
    assert len(set(IDS)) == len(IDS)
    for name in IDS:
        assert name.replace("-", "").isalpha()
        assert name == name.lower()
        found = question_of(name)
        assert found is not None
        assert found.id == name
    assert question_of("no-such-question") is None


@pytest.mark.parametrize("question", QUESTIONS, ids=IDS)
def test_a_question_asks_why_and_how(question: Question) -> None:
    assert question.text.endswith("?")
    assert question.why.endswith(".")
    assert question.how.endswith(".")
    assert len(question.text) <= 90
    assert bool(question.fields) != bool(question.part)
    assert list(wanted(question))


@pytest.mark.parametrize("question", QUESTIONS, ids=IDS)
def test_words_that_are_explained_are_those_of_the_schema(question: Question) -> None:
    for path in question.fields:
        schema = field_schema(path)
        row = schema.get("enum") or schema.get("items", {}).get("enum")
        if question.choices:
            assert list(question.choices) == row


@pytest.mark.parametrize("question", QUESTIONS, ids=IDS)
def test_a_condition_hangs_on_a_question_that_is_asked_before(question: Question) -> None:
    before = QUESTIONS[: QUESTIONS.index(question)]
    for condition in question.when:
        if condition.values == (True,):
            assert any((each.part,) == condition.path for each in before)
        else:
            assert any(condition.path in each.fields for each in before)
            assert set(condition.values) <= set(field_schema(condition.path)["enum"])


def test_what_the_schema_requires_is_required_here() -> None:
    """Checked along the way to a field by hand: five of each."""
    for dotted in ("name", "axes.y.travel", "homing.by", "spindle.control", "dwell"):
        assert is_required(tuple(dotted.split(".")))
    for dotted in ("bed", "axes.x.back-off", "probe.quick", "pause.word", "work-zero.systems"):
        assert not is_required(tuple(dotted.split(".")))


def test_test_files_and_questions_name_each_other() -> None:
    stems = {file.stem for file in FILES}

    for question in QUESTIONS:
        assert question.card_file in stems | {""}
        if question.card_file:
            file = next(each for each in FILES if each.stem == question.card_file)
            assert question.id in file.shows
    for file in FILES:
        assert set(file.shows) | set(file.needs) <= set(IDS)
        assert not set(file.shows) - {"pause-word", "homing-word", "probe"} & set(file.needs)


MORE = "more than 0, at most 200000"


@pytest.mark.parametrize(
    ("name", "lines", "limits", "left"),
    [
        ("bed", ["a number in mm, such as 108"], "more than 0, at most 2000", "not known"),
        ("travel-x", ["two numbers in mm, such as 0 620"], "at least -100000, at most 100000", ""),
        ("rapid", ["three numbers in mm/min, such as 4000 4000 4000"], MORE, ""),
        ("dwell", ["1  seconds       P counts seconds", "2  milliseconds  P counts thousandths"],
         "", ""),
        ("percent", ["yes or no"], "", "taken for no"),
        ("probe", ["yes or no"], "", ""),
        ("pause-word", ["a word, such as M0"], "", "taken for M0"),
        ("look-ahead", ["a whole number, such as 15"], "at least 0, at most 1000", "not known"),
        ("homing-order", ["groups, such as z xy"], "", "taken for z xy"),
        ("outputs", ["pairs, such as M8=extraction"], "", "taken for none"),
        ("dial", ["pairs, such as 1=10000 6=30000"], "", "taken for none"),
        ("corners", ["a rule, such as deviation 0.02"], "", "not known"),
        ("units", ["mm, inch, one or several"], "", "taken for mm inch"),
        ("name", ["text, such as Bench machine, router switched by hand"], "", ""),
    ],
)  # fmt: skip
def test_what_may_be_answered_is_said_in_short(
    name: str, lines: list[str], limits: str, left: str
) -> None:
    question = question_of(name)
    assert question is not None

    assert list(wanted(question)) == lines
    assert range_of(question) == limits
    assert not left or left_open(question) == left
