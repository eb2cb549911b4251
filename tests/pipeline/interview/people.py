"""Answers for the machines of the gallery, and somebody who gives them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import yaml

from headrace.interview.answers import shown
from headrace.interview.questions import NOT_ASKED, QUESTIONS

RECIPES = Path(__file__).parents[3] / "recipes"
GALLERY = ("bench-hand-switched", "shop-relay", "shop-speed-controlled")
MACHINES = sorted(path.stem for path in (RECIPES / "machines").glob("*.yaml"))


def described(name: str) -> dict[str, Any]:
    """What a machine file of the gallery says, as PyYAML reads it, without what nobody asks for."""
    text = (RECIPES / "machines" / f"{name}.yaml").read_text("utf-8")
    said: dict[str, Any] = yaml.safe_load(text)
    for dotted in NOT_ASKED:
        here, (*way, last) = said, dotted.split(".")
        for key in way:
            here = here.get(key, {})
        if dotted != "format":
            here.pop(last, None)
    return said


def answers_for(said: Mapping[str, Any]) -> dict[str, str]:
    """What is typed to describe a machine: an answer for each question that it answers."""
    answers = {}
    for question in QUESTIONS:
        if question.part:
            answers[question.id] = "yes" if question.part in said else "no"
            continue
        values = [_at(said, path) for path in question.fields]
        if None not in values:
            answers[question.id] = " ".join(shown(value) for value in values)
    return answers


def _at(said: Any, path: tuple[Any, ...]) -> Any:
    for key in path:
        said = said.get(key) if isinstance(said, dict) else None
    return said


def answering(answers: Mapping[str, str]) -> Callable[[str], str | None]:
    """Somebody who answers what is asked by its id, and leaves all else open."""

    def ask(prompt: str) -> str | None:
        return answers.get(prompt.partition(" ")[0], "-")

    return ask
