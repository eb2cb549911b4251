"""Answers that a YAML file gives: questions by their ids, each with what one would type."""

from __future__ import annotations

from pathlib import Path

from headrace.errors import RecipeError
from headrace.findings import Finding, Place
from headrace.interview.answering import answered
from headrace.interview.answers import Unusable, shown
from headrace.interview.draft import Draft, Standing
from headrace.interview.questions import QUESTIONS
from headrace.recipe.document import read_document
from headrace.recipe.node import Node, Table, place_at, plain
from headrace.recipe.wording import nearest


def with_answers(draft: Draft, path: Path) -> Draft:
    """The draft with all answers of a file.

    Raises RecipeError, with a finding for each answer that cannot be taken: one to a question that
    is not there or not asked, and one that differs from what the draft says already.
    """
    root = read_document(path).root
    if not isinstance(root, Table):
        what = f"{path} must hold questions and answers, such as `dwell: seconds`"
        raise RecipeError(findings=[Finding.of("recipe-wrong-type", what, root.place)])
    faults = [_unknown(key, root) for key in root.entries if key not in _IDS]
    for question in QUESTIONS:
        node = root.get(question.id)
        if node is None:
            continue
        try:
            made = answered(draft, question, _typed(node))
            standing = draft.standing(question)
            if standing in (Standing.NEEDLESS, Standing.WAITING):
                raise Unusable("the answers so far leave nothing to ask here")
        except Unusable as reason:
            what = f"the answer to `{question.id}` cannot be taken: {reason}"
            faults.append(Finding.of("answer-unusable", what, node.place))
            continue
        if standing is Standing.ANSWERED and made.answer(question) != draft.answer(question):
            faults.append(_stands(draft, question.id, node.place))
        elif standing is not Standing.ANSWERED:
            draft = made
    if faults:
        raise RecipeError(findings=faults)
    return draft


_IDS = tuple(question.id for question in QUESTIONS)


def _typed(node: Node) -> str:
    """What one would have typed: a list stands for its values one after the other."""
    return shown(plain(node))


def _stands(draft: Draft, name: str, place: Place) -> Finding:
    what = f"`{name}` is answered otherwise in {draft.path}"
    remedy = f"run `headrace describe {draft.path} --again {name}`, or leave it out here"
    return Finding.of("answer-stands", what, place, remedy=remedy)


def _unknown(key: str, root: Table) -> Finding:
    close = nearest(key, _IDS)
    hint = f"did you mean `{close}`? " if close else ""
    what = f"there is no question `{key}`"
    remedy = f"{hint}`headrace describe FILE --list` shows all questions"
    place = root.entries[key].key if key in root.entries else place_at(root, ())
    return Finding.of("answer-unusable", what, place, remedy=remedy)
