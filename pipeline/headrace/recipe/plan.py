"""The plan: everything that a recipe says, read, checked and ready to be carried out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol, TypeVar

from headrace.errors import PluginError, RecipeError
from headrace.findings import Finding, Place
from headrace.machine import Assumed, Machine, Setup
from headrace.plugins.transform import Transform
from headrace.recipe.composed import Composed, compose, compose_alone
from headrace.recipe.consistency import (
    blank_findings,
    card_file_findings,
    machine_findings,
    setup_findings,
)
from headrace.recipe.lowering import Lowering, lowering_findings, lowerings_of
from headrace.recipe.node import Items, Leaf, Node, Table, plain
from headrace.recipe.older import in_own_words
from headrace.recipe.python_files import python_files
from headrace.recipe.schema import inline_setup_schema, schema, whole_recipe_schema
from headrace.recipe.step import Step, step_findings, steps_of
from headrace.recipe.unfinished import unfinished_findings
from headrace.recipe.validation import Subject, schema_findings

R = TypeVar("R", bound="Transforms")

_PATHS = ("machine", "setup", "python")
"""Keys of a recipe that name other files; a set-up of its own is a document by itself."""


class Transforms(Protocol):
    """What a registry must offer here."""

    @property
    def transforms(self) -> Mapping[str, Transform]:
        """The transforms that recipes may name."""

    def with_files(self: R, paths: Sequence[Path], places: Sequence[Place]) -> R:
        """The same with Python files; PluginError for one that cannot be loaded."""


@dataclass(frozen=True, slots=True)
class CardFile:
    """A file that is written to the card without a job."""

    name: str
    title: str
    after: str | None
    steps: tuple[Step, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Values:
    """What the documents say as plain data, parents merged and overrides applied, wherever that
    stands; the recipe's own without the paths of other files."""

    recipe: Mapping[str, Any]
    machine: Mapping[str, Any]
    setup: Mapping[str, Any]

    @classmethod
    def of(cls, composed: Composed) -> Values:
        recipe, machine, setup = (
            {} if document is None else plain(document)
            for document in (composed.recipe, composed.machine, composed.setup)
        )
        own = {key: value for key, value in recipe.items() if key not in _PATHS}
        return cls(own, machine, setup)


@dataclass(frozen=True, slots=True)
class Plan:
    """A recipe with its machine and its set-up.

    `sources` are all YAML files that were read, the recipe first; `python_files` bring steps of its
    own. `assumed` is what is taken for granted of jobs, `values` is what all documents say.
    `lowerings` are the warnings that are told as notes. `alone` tells that there is no recipe, and
    jobs are looked at as they are; `recipe` and `name` are then those of the machine.
    """

    recipe: Path
    name: str
    description: str
    machine: Machine
    setup: Setup
    steps: tuple[Step, ...]
    card_files: tuple[CardFile, ...]
    assumed: Assumed
    python_files: tuple[Path, ...]
    sources: tuple[Path, ...]
    values: Values
    lowerings: tuple[Lowering, ...] = ()
    alone: bool = False


def load_plan(path: Path, registry: Transforms, overrides: Sequence[str] = ()) -> Plan:
    """The plan of the recipe at `path`; `overrides` are texts such as `setup.sheet.corner=[9, 9]`.

    Raises RecipeError with every finding when the recipe or a file that it names is at fault,
    PluginError when only a plugin is. Python files run when the rest of the recipe is sound.
    """
    composed, found, plugin_fault = _judged(path, registry, overrides)
    if found or composed is None or composed.machine is None or composed.setup is None:
        raise RecipeError(findings=found)
    if plugin_fault is not None:
        raise plugin_fault
    recipe, machine = composed.recipe, Machine.of(plain(composed.machine))
    return Plan(
        recipe=path,
        name=str(_text(recipe, "name")),
        description=_text(recipe, "description") or "",
        machine=machine,
        setup=Setup.of(plain(composed.setup)).on(machine),
        steps=_steps(recipe),
        card_files=_card_files(recipe),
        assumed=Assumed.of(plain(recipe).get("assume", {})),
        python_files=tuple(file for file, _ in python_files(recipe)[0]),
        sources=composed.sources,
        values=Values.of(composed),
        lowerings=lowerings_of(recipe),
    )


