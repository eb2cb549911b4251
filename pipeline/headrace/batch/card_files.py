"""The recipe's card files, in its order, as one may go on from another."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from itertools import zip_longest
from typing import TYPE_CHECKING

from headrace.batch.engines import Told
from headrace.batch.memory import Memory
from headrace.batch.record import Leaf, Record, fallen, recorded, telling
from headrace.card.folder import CardFolder
from headrace.card.names import Naming
from headrace.card.writing import staged_path
from headrace.errors import JobRefused
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.outcome import Outcome
    from headrace.plugins.registry import Registry
    from headrace.recipe import CardFile, Plan


def made_card_files(
    plan: Plan, registry: Registry, told: Told, folder: CardFolder, namings: Sequence[Naming],
    memory: Memory, leaves: Sequence[Leaf | None],
) -> list[Record]:  # fmt: skip
    """The records of all card files, those staged that are not remembered. `namings` begin with
    their names on the card, `leaves` with their places on the run sheet; of files that have one
    none is remembered."""
    makings = Makings(plan, registry)
    records = []
    for number, card_file in enumerate(plan.card_files, 1):
        name, leaf = namings[number - 1].name, leaves[number - 1]
        standing = folder.content_of(name)
        record = None if leaf else memory.of_card_file(card_file.name, name, standing)
        if record is None:
            try:
                outcome = makings.outcome(card_file)
                tell = None if leaf is None else telling(plan, leaf, None)
                staged = staged_path(folder.path, number)
                record = recorded(outcome, None, staged, standing, tell)
            except Exception as error:
                record = fallen(card_file.name, error)
        told(record)
        records.append(record)
    return records


def examined_card_files(
    plan: Plan, registry: Registry, told: Told, leaves: Sequence[Leaf | None] = ()
) -> list[Record]:
    """The records of all card files, which are written nowhere."""
    makings = Makings(plan, registry)
    records = []
    for card_file, leaf in zip_longest(plan.card_files, leaves[: len(plan.card_files)]):
        try:
            tell = None if leaf is None else telling(plan, leaf, None)
            record = recorded(makings.outcome(card_file), None, None, None, tell)
        except Exception as error:
            record = fallen(card_file.name, error)
        told(record)
        records.append(record)
    return records


class Makings:
    """The outcomes of card files, each made once, when it is first asked for."""

    def __init__(self, plan: Plan, registry: Registry) -> None:
        self.plan = plan
        self.registry = registry
        self.finished: dict[str, Outcome] = {}
        self.failed: dict[str, Exception] = {}

    def outcome(self, card_file: CardFile) -> Outcome:
        """What became of a card file. Raises whatever ended it, JobRefused where it goes on from
        one that is not there."""
        name = card_file.name
        if name in self.failed:
            raise self.failed[name]
        if name not in self.finished:
            try:
                self.finished[name] = self._made(card_file)
            except Exception as error:
                self.failed[name] = error
                raise
        return self.finished[name]

    def _made(self, card_file: CardFile) -> Outcome:
        from headrace.run import prepare_card_file

        if card_file.after is not None and not self._is_there(card_file.after, card_file):
            what = f"{card_file.name} goes on from {card_file.after}, which is not there"
            finding = Finding.of("card-file-unready", what, card_file.place)
            raise JobRefused(findings=[finding])
        return prepare_card_file(card_file, self.plan, self.registry, self.finished)

    def _is_there(self, name: str, later: CardFile) -> bool:
        """Whether a card file comes before another one, and was made."""
        before = self.plan.card_files[: self.plan.card_files.index(later)]
        for card_file in before:
            if card_file.name == name:
                with suppress(Exception):
                    self.outcome(card_file)
        return name in self.finished
