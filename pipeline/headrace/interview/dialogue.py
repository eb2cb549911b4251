"""The talk: questions one by one, answers taken or refused with the reason, as long as who answers
likes. Every answer that is taken is kept at once, so that nothing is lost wherever it ends."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from headrace.errors import RecipeError
from headrace.findings import Finding
from headrace.interview.answering import answered, parted
from headrace.interview.answers import Unusable, shown
from headrace.interview.draft import Draft, Standing, is_needed
from headrace.interview.echo import in_other_words
from headrace.interview.notes import found_by
from headrace.interview.question import Question
from headrace.interview.questions import QUESTIONS
from headrace.interview.wanted import left_open, range_of, wanted

Ask = Callable[[str], "str | None"]
"""Shows a prompt and gives the line that was typed; None where there will be none any more."""


class Ended(StrEnum):
    """Why the talk ended."""

    DONE = "nothing is left to ask"
    STOPPED = "stopped"
    NO_INPUT = "there was no more input"


@dataclass
class Dialogue:
    """A talk about a draft. `say` shows a line, `keep` writes the draft and gives it back as it is
    then. `strict` is for answers that nobody types: the first one that cannot be taken ends it.
    """

    draft: Draft
    ask: Ask
    say: Callable[[str], None]
    keep: Callable[[Draft], Draft]
    strict: bool = False
    _passed: set[str] = field(default_factory=set)
    _before: list[Question] = field(default_factory=list)
    _told_first: bool = False

    def run(self, again: Sequence[Question] = ()) -> Ended:
        """Ask; the questions `again` first, whether they are answered or not. Raises RecipeError
        where an answer has no place in the file, or, if strict, cannot be taken."""
        waiting = list(again)
        while (question := waiting.pop(0) if waiting else self._next()) is not None:
            if question not in again and not self._goes_on(question):
                return Ended.STOPPED
            self._show(question)
            ended = self._until_answered(question, waiting)
            if ended is not None:
                return ended
        return Ended.DONE

    def _next(self) -> Question | None:
        """The next open question: those for a first card before all others."""
        open_now = [
            question
            for question in QUESTIONS
            if question.id not in self._passed and self.draft.standing(question) is Standing.OPEN
        ]
        first = [question for question in open_now if is_for_first_card(question)]
        return next(iter(first or open_now), None)

    def _goes_on(self, question: Question) -> bool:
        """Whether to go on behind the questions for a first card."""
        if self.strict or self._told_first or is_for_first_card(question):
            return True
        self._told_first = True
        self.say("")
        self.say("That is what a first card needs. The other questions make times, space and the")
        self.say("language exact; each may stay open.")
        typed = self.ask("Enter goes on, . stops > ")
        return typed is not None and typed.strip() != "."

    def _show(self, question: Question) -> None:
        self.say("")
        mark = " *" if is_needed(question) else ""
        self.say(f"{question.text}{mark}")
        for line in wanted(question):
            self.say(f"  {line}")
        if question.card_file:
            self.say(f"  the test file {question.card_file} shows it")
        values = self.draft.answer(question)
        if values is not None:
            self.say(f"  now: {' '.join(shown(value) for value in values)}")

    def _until_answered(self, question: Question, waiting: list[Question]) -> Ended | None:
        while True:
            typed = self.ask(f"{question.id} > ")
            if typed is None:
                return Ended.NO_INPUT
            word = typed.strip()
            if word == ".":
                return Ended.STOPPED
            if word == "?":
                self._explain(question)
            elif word == "<":
                self._back(question, waiting)
                return None
            elif word in ("", "-"):
                self._leave(question)
                return None
            elif self._take(question, typed.strip()):
                return None

    def _take(self, question: Question, typed: str) -> bool:
        """Whether the answer could be taken; it is kept then."""
        try:
            draft = answered(self.draft, question, typed)
        except Unusable as reason:
            if self.strict:
                raise unusable(question, typed, str(reason)) from None
            self.say(f"  Not taken: {reason}.")
            return False
        self.draft = self.keep(draft)
        values = self.draft.answer(question) or []
        told = " ".join(shown(value) for value in values)
        said, found = parted(question, typed)
        if found:
            self.say(f"  taken: {told} ({found_by(found, question.card_file)})")
        elif told != said:
            self.say(f"  taken: {told}")
        for line in in_other_words(self.draft, question):
            self.say(f"  {line}")
        self._before.append(question)
        return True

    def _explain(self, question: Question) -> None:
        self.say(f"  Why: {question.why}")
        self.say(f"  How to find out: {question.how}")
        if question.card_file:
            path = self.draft.path
            self.say(f"  {question.card_file} comes by `headrace describe {path} --tests CARD`")
        if limits := range_of(question):
            self.say(f"  Accepted: {limits}")
        if not is_needed(question):
            self.say(f"  Left open: {left_open(question)}")

    def _leave(self, question: Question) -> None:
        self._passed.add(question.id)
        self._before.append(question)
        if self.draft.answer(question) is not None:
            self.say("  stays as it is")
        elif is_needed(question):
            self.say("  open; no recipe can use the file before this is answered")

    def _back(self, question: Question, waiting: list[Question]) -> None:
        if not self._before:
            self.say("  This is the first one.")
            waiting.insert(0, question)
            return
        earlier = self._before.pop()
        self._passed.discard(earlier.id)
        waiting[:0] = [earlier, question]


def is_for_first_card(question: Question) -> bool:
    """Whether a question is asked before all those that may wait."""
    return is_needed(question) or question.first


def unusable(question: Question, typed: str, reason: str) -> RecipeError:
    """The error to raise for an answer that cannot be taken and nobody is there to mend."""
    what = f"the answer to `{question.id}`, {typed!r}, cannot be taken: {reason}"
    return RecipeError(findings=[Finding.of("answer-unusable", what)])
