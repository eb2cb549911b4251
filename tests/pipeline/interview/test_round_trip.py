"""Whoever describes a machine of the gallery by its answers gets that machine."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from jsonschema import Draft202012Validator
from pipeline.interview.people import GALLERY, MACHINES, answering, answers_for, described

from headrace.interview.dialogue import Dialogue, Ended
from headrace.interview.draft import read_draft
from headrace.interview.keeping import keep
from headrace.interview.questions import QUESTIONS
from headrace.machine import Machine
from headrace.recipe import load_alone
from headrace.recipe.schema import schema


@pytest.mark.parametrize("name", MACHINES)
def test_its_answers_make_the_machine(name: str, tmp_path: Path) -> None:
    """Against PyYAML and the JSON Schema; what nobody is asked for is left out on both sides."""
    path, said = tmp_path / "mine.yaml", described(name)
    dialogue = Dialogue(read_draft(path), answering(answers_for(said)), lambda _line: None, keep)

    assert dialogue.run() is Ended.DONE
    made = yaml.safe_load(path.read_text("utf-8"))
    Draft202012Validator(schema("machine")).validate(made)
    assert made == said
    assert load_alone(path, None).machine == Machine.of(said)
    assert dialogue.draft.complete


def test_answers_in_any_order_make_it_too(tmp_path: Path) -> None:
    """One question a day, the last ones first, each by a new run."""
    path, said = tmp_path / "mine.yaml", described(GALLERY[0])
    answers = answers_for(said)
    for _ in range(3):  # some hang on others
        for question in reversed(QUESTIONS):
            draft = read_draft(path)
            if question in draft.open_questions() and question.id in answers:
                stop = iter([answers[question.id]])
                dialogue = Dialogue(
                    draft, lambda _, stop=stop: next(stop, "."), lambda _line: None, keep
                )
                dialogue.run([question])

    assert yaml.safe_load(path.read_text("utf-8")) == said


def test_every_value_stands_under_what_it_means(tmp_path: Path) -> None:
    path = tmp_path / "mine.yaml"
    answers = {
        key: f"{text} # measured" for key, text in answers_for(described(GALLERY[0])).items()
    }
    Dialogue(read_draft(path), answering(answers), lambda _line: None, keep).run()
    text = path.read_text("utf-8")

    for line in text.splitlines():
        assert len(line) <= 100
    values = [
        n for n, line in enumerate(text.splitlines()) if line and ": " in line and "#" not in line
    ]
    lines = text.splitlines()
    for n in values[1:]:
        assert lines[n - 1].lstrip().startswith("# "), lines[n]
        assert lines[n - 1].endswith("(measured)"), lines[n - 1]
