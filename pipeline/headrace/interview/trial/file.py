"""A test file: which question it is for, what it needs to know first, and what stands in it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from headrace.interview.draft import Draft
from headrace.interview.trial.words import Words


@dataclass(frozen=True, slots=True, eq=False)
class TrialFile:
    """`stem` is its name on the card; `shows` are the ids of the questions that it answers, `needs`
    those that must be answered before it can be written.

    `reach` is how far (mm) from its switch it takes each axis at the most; none where nothing
    moves. `watch` are sentences on what happens, `told` on what to answer then. `unfit` says why it
    is nothing for a machine, None where it is.
    """

    stem: str
    title: str
    shows: tuple[str, ...]
    needs: tuple[str, ...]
    watch: tuple[str, ...]
    told: tuple[str, ...]
    body: Callable[[Words], list[str]]
    reach: Mapping[str, float] = field(default_factory=dict)
    prepare: tuple[str, ...] = ()
    unfit: Callable[[Draft], str | None] = lambda _draft: None

    @property
    def moves(self) -> bool:
        """Whether anything moves."""
        return bool(self.reach)

    def notes(self) -> list[str]:
        """What stands at its top, for whoever reads it on the card. As in the texts of pauses, no
        number stands behind a letter: nothing moves or is switched by a note that is not one."""
        if not self.moves:
            return [self.stem, "NOTHING MOVES", "HAND ON EMERGENCY STOP", "READ TESTS.TXT FIRST"]
        far = [f"{most:g} MM IN {axis} AT MOST" for axis, most in self.reach.items() if most]
        return [
            self.stem,
            *(far or ["2 MM IN X, AND HOMES"]),
            "BED CLEAR, NO CLAMPS",
            "NO BIT IN THE COLLET",
            "SPINDLE POWER OFF",
            "HAND ON EMERGENCY STOP",
            "READ TESTS.TXT FIRST",
        ]

    def content(self, draft: Draft) -> bytes:
        """The bytes of the file for a machine that is fit and described as far as needed."""
        words = Words(draft)
        return words.program(self.notes(), self._lines(words))

    def stops(self, draft: Draft) -> list[str]:
        """What its pauses say, in their order, for who stands at a display that shows nothing."""
        words = Words(draft)
        self._lines(words)
        return words.stops

    def _lines(self, words: Words) -> list[str]:
        lead = ("BED CLEAR, NO BIT?", "HAND ON STOP?") if self.moves else ()
        return [*(line for text in lead for line in words.pause(text)), *self.body(words)]
