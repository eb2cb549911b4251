"""The loop: look, wait until what changed is at rest, prepare, say what is new."""

from __future__ import annotations

import time
from collections.abc import Collection, Generator, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.batch.engines.kit import with_python_files
from headrace.batch.folder import prepare_folder
from headrace.batch.watching.answer import Answer, Said
from headrace.batch.watching.bell import Bell
from headrace.batch.watching.caution import Caution, Refusals
from headrace.batch.watching.sight import Given, Sight, look, places_of, signs_of
from headrace.batch.watching.slot import Slot
from headrace.batch.watching.unrest import Unrest
from headrace.card.seen import Seen, Sign
from headrace.errors import CardError, PluginError, RecipeError
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.batch.engines import Engine
    from headrace.batch.prepared import Prepared
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan

_IDLE = 1.0
"""How long nothing is looked at while there are no news (s)."""

_SHARE = 20
"""A look that takes long is repeated after so many times its length only."""


@dataclass(frozen=True, slots=True)
class _Loaded:
    """A plan and its transforms, how the files of the recipe stood when they were read, and what
    was refused by this plan."""

    plan: Plan
    registry: Registry
    signs: dict[Path, Sign]
    refusals: Refusals = field(default_factory=Refusals)


class _Shifting(Exception):
    """The files of the recipe changed while they were read."""


class Watch:
    """Prepares what is given, and again whatever follows from a change, until its bell is stopped.

    `installed` are the transforms of installed plugins; `engine` is as for `prepare_folder`.
    """

    def __init__(
        self,
        given: Given,
        installed: Registry,
        *,
        engine: Engine | None = None,
        bell: Bell | None = None,
    ) -> None:
        self.bell: Bell = bell or Bell()
        self._given = given
        self._installed = installed
        self._engine = engine
        self._recipe = self._named_files([given.recipe])
        self._loaded: _Loaded | None = None
        self._unrest = Unrest()
        self._touched: set[Path] = set()
        self._answered: Sight | None = None
        self._slot = Slot(given.card)
        self._seen = Seen()
        self._said = Said()

    def answers(self) -> Generator[Answer, None, None]:
        """An answer to how things stand at first, and to each change."""
        try:
            yield from self._answers()
        finally:
            self.bell.close()

    def _answers(self) -> Iterator[Answer]:
        sight = self._look()
        self.bell.listen(places_of(self._given, sight))
        next_look = 0.0
        while (names := self.bell.wait()) is not None:
            begun = time.monotonic()
            if not names and begun < next_look:
                continue
            before, sight = sight, self._look()
            anew = self.bell.listen(places_of(self._given, sight))
            touched = _named(sight, names)
            self._touched |= touched
            self._unrest.see(before.changed(sight) | touched, begun)
            next_look = 0.0
            if self._unrest.moving - self._unrest.lasting:
                continue
            if (answer := self._answer(sight)) is not None:
                yield answer
            elif not self._unrest.moving and not anew:
                now = time.monotonic()
                next_look = now + max(_IDLE, _SHARE * (now - begun))

    def _look(self) -> Sight:
        while (sight := look(self._given, self._recipe)).recipe != self._recipe:
            self._recipe = self._named_files(self._recipe)
        return sight

    def _named_files(self, files: Collection[Path]) -> dict[Path, Sign]:
        """The files that the recipe leads to, as they stood before they were read for that."""
        from headrace.recipe.named_files import named_files

        while True:
            signs = signs_of(files)
            files = named_files(self._given.recipe)
            if any(path.suffix == ".py" for path in files):
                files |= _what_is_trusted()  # a Python file may come to be trusted, or no longer
            if files == signs.keys():
                return signs

    def _answer(self, sight: Sight) -> Answer | None:
        """What there is to say; None where there is nothing, or nothing yet."""
        being_written = self._unrest.moving
        resting = sight.but(dict.fromkeys(being_written))
        changed = self._changed(resting) | (self._touched - being_written)
        anew = bool(changed) or resting != self._answered
        if not anew and not self._slot.worth_another_try():
            return None
        findings = (*sight.findings, *self._findings(sight, changed))
        try:
            prepared, caution = self._prepared(sight, being_written)
        except _Shifting:
            return None
        except (RecipeError, PluginError, CardError) as error:
            self._answered = resting
            self._touched &= being_written
            said = self._said.of_error(error, findings, anew)
            wanting = "card" if isinstance(error, CardError) else "recipe"
            return Answer(said, len(sight.jobs), error.exit_code, wanting) if said else None
        self._answered = sight.but(caution.read).but(dict.fromkeys(caution.unread))
        self._touched &= caution.unread
        names = {job.name for job in sight.jobs if job.path in changed}
        said = self._said.of_run(prepared, findings, names)
        return Answer(said, len(sight.jobs), prepared.exit_code)

    def _changed(self, resting: Sight) -> set[Path]:
        """The files that are not as they were when the last answer was given."""
        if self._answered is None:
            return {*resting.signs, *resting.recipe}
        return self._answered.changed(resting)

    def _prepared(self, sight: Sight, being_written: Collection[Path]) -> tuple[Prepared, Caution]:
        """Prepare all jobs. Raises RecipeError, PluginError, CardError, _Shifting."""
        loaded = self._load(sight)
        loaded.refusals.forget(self._touched)
        caution = Caution(self._engine, being_written, loaded.refusals)
        try:
            self._slot.check()
            if self._answered is None or self._answered.card != sight.card:
                self._seen.forget()
            prepared = prepare_folder(
                loaded.plan,
                loaded.registry,
                sight.jobs,
                self._given.card,
                engine=caution,
                folders=self._given.folders,
                seen=self._seen,
            )
        except CardError as error:
            self._slot.reject(error)
            raise
        self._slot.accept()
        return prepared, caution

    def _load(self, sight: Sight) -> _Loaded:
        """The plan as the files of the recipe say. Raises RecipeError, PluginError, _Shifting."""
        from headrace.recipe import load_plan

        if self._loaded is not None and self._loaded.signs == sight.recipe:
            return self._loaded
        self._loaded = None
        signs = dict(sight.recipe)
        try:
            plan = load_plan(self._given.recipe, self._installed, self._given.overrides)
            registry = with_python_files(self._installed, plan)
        except (RecipeError, PluginError):
            if signs_of(signs) != signs:
                raise _Shifting from None
            raise
        if signs_of(signs) != signs:
            raise _Shifting
        self._loaded = _Loaded(plan, registry, signs)
        return self._loaded

    def _findings(self, sight: Sight, changed: Collection[Path]) -> Iterator[Finding]:
        if self.bell.deaf:
            yield Finding.of("watch-without-news", self.bell.deaf)
        for job in sight.jobs:
            if job.path in self._unrest.held and job.path in changed:
                what = f"a program holds {job.name} open for writing"
                yield Finding.of("job-held-open", what)


def _what_is_trusted() -> frozenset[Path]:
    """The list of trusted Python files, there or not; nothing where it has no place."""
    from headrace.plugins.trusted import TrustedList

    try:
        return frozenset((TrustedList.of_user().path,))
    except PluginError:
        return frozenset()


def _named(sight: Sight, names: Collection[str]) -> set[Path]:
    """The files of a sight that have one of these names."""
    if not names:
        return set()
    return {path for path in (*sight.signs, *sight.recipe) if path.name in names}
