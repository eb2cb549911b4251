"""What a worker needs besides its tasks: the plan, and the transforms that it may name.

The plan travels packed and is unpacked once in each worker. Transforms do not travel: a worker
loads its own, and works only where they and headrace itself are those of whoever asks.
"""

from __future__ import annotations

import pickle
from dataclasses import dataclass, field
from functools import lru_cache
from hashlib import sha256
from socket import gethostname
from typing import TYPE_CHECKING

from headrace.batch.origin import codes_of, whole_code
from headrace.batch.record import Record, Task, run_task
from headrace.card.origin import Code
from headrace.errors import EngineError, HeadraceError, PluginError
from headrace.findings import Finding, Place

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.plugins.trust import Gate
    from headrace.recipe import Plan


@dataclass(frozen=True, slots=True)
class Kit:
    """A packed plan, and the code that carries it out: that of plugins, and of headrace itself for
    workers `elsewhere`. Of Python files that the recipe names a worker runs those with a SHA-256 of
    `python`, and no others. Two of one digest are the same."""

    digest: str
    packed: bytes = field(compare=False, repr=False)
    codes: tuple[Code, ...]
    python: tuple[str, ...]
    elsewhere: bool

    @classmethod
    def of(cls, plan: Plan, registry: Registry, elsewhere: bool = False) -> Kit:
        packed = pickle.dumps(plan)
        codes = _codes(plan, registry, elsewhere)
        return cls(sha256(packed).hexdigest(), packed, codes, registry.python, elsewhere)


def worker_registry(plan: Plan, gate: Gate | None = None) -> Registry:
    """All transforms that a plan may name; Python files go through `gate`, the usual one if none
    is given. Raises PluginError."""
    from headrace.plugins.registry import load_registry
    from headrace.plugins.trust import by_policy

    return with_python_files(load_registry(gate or by_policy), plan)


def with_python_files(installed: Registry, plan: Plan) -> Registry:
    """The installed transforms and those of the plan's own Python files. Raises PluginError."""
    files = plan.python_files
    return installed.with_files(files, [Place(str(plan.recipe), 1) for _ in files])


@lru_cache(4)
def unpacked(kit: Kit) -> tuple[Plan, Registry]:
    """In a worker: the plan and its transforms; those that came last are kept.

    Raises EngineError where the worker's code is not that of the kit; PluginError on this machine,
    where plugins can only have changed meanwhile.
    """
    from headrace.plugins.trust import only

    plan: Plan = pickle.loads(kit.packed)
    try:
        registry = worker_registry(plan, only(kit.python))
        codes = _codes(plan, registry, kit.elsewhere)
    except (PluginError, KeyError) as error:
        said = error.message if isinstance(error, PluginError) else f"there is no step {error}"
        raise _unlike(kit, said) from error
    there = {code.name: code for code in codes}
    for wanted in kit.codes:
        if wanted not in codes:
            raise _unlike(kit, _difference(wanted, there.get(wanted.name)))
    return plan, registry


def run_with(kit: Kit, task: Task) -> Record:
    """In a worker: prepare one job. What goes wrong with it is in the record."""
    plan, registry = unpacked(kit)
    return run_task(task, plan, registry)


def _codes(plan: Plan, registry: Registry, elsewhere: bool) -> tuple[Code, ...]:
    own = (whole_code(),) if elsewhere else ()
    return (*own, *codes_of(plan.steps, registry))


def _difference(wanted: Code, found: Code | None) -> str:
    if found is None:
        return f"it has no {wanted.name}"
    if found.version != wanted.version:
        return f"it has {wanted.name} {found.version}, not {wanted.version}"
    return f"its {wanted.name} {wanted.version}".rstrip() + " has other code"


def _unlike(kit: Kit, said: str) -> HeadraceError:
    if kit.elsewhere:
        what = f"the worker on {gethostname()} would prepare jobs otherwise: {said}"
        return EngineError(findings=[Finding.of("worker-unlike", what)])
    what = f"a plugin was changed while jobs were prepared by it: {said}"
    return PluginError(findings=[Finding.of("worker-unlike", what, remedy="run again")])
