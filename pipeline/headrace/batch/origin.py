"""Origins: what the files of a run follow from besides their jobs, read off plan and plugins.

What is described counts by what it says, not by how or where it is written. Code counts by its
bytes: that of headrace and of installed plugins as it was when this process first asked, that of
Python files as it was loaded.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

import headrace
from headrace.card.origin import Code, Meaning, Origin

if TYPE_CHECKING:
    from headrace.plugins.loading.sources import Source
    from headrace.plugins.registry import Registry
    from headrace.recipe import CardFile, Plan, Step

_FOR_ALL = ("assume", "lower")
"""What a recipe says of everything that it makes."""
_COMPILED = frozenset(("__pycache__",))
_TELLING = frozenset(
    ("cli", "report", "examples", "sheet", "picture", "timing", "testing", "interview", "scaffold")
)
"""Folders of headrace that have no part in what becomes of a job: they tell of it, or are for the
time before there is one."""


@dataclass(frozen=True, slots=True)
class Origins:
    """What the files of a plan follow from: those of jobs, and each card file by its name."""

    jobs: Origin
    card_files: Mapping[str, Origin]

    @classmethod
    def of(cls, plan: Plan, registry: Registry) -> Origins:
        card_files = {each.name: _of_card_file(each, plan, registry) for each in plan.card_files}
        return cls(_of_jobs(plan, registry), card_files)


def _of_jobs(plan: Plan, registry: Registry) -> Origin:
    said = {"steps": plan.values.recipe.get("steps")}
    return _origin(plan, registry, said, plan.steps)


def _of_card_file(card_file: CardFile, plan: Plan, registry: Registry) -> Origin:
    """A card file follows from itself and from those that it goes on from."""
    said: list[list[Any]] = []
    steps: list[Step] = []
    written = {item["name"]: item for item in plan.values.recipe["card-files"]}
    named = {each.name: each for each in plan.card_files}
    name: str | None = card_file.name
    while name is not None and len(said) < len(named):
        said.append([name, written[name].get("steps")])
        steps.extend(named[name].steps)
        name = named[name].after
    return _origin(plan, registry, {"card-files": said}, steps)


def code_of_headrace() -> Code:
    """headrace itself: its version and the digest of its code."""
    home = Path(headrace.__file__).parent
    return Code("headrace", headrace.__version__, _digest(home, _COMPILED | _TELLING))


def whole_code() -> Code:
    """The same with all that tells of jobs: what workers elsewhere must have, whose facts go on a
    run sheet."""
    home = Path(headrace.__file__).parent
    return Code("headrace", headrace.__version__, _digest(home))


def codes_of(steps: Sequence[Step], registry: Registry) -> tuple[Code, ...]:
    """The code of all plugins that have a part in some steps, by name: those that offer them, all
    of them where a step asks for others, and those that watch."""
    taken = [registry.transforms[step.name] for step in steps]
    if any(transform.gives == "steps" for transform in taken):
        taken = list(registry.transforms.values())
    plugins = {transform.provider for transform in taken}
    for name, plugin in registry.manager.list_name_plugin():
        if hasattr(plugin, "headrace_step_done"):
            plugins.add(name)
    codes = {_code(name, registry.sources.get(name)) for name in plugins}
    return tuple(sorted(codes, key=lambda code: (code.name, code.version, code.sha256)))


def _origin(
    plan: Plan, registry: Registry, said: Mapping[str, Any], steps: Sequence[Step]
) -> Origin:
    values = plan.values
    for_all = {key: values.recipe.get(key) for key in _FOR_ALL}
    return Origin(
        recipe=plan.recipe.name,
        steps=Meaning(plan.name, _meaning({**said, **for_all})),
        machine=Meaning(plan.machine.name, _meaning(_lasting(values.machine))),
        setup=Meaning(str(values.setup.get("name", "")), _meaning(values.setup)),
        headrace=code_of_headrace(),
        plugins=codes_of(steps, registry),
    )


def _lasting(machine: Mapping[str, Any]) -> dict[str, Any]:
    """What files follow from of a machine: not what a watch said of it."""
    return {key: value for key, value in machine.items() if key != "timing"}


def _meaning(values: object) -> str:
    """The digest of plain values; keys in the order in which they stand, as a step may heed it."""
    return sha256(json.dumps(values).encode()).hexdigest()


def _code(plugin: str, source: Source | None) -> Code:
    if source is None:
        return Code(plugin, "", "")
    digest = source.sha256 or (_digest(source.home) if source.home is not None else "")
    return Code(source.name, source.version, digest)


@cache
def _digest(home: Path, without: frozenset[str] = _COMPILED) -> str:
    """The digest of a file, or of all files of a package but those in some folders; nothing where
    it cannot be read."""
    told = sha256()
    try:
        if not home.is_dir():
            return sha256(home.read_bytes()).hexdigest()
        for path in sorted(_files(str(home), without)):
            told.update(os.fsencode(os.path.relpath(path, home)).replace(b"\\", b"/") + b"\0")
            told.update(sha256(Path(path).read_bytes()).digest())
    except OSError:
        return ""
    return told.hexdigest()


def _files(folder: str, without: frozenset[str]) -> Iterator[str]:
    """The files in a folder and below it, but for some folders."""
    with os.scandir(folder) as found:
        entries = list(found)
    for entry in entries:
        if not entry.is_dir():
            yield entry.path
        elif entry.name not in without:
            yield from _files(entry.path, without)
