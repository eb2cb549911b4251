"""The table of questions, in the order in which they are asked."""

from __future__ import annotations

from headrace.interview.question import Question
from headrace.interview.questions import (
    card,
    homing,
    language,
    motion,
    probe,
    space,
    spindle,
    talking,
    wiring,
    zero,
)

QUESTIONS: tuple[Question, ...] = (
    *talking.QUESTIONS,
    *homing.QUESTIONS,
    *zero.QUESTIONS,
    *spindle.QUESTIONS,
    *probe.QUESTIONS,
    *space.QUESTIONS,
    *card.QUESTIONS,
    *wiring.QUESTIONS,
    *motion.QUESTIONS,
    *language.QUESTIONS,
)

NOT_ASKED = {
    "format": "headrace writes it",
    "timing": "`headrace timed` writes it",
    "modes": "for controllers with words of their own; without it the usual ones are stated",
    "card.case": "follows from `names`, but for rare readers",
    "card.characters": "follows from `names`, but for rare readers",
    "card.length": "follows from `names`, but for rare readers",
    "distances": "hardly any controller lacks one of them",
    "arcs.planes": "hardly any job for sheets leaves the plane of the sheet",
    "arcs.full-circles": "a rare lack",
    "arcs.centres": "a rare way to count, which its manual tells of",
    "arcs.feed": "a rare way to count, which its manual tells of",
    "decimal-point": "a rare need",
    "rapid-feed": "a rare need",
    "subprograms": "headrace writes none",
    "rotary": "rare, and a slip cuts mirrored: the closing words name an example",
    "heads": "rare, and a slip cuts beside: the closing words name an example",
    "inverse-time": "only feeds of axes that turn need it",
}
"""Fields that nobody is asked for, and why; whoever needs one writes it into the file."""


def question_of(name: str) -> Question | None:
    """The question with this id, or None."""
    return next((question for question in QUESTIONS if question.id == name), None)
