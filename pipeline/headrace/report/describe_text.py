"""An interview as text: how it begins, how its questions stand, what it has come to."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from headrace.interview.answers import shown
from headrace.interview.draft import Draft, Standing, is_needed
from headrace.interview.questions import QUESTIONS

if TYPE_CHECKING:
    from headrace.interview.question import Question
    from headrace.interview.trial.writing import Written


def greeting(draft: Draft) -> Iterator[str]:
    """What is said before the first question."""
    if draft.before is None:
        yield f"{draft.path} does not exist yet; it begins with your first answer."
    else:
        yield summary(draft)
    yield "?  tells why it matters and how to find out"
    yield "-  or Enter leaves it open"
    yield "<  goes back"
    yield ".  stops; the same command goes on later"
    yield "*  stands at what must be answered before a recipe can use the file"
    yield "Behind an answer you may say how you know it: 108 # measured"


def next_steps(draft: Draft) -> Iterator[str]:
    """What shows the answers to questions that are open, where there is something; and what a
    whole description still lacks where a machine has what hardly any has."""
    from headrace.interview.trial.files import FILES
    from headrace.interview.trial.writing import why_not

    left = {question.id for question in draft.open_questions()}
    ready = [file.stem for file in FILES if left & set(file.shows) and why_not(draft, file) is None]
    if ready:
        yield f"`headrace describe {draft.path} --tests CARD` writes test files for what is open:"
        yield f"  {', '.join(ready)}"
    if draft.complete:
        yield "Not asked, for few machines have them: axes that turn, further heads on the gantry."
        yield "Describe these by hand: `rotary` and `heads` in recipes/REFERENCE.md, as in"
        yield "recipes/machines/rotary-bench.yaml and recipes/machines/two-heads.yaml"


def question_lines(draft: Draft) -> Iterator[str]:
    """All questions, each with its answer or how it stands."""
    widest = max(len(question.id) for question in QUESTIONS)
    for question in QUESTIONS:
        mark = "*" if is_needed(question) else " "
        yield f"{mark} {question.id:<{widest}}  {_standing(draft, question)}"


def summary(draft: Draft) -> str:
    """What the file has come to, and what to do next."""
    open_now = draft.open_questions()
    needed = [question.id for question in draft.open_questions(needed=True)]
    count = sum(draft.answer(question) is not None for question in QUESTIONS)
    told = f"{draft.path}: {count} answered, {len(open_now)} open"
    if draft.complete:
        return f"{told}; recipes can use it"
    if not needed:
        return told
    return f"{told}, {len(needed)} of them needed before a recipe can use it: {', '.join(needed)}"


def written_lines(written: Written) -> Iterator[str]:
    """Every test file: written, or why not."""
    for name, fate in written.files:
        yield f"{name}  {fate}"
    for name, why in written.left_out:
        yield f"{name}  not written: {why}"


def _standing(draft: Draft, question: Question) -> str:
    values = draft.answer(question)
    if values is not None:
        return " ".join(shown(value) for value in values)
    standing = draft.standing(question)
    return {
        Standing.OPEN: "open",
        Standing.WAITING: "hangs on another answer",
    }.get(standing, "not asked here")
