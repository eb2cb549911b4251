"""Answers said back in other words: single wrong answers that no schema sees are seen there.

Numbers by hand, from the machines of the gallery.
"""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from pipeline.interview.people import RECIPES, answering, answers_for, described

from headrace.interview.dialogue import Dialogue
from headrace.interview.draft import Draft, read_draft
from headrace.interview.echo import in_other_words
from headrace.interview.questions import question_of

SPEED = "shop-speed-controlled"


def echoed(name: str, change: dict[tuple[str, ...], Any]) -> str:
    draft = read_draft(RECIPES / "machines" / f"{SPEED}.yaml")
    data = json.loads(json.dumps(draft.data))
    for path, value in change.items():
        here = data
        for key in path[:-1]:
            here = here[key]
        here[path[-1]] = value
    question = question_of(name)
    assert question is not None
    return " ".join(in_other_words(replace(draft, data=data), question))


def test_axes_are_told_with_their_way_and_direction() -> None:
    told = echoed("homed-numbers", {})

    assert "So X homes at its low end, shows 5 there, and goes 1295 mm away from it" in told
    assert "to 1300; its numbers rise then." in told
    assert "So Z homes at its top, shows -5 there, and goes 175 mm away from it, to -180" in told
    assert "But" not in told


@pytest.mark.parametrize(
    ("name", "path", "wrong", "told"),
    [
        # The sign of a back-off, which lies within what the schema and the travel allow.
        ("homed-numbers", ("axes", "z", "homed-number"), 5, "5 is 5 mm outside of -180 to 0"),
        ("travel-x", ("axes", "x", "homed-number"), -5, "-5 is 5 mm outside of 0 to 1300"),
        ("home-ends", ("axes", "z", "home-end"), "low", "its lower end, AT THE BED"),
        ("dwell", ("dwell",), "seconds", "run T02DWELL before a spindle turns"),
        ("dwell", ("dwell",), "milliseconds", "G4 P5000 waits five seconds"),
        ("bed", ("bed",), 105, "the collet itself could go 75 mm below the spoilboard"),
        ("bed", ("bed",), 205, "115 mm under the collet when Z shows -90"),
        ("machine-moves", ("machine-moves",), True, "goes DOWN to the sheet instead"),
        ("homing-word", ("homing", "word"), "G28", "T04WAY have not shown it, by-hand is the safe"),
        ("homing-order", ("homing", "order"), [["x", "y"], ["z"]], "Z may still be down"),
        ("pause-word", ("pause", "word"), "M01", "goes on over your hands"),
        ("work-zero", ("work-zero", "word"), "G10 L2", "X must show 5 less"),
        ("work-zero", ("work-zero", "word"), "G10 L20", "makes X show 5 where the head stands"),
        ("parameters", ("parameters",), True, "if its manual does not name #5063"),
        ("run-down", ("spindle", "run-down"), 1, "So 1 s after it is switched off"),
    ],
)
def test_what_a_wrong_answer_would_mean_is_said(
    name: str, path: tuple[str, ...], wrong: Any, told: str
) -> None:
    assert told in echoed(name, {path: wrong})


def test_answers_that_are_plain_are_not_said_again() -> None:
    for name, change in (
        ("homing-order", {("homing", "order"): [["z"], ["x", "y"]]}),
        ("pause-word", {("pause", "word"): "M0"}),
        ("work-zero", {("work-zero", "word"): "G92"}),
        ("machine-moves", {("machine-moves",): False}),
        ("parameters", {("parameters",): False}),
        ("name", {}),
    ):
        assert echoed(name, dict(change)) == ""


def test_nothing_is_said_where_other_answers_are_open() -> None:
    empty = Draft(RECIPES / "none.yaml", None, "", {})
    for name in ("homed-numbers", "travel-z", "bed"):
        question = question_of(name)
        assert question is not None
        assert not list(in_other_words(empty, question))


def test_the_talk_says_it_behind_the_answer() -> None:
    said: list[str] = []
    draft = read_draft(RECIPES / "machines" / "no-such-file.yaml")
    answers = answers_for(described(SPEED))
    Dialogue(draft, answering(answers), said.append, lambda draft: draft).run()

    assert any(line.startswith("  So G4 P5 waits five seconds.") for line in said)
    assert sum(line.startswith("  So Z homes at its top") for line in said) >= 1
    assert not [line for line in said if line.startswith("  But")]