def load_alone(
    machine: Path, setup: Path | None, units: str | None = None, overrides: Sequence[str] = ()
) -> Plan:
    """The plan of a machine without a recipe, `units` being those of jobs that state none.

    Raises RecipeError with every finding when the machine or the set-up is at fault.
    """
    composed, found = compose_alone(machine, setup, overrides)
    if composed is not None:
        found += _machine_and_setup_findings(composed)
    if found or composed is None or composed.machine is None or composed.setup is None:
        raise RecipeError(findings=found)
    described = Machine.of(plain(composed.machine))
    return Plan(
        recipe=machine,
        name=described.name,
        description="",
        machine=described,
        setup=Setup.of(plain(composed.setup)).on(described),
        steps=(),
        card_files=(),
        assumed=Assumed(units=units),
        python_files=(),
        sources=composed.sources,
        values=Values.of(composed),
        alone=True,
    )


def check_recipe(path: Path, registry: Transforms, overrides: Sequence[str] = ()) -> list[Finding]:
    """Everything that is wrong with the recipe at `path` and the files that it names."""
    _, found, plugin_fault = _judged(path, registry, overrides)
    return [*found, *(plugin_fault.findings if plugin_fault else ())]


def _judged(
    path: Path, registry: Transforms, overrides: Sequence[str]
) -> tuple[Composed | None, list[Finding], PluginError | None]:
    """What depends on something faulty is not judged: first cause first."""
    composed, unread = compose(path, overrides)
    if composed is None:
        return None, unread, None
    envelope = _envelope_findings(composed)
    found = [*envelope, *unread, *_machine_and_setup_findings(composed)]
    if envelope:
        return composed, found, None
    files, misplaced = python_files(composed.recipe)
    found += misplaced
    if found and (files or misplaced):
        # Nobody's code runs for a recipe that is refused anyway, so local names stay unknown.
        return composed, found, None
    try:
        if files:
            registry = registry.with_files([file for file, _ in files], [n.place for _, n in files])
        steps = _step_findings(composed, registry)
    except PluginError as error:
        return composed, found, error
    return composed, [*found, *steps], None


def _envelope_findings(composed: Composed) -> list[Finding]:
    recipe = composed.recipe
    found = schema_findings(Subject(recipe), whole_recipe_schema())
    if found:
        return in_own_words(found, recipe, composed.older)
    if not recipe.entries.keys() & {"steps", "card-files"}:
        what = "the recipe has neither `steps` nor `card-files`"
        remedy = "add `steps`: the transforms that every job goes through, in order"
        return [Finding.of("recipe-missing-key", what, recipe.place, remedy=remedy)]
    return [*card_file_findings(recipe), *lowering_findings(recipe)]


def _machine_and_setup_findings(composed: Composed) -> list[Finding]:
    found: list[Finding] = []
    if (machine := composed.machine) is not None:
        unsound = schema_findings(Subject(machine), schema("machine"))
        found += [*unfinished_findings(unsound), *unsound] or machine_findings(machine)
    if (setup := composed.setup) is not None:
        wanted = inline_setup_schema() if composed.has_own_setup else schema("setup")
        unsound = schema_findings(Subject(setup), wanted)
        found += unsound or setup_findings(setup)
        if machine is not None and not found:
            found += blank_findings(setup, machine)
    return found


def _step_findings(composed: Composed, registry: Transforms) -> list[Finding]:
    known, found = registry.transforms, []
    steps = composed.recipe.get("steps")
    if steps is not None:
        found += step_findings(steps, known)
    for file in _files(composed.recipe):
        steps = file.get("steps")
        if steps is not None:
            found += step_findings(steps, known, stand_alone=True)
    return found


def _files(recipe: Table) -> list[Table]:
    files = recipe.get("card-files")
    items: tuple[Node, ...] = files.items if isinstance(files, Items) else ()
    return [item for item in items if isinstance(item, Table)]


def _steps(table: Table) -> tuple[Step, ...]:
    steps = table.get("steps")
    return () if steps is None else steps_of(steps)


def _card_files(recipe: Table) -> tuple[CardFile, ...]:
    return tuple(
        CardFile(
            name=str(_text(file, "name")),
            title=_text(file, "title") or "",
            after=_text(file, "after"),
            steps=_steps(file),
            place=file.place,
        )
        for file in _files(recipe)
    )


def _text(table: Table, key: str) -> str | None:
    node = table.get(key)
    return str(node.value) if isinstance(node, Leaf) else None
