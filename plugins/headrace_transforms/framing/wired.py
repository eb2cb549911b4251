"""What a job's words for outputs stand for, and the machine's words for the same things."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from headrace import Job, Machine, Place, needed
from headrace_transforms.telling.refusing import refusal

OFF = "M9"
"""The word that switches M7 and M8 off (RS274/NGC 3.6.4)."""


@dataclass(frozen=True, slots=True)
class Wired:
    """`means` tells what some words of the job switch on, `drop` names those that may go where the
    machine has nothing for them. What neither tells is as the machine file says."""

    job: Job
    means: Mapping[str, str]
    drop: frozenset[str]

    @property
    def machine(self) -> Machine:
        return self.job.machine

    def switches(self, word: str) -> bool:
        """Whether a word switches an output on."""
        return word in ("M7", "M8") or word in self.means or word in self.machine.outputs

    def meant(self, word: str) -> str | None:
        """What a word of the job switches on; None where nobody has said."""
        return self.means.get(word, self.machine.outputs.get(word))

    def taken_back(self, word: str) -> tuple[str, ...]:
        """What a word of the job switches off, as far as it is known."""
        on = [other for other in self.machine.outputs if self.machine.off_word(other) == word]
        if word == OFF:
            on = ["M7", "M8", *(other for other in on if other not in ("M7", "M8"))]
        meant = (self.meant(other) for other in on)
        return tuple(dict.fromkeys(thing for thing in meant if thing is not None))

    def word_for(self, thing: str) -> str | None:
        """The machine's word that switches something on; None where it has none."""
        return next((word for word, what in self.machine.outputs.items() if what == thing), None)

    def on(self, word: str, place: Place) -> str | None:
        """The machine's word for a word of the job; None where it may go."""
        thing = self.meant(word)
        found = None if thing is None else self.word_for(thing)
        if found is not None:
            return found
        if word in self.drop:
            return None
        if thing is None:
            raise refusal("output-missing", f"nothing says what {word} switches on", place=place)
        what = f"{word} switches {thing} on, and the machine has no such output"
        raise refusal("output-missing", what, place=place, remedy=self._remedy())

    def wanted(self, thing: str) -> str:
        """The machine's word for something that the recipe asks for."""
        found = self.word_for(thing)
        if found is None:
            what = f"the machine has no output that is called {thing!r}"
            raise refusal("output-missing", what, remedy=self._remedy())
        return found

    def off(self, things: Iterable[str]) -> Iterator[str]:
        """The machine's words that switch some things off, each once; nothing for what it has no
        output for."""
        words = (self.word_for(thing) for thing in things)
        yield from dict.fromkeys(self._off_word(word) for word in words if word is not None)

    def _off_word(self, word: str) -> str:
        return needed(self.machine.off_word(word), f"machine.outputs-off.{word}", "outputs")

    def _remedy(self) -> str:
        names = ", ".join(dict.fromkeys(self.machine.outputs.values())) or "none"
        return f"describe it under `outputs` in the machine file, which has: {names}"
