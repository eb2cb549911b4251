"""What an answer comes to, said in other words: a sign, an end or a unit that is wrong is seen
there by who stands beside the machine, and nowhere later."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from headrace.interview.draft import Draft
from headrace.interview.question import Question, at
from headrace.program import number_text

_OF_AXES = {
    "homed-numbers": "xyz",
    "home-ends": "xyz",
    "back-off": "xyz",
    "travel-x": "x",
    "travel-y": "y",
    "travel-z": "z",
}
_NEAR = 1.0
"""So far (mm) beyond the stated travel an axis may stand behind homing without a word: people stop
that much before the end."""


def in_other_words(draft: Draft, question: Question) -> Iterator[str]:
    """Sentences on what follows from the answer that a draft has to a question; none where it is
    plain, or hangs on other answers that are still open."""
    for letter in _OF_AXES.get(question.id, ""):
        yield from _axis(draft, letter)
    if question.id in _TOLD:
        yield from _TOLD[question.id](draft)


def _axis(draft: Draft, letter: str) -> Iterator[str]:
    name = letter.upper()
    keys = ("travel", "homed-number", "home-end")
    travel, homed, end = (draft.value(("axes", letter, key)) for key in keys)
    if travel is None or homed is None or end is None:
        return
    far = travel[1] if end == "low" else travel[0]
    rise = "rise" if end == "low" else "fall"
    switch = f"its {end} end"
    if letter == "z":
        switch = "its top" if end == "high" else "its lower end, AT THE BED"
    yield (
        f"So {name} homes at {switch}, shows {_text(homed)} there, and goes"
        f" {_text(abs(far - homed))} mm away from it, to {_text(far)}; its numbers {rise} then."
    )
    outside = max(travel[0] - homed, homed - travel[1])
    if outside > _NEAR:
        yield (
            f"But {_text(homed)} is {_text(outside)} mm outside of {_text(travel[0])} to"
            f" {_text(travel[1])}, and {name} stands there. Is a sign wrong, or an end?"
        )


def _bed(draft: Draft) -> Iterator[str]:
    bed, travel = draft.value(at("bed")), draft.value(at("axes.z.travel"))
    if bed is None or travel is None:
        return
    low, high = travel
    middle = round((low + high) / 2)
    yield (
        f"So the rod must fit {_text(bed - (high - middle))} mm under the collet when Z shows"
        f" {middle} after homing. Measure that too."
    )
    if (left := bed - (high - low)) < 0:
        yield f"And the collet itself could go {_text(-left)} mm below the spoilboard."


def _dwell(draft: Draft) -> Iterator[str]:
    if draft.value(at("dwell")) == "seconds":
        yield (
            "So G4 P5 waits five seconds. If no watch has shown it yet, run T02DWELL before a"
            " spindle turns."
        )
    else:
        yield "So G4 P5000 waits five seconds."


def _homing_word(draft: Draft) -> Iterator[str]:
    word = draft.value(at("homing.word"))
    yield (
        f"So {word} Z0 in a file sends Z straight up to its switch, wherever it is. As long as"
        " T03HOME and T04WAY have not shown it, by-hand is the safe answer to homing-by."
    )


def _homing_order(draft: Draft) -> Iterator[str]:
    if draft.value(at("homing.order"))[0] != ["z"]:
        yield (
            "So files move X or Y while Z may still be down, between clamps. Z first, by itself, is"
            " safe: z xy."
        )


def _pause_word(draft: Draft) -> Iterator[str]:
    if str(draft.value(at("pause.word"))).removeprefix("M").lstrip("0") == "1":
        yield (
            "M1 mostly waits only while a switch at the panel is on: with the switch off a file"
            " goes on over your hands. Take M0 if it waits."
        )


def _work_zero(draft: Draft) -> Iterator[str]:
    word = draft.value(at("work-zero.word"))
    if word == "G10 L2":
        yield (
            "So G10 L2 P1 X5 makes the machine's own place X5 the zero, wherever the head stands."
            " See it without motion: write down what is stored, type it; X must show 5 less than"
            " the machine's own number."
        )
    elif word == "G10 L20":
        yield (
            "So G10 L20 P1 X5 makes X show 5 where the head stands. See it without motion: write"
            " down what is stored, type it, and look."
        )


def _parameters(draft: Draft) -> Iterator[str]:
    if draft.value(at("parameters")):
        yield (
            "So files work out Z zero from #5063. A machine that passes over it sets another zero"
            " and goes DOWN too far: answer no if its manual does not name #5063."
        )


def _machine_moves(draft: Draft) -> Iterator[str]:
    if draft.value(at("machine-moves")):
        yield (
            "So files go up by G53 G0 Z. A machine that passes over G53 goes DOWN to the sheet"
            " instead: answer no if its manual does not name G53."
        )


def _run_down(draft: Draft) -> Iterator[str]:
    seconds = draft.value(at("spindle.run-down"))
    yield f"So {_text(seconds)} s after it is switched off a file may ask your hands to the bit."


_TOLD: Mapping[str, Callable[[Draft], Iterator[str]]] = {
    "bed": _bed,
    "travel-z": _bed,
    "dwell": _dwell,
    "homing-word": _homing_word,
    "homing-order": _homing_order,
    "pause-word": _pause_word,
    "work-zero": _work_zero,
    "parameters": _parameters,
    "machine-moves": _machine_moves,
    "run-down": _run_down,
}


def _text(value: float) -> str:
    return number_text(value, 3)
