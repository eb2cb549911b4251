"""An interview as plain data: what `headrace describe` has come to."""

from __future__ import annotations

from typing import TYPE_CHECKING

from headrace.interview.answers import shown
from headrace.interview.draft import Draft, is_needed
from headrace.interview.questions import QUESTIONS
from headrace.report.plain import Data

if TYPE_CHECKING:
    from headrace.interview.question import Question
    from headrace.interview.trial.writing import Written


def describe_data(draft: Draft, written: Written | None) -> Data:
    """A machine file with its questions; `written` are test files, where they were asked for."""
    return {
        "format": "headrace-describe/1",
        "exit-code": 0,
        "file": str(draft.path),
        "there": draft.before is not None,
        "complete": draft.complete,
        "questions": [_question(draft, question) for question in QUESTIONS],
        "test-files": [] if written is None else _files(written),
        "findings": [],
    }


def _question(draft: Draft, question: Question) -> Data:
    values = draft.answer(question)
    return {
        "question": question.id,
        "text": question.text,
        "why": question.why,
        "how": question.how,
        "fields": [".".join(map(str, path)) for path in question.fields],
        "needed": is_needed(question),
        "standing": str(draft.standing(question)),
        "answer": None if values is None else " ".join(shown(value) for value in values),
        "test-file": question.card_file or None,
    }


def _files(written: Written) -> list[Data]:
    done: list[Data] = [{"name": name, "done": fate, "why": None} for name, fate in written.files]
    left: list[Data] = [
        {"name": name, "done": "left-out", "why": why} for name, why in written.left_out
    ]
    return done + left
