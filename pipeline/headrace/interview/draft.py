"""A machine file as far as it is answered: its text, what it says, and how each question stands."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import Any

from headrace.errors import RecipeError
from headrace.interview.fields import is_required
from headrace.interview.notes import absent_parts, beginning, open_ids
from headrace.interview.question import Question, When
from headrace.interview.questions import QUESTIONS
from headrace.recipe.composition import load_file
from headrace.recipe.consistency import machine_findings
from headrace.recipe.node import Node, plain
from headrace.recipe.node import Path as Way
from headrace.recipe.schema import schema
from headrace.recipe.source_text import read_bytes
from headrace.recipe.validation import Subject, schema_findings


class Standing(StrEnum):
    """How a question stands."""

    ANSWERED = "answered"
    OPEN = "open"
    WAITING = "waiting"
    """Whether it is asked hangs on an answer that is still open."""
    NEEDLESS = "needless"
    """The answers so far leave nothing to ask here."""


@dataclass(frozen=True, slots=True)
class Draft:
    """`before` is what the file held when it was read, None where there was none. `absent` are the
    parts that the machine does not have, `present` those that it was said to have."""

    path: Path
    before: bytes | None
    text: str
    data: dict[str, Any]
    absent: frozenset[str] = frozenset()
    present: frozenset[str] = frozenset()

    @property
    def complete(self) -> bool:
        """Whether a recipe can use the file."""
        from headrace.recipe.mismatch import mismatches

        return not mismatches(self.data, schema("machine")) and not machine_findings(
            _root(self.data)
        )

    def value(self, path: Way) -> Any:
        """What the file says at `path`; None where it says nothing."""
        here: Any = self.data
        for key in path:
            here = here.get(key) if isinstance(here, dict) else None
        return here

    def has(self, part: str) -> bool | None:
        """Whether the machine has a part; None where nobody has said."""
        if part in self.data or part in self.present:
            return True
        return False if part in self.absent else None

    def answer(self, question: Question) -> list[Any] | None:
        """The values of its fields; None where one of them is not there."""
        if not question.fields:
            has = self.has(question.part)
            return None if has is None else [has]
        values = [self.value(path) for path in question.fields]
        return None if any(value is None for value in values) else values

    def standing(self, question: Question) -> Standing:
        """How a question stands."""
        if self.answer(question) is not None:
            return Standing.ANSWERED
        met = [self._met(condition) for condition in question.when]
        if False in met:
            return Standing.NEEDLESS
        return Standing.WAITING if None in met else Standing.OPEN

    def open_questions(self, needed: bool = False) -> tuple[Question, ...]:
        """The questions that can be asked now; only those whose answers a file must have."""
        return tuple(
            question
            for question in QUESTIONS
            if self.standing(question) is Standing.OPEN and (is_needed(question) or not needed)
        )

    def _met(self, condition: When) -> bool | None:
        if condition.values == (True,):
            return self.has(str(condition.path[0]))
        value = self.value(condition.path)
        return None if value is None else value in condition.values


def is_needed(question: Question) -> bool:
    """Whether no machine file can do without its answer."""
    return question.needed or any(is_required(path) for path in question.fields)


def read_draft(path: Path) -> Draft:
    """The draft in a file, or an empty one where there is no file.

    Raises RecipeError where the file holds anything but a machine description, or where something
    in it is wrong; that something is missing is no fault here.
    """
    if not path.exists() and not path.is_symlink():
        text = beginning()
        return Draft(path, None, text, said_by(text, path))
    data = read_bytes(path)
    root = load_file(path, "machine", None)
    found = [
        finding
        for finding in schema_findings(Subject(root), schema("machine"))
        if finding.name not in ("recipe-missing-key", "recipe-more-findings")
    ]
    if found:
        raise RecipeError(findings=found)
    text = data.decode("utf-8")
    return Draft(path, data, text, plain(root), absent_parts(text), _present_parts(text))


def _present_parts(text: str) -> frozenset[str]:
    """The parts of which a file says that something is open: so somebody has said that they are
    there."""
    left = open_ids(text)
    return frozenset(
        str(condition.path[0])
        for question in QUESTIONS
        for condition in question.when
        if question.id in left and condition.values == (True,)
    )


def said_by(text: str, path: Path) -> dict[str, Any]:
    """What the text of a machine file says. Raises RecipeError."""
    from headrace.recipe.document import parse_document

    said: dict[str, Any] = plain(parse_document(text.encode("utf-8"), path).root)
    return said


def objections(draft: Draft, data: dict[str, Any]) -> tuple[str, ...]:
    """What would contradict itself if the draft said `data`, and does not do so now: in sentences,
    each with what to do."""
    now = set(_contradictions(draft.data))
    return tuple(each for each in _contradictions(data) if each not in now)


def with_present(draft: Draft, part: str) -> Draft:
    """The draft after somebody has said that the machine has a part."""
    return replace(draft, present=draft.present | {part}, absent=draft.absent - {part})


def _root(data: dict[str, Any]) -> Node:
    """Values as nodes; JSON is YAML."""
    import json

    from headrace.recipe.document import parse_document

    text = json.dumps(data, ensure_ascii=False)
    return parse_document(text.encode("utf-8"), Path("answers")).root


def _contradictions(data: dict[str, Any]) -> Iterator[str]:
    """Of a description that may lack anything: what is not there is filled in so that nothing
    follows from it."""
    for finding in machine_findings(_root(_filled(data))):
        if finding.name != "recipe-missing-key":
            yield f"{finding.what}; {finding.remedy}".rstrip(".")


def _filled(data: dict[str, Any]) -> dict[str, Any]:
    axes = {}
    for letter, axis in data.get("axes", {}).items():
        low, high = axis.get("travel", (-1e5, 1e5))
        known = "homed-number" in axis and "home-end" in axis and "travel" in axis
        homed = {} if known else {"homed-number": (low + high) / 2, "home-end": "low"}
        axes[letter] = {**axis, "travel": [low, high], **homed}
    widest = {"travel": [-1e5, 1e5], "homed-number": 0, "home-end": "low"}
    homing = data.get("homing", {})
    spindle = data.get("spindle", {})
    probe = {} if "probe" not in data else {"probe": {"quick": 1, "slow": 1, **data["probe"]}}
    return {
        **data,
        **probe,
        "axes": {**dict.fromkeys("xyz", widest), **axes},
        "homing": {"by": "word" if "word" in homing else "by-hand", **homing},
        "spindle": {"control": "speed", "range": [1, 1], **spindle},
        "pause": data.get("pause", {}),
        "work-zero": {"word": "G10 L2", **data.get("work-zero", {})},
    }
