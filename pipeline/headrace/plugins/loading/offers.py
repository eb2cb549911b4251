"""The transforms that a plugin offers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import islice
from types import ModuleType
from typing import Any

from headrace.errors import PluginError
from headrace.findings import Finding
from headrace.plugins.hooks import hookimpl
from headrace.plugins.loading.aside import aside
from headrace.plugins.loading.faults import Named, unfit
from headrace.plugins.loading.implemented import OFFER, Implementation, implementations
from headrace.plugins.loading.own_code import place_of_code
from headrace.plugins.transform import Transform

_MOST = 10_000
"""An offer of more transforms has no end."""


def offered(named: Named, found: Sequence[Implementation]) -> list[Transform]:
    """What a plugin offers by its hooks. Raises PluginError where that are no transforms, and
    whatever the plugin's code raises."""
    transforms: list[Transform] = []
    for each in found:
        if each.hook == OFFER:
            with aside():
                transforms += _transforms(named, each)
    for at, transform in enumerate(transforms):
        if any(transform.name == other.name for other in transforms[:at]):
            what = f"`{transform.name}` is offered twice by {named.name}"
            raise PluginError(findings=[Finding.of("name-taken", what, named.place)])
    return transforms


def offering(named: Named, module: ModuleType) -> object:
    """The module of a Python file itself where it implements hooks, else an offer of the
    transforms in it. Raises PluginError where there is neither."""
    if implementations(named, module):
        return module
    transforms: dict[int, Transform] = {
        id(value): value for value in vars(module).values() if isinstance(value, Transform)
    }
    if not transforms:
        remedy = "mark a function with `@transform(...)`, or take the file out of the recipe"
        raise unfit(named, "there is no transform in it", None, remedy)

    class Offer:
        @hookimpl
        def headrace_transforms(self) -> Iterable[Transform]:
            return list(transforms.values())

    return Offer()


def _transforms(named: Named, implementation: Implementation) -> Iterator[Transform]:
    given = implementation.function()
    place = place_of_code(implementation.function.__code__)
    hook = f"`{implementation.hook}`"
    if isinstance(given, Transform):
        what, remedy = "one transform by itself", f"return a list: `[{given.apply.__name__}]`"
    elif isinstance(given, (str, bytes, dict)) or not isinstance(given, Iterable):
        what, remedy = _told(given), "return a list of transforms"
    else:
        offers = list(islice(given, _MOST + 1))
        wrong = next((each for each in offers if not isinstance(each, Transform)), None)
        if len(offers) <= _MOST and all(isinstance(each, Transform) for each in offers):
            yield from (replace(each, provider=named.name) for each in offers)
            return
        if len(offers) > _MOST:
            what, remedy = f"more than {_MOST} transforms", "return a list that ends"
        else:
            what = f"{_told(wrong)} in its list, which is no transform"
            plain = callable(wrong) and not isinstance(wrong, type)
            remedy = "mark it with `@transform(...)`" if plain else "list what is marked as one"
    raise unfit(named, f"{hook} gives {what}", place, remedy)


def _told(value: Any) -> str:
    if value is None:
        return "None"
    if isinstance(value, type):
        return f"the class {value.__name__}"
    if callable(value) and hasattr(value, "__name__"):
        return f"the function {value.__name__}"
    if isinstance(value, (str, bytes, int, float)):
        text = repr(value)
        return text if len(text) <= 40 else f"{text[:39]}…"
    return f"a value of the type {type(value).__name__}"
