"""Test files in which nothing moves."""

from __future__ import annotations

from headrace.interview.draft import Draft
from headrace.interview.question import at
from headrace.interview.trial.file import TrialFile
from headrace.interview.trial.words import Words

PLACES = 60
"""So many characters of a text count their own places."""


def ruler(begin: str, length: int = PLACES) -> str:
    """A text that counts its places: a letter at each ten (A is 10), a + at each five between. It
    has no digits: where a note is not read as one, letter and digits would be a word.

    >>> ruler("BEFORE ", 24)
    'BEFORE ..A....+....B....'
    """
    counted = (
        chr(ord("A") + place // 10 - 1) if not place % 10 else ".+"[place % 5 == 0]
        for place in range(len(begin) + 1, length + 1)
    )
    return begin + "".join(counted)


def _pause(words: Words) -> list[str]:
    return [
        *words.notes_exactly(ruler("BEFORE ")),
        *words.bare_pause(ruler("BEFORE ")),
        *words.notes_exactly("OTHER"),
        *words.pause_behind(ruler("SAME-LINE ")),
    ]


def _dwell(words: Words) -> list[str]:
    return [*words.pause("START THE WATCH"), *words.dwell(2), *words.pause("STOP THE WATCH")]


def _kept(words: Words) -> list[str]:
    return [*words.pause("123 AT X NEXT"), *words.shift("X", 123)]


def unfit_without_shift(draft: Draft) -> str | None:
    """Files that set numbers do so by G92 alone: other words would change what is stored."""
    if draft.value(at("work-zero.word")) not in (None, "G92"):
        return "it sets a number by G92, and this machine has another word; see its manual"
    return None


FILES = (
    TrialFile(
        "T01PAUSE", "Does it wait, and what does it show?",
        shows=("pause-word", "pause-text", "pause-width"), needs=("comments", "pause-word"),
        watch=(
            "It waits twice, and goes on when you press its button. Look at the display each time.",
        ),
        told=(
            "If it does not wait, or does not go on from there: pause-word is another word. Run no"
            " other file before that is mended. An error at a note: comments is wrong.",
            "First stop BEFORE ..., second stop OTHER: answer before to pause-text.",
            "First stop nothing or an older text, second stop SAME-LINE ...: answer same-line.",
            "Never a text: answer none.",
            "The text counts its places: A is 10, B is 20, and so on, the + between them 5 more."
            " From the last of these count the points: B and two points is 22. All of it is"
            f" {PLACES}. That is pause-width.",
        ),
        body=_pause,
    ),
    TrialFile(
        "T02DWELL", "Seconds or thousandths?",
        shows=("dwell",), needs=("comments", "pause-word"),
        watch=("It waits for you, then for G4 P2, then for you again.",),
        told=(
            "About two seconds between the two stops: answer seconds to dwell. Answer it only if"
            " you saw them pass: where it is wrong, a bit enters the wood before it turns, and"
            " still turns when you reach for it.",
            "The second stop comes at once: answer milliseconds.",
            "Something else: look into its manual, and leave dwell open until then.",
        ),
        body=_dwell,
    ),
    TrialFile(
        "T10KEPT", "Does the work zero outlive a file?",
        shows=("zero-kept",), needs=("comments", "pause-word", "work-zero"),
        watch=("X gets the number 123 where it stands, and the file ends. Then read X.",),
        told=(
            "No 123 at the last stop: G92 is not its word; answer work-zero anew.",
            "X still shows 123 then: answer yes to zero-kept. Another number: answer no.",
            "Then switch the machine off and on and home it, so that the number is gone.",
        ),
        body=_kept, unfit=unfit_without_shift,
    ),
)  # fmt: skip
