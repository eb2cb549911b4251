"""The hooks that a plugin implements, held against those there are."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from difflib import get_close_matches
from typing import Any, NamedTuple

from headrace.findings import Place
from headrace.plugins import hookspecs
from headrace.plugins.hooks import PROJECT
from headrace.plugins.loading.faults import Named, nearest, unfit
from headrace.plugins.loading.own_code import place_of_code

_SPECS: dict[str, Callable[..., Any]] = {
    name: spec for name, spec in vars(hookspecs).items() if hasattr(spec, f"{PROJECT}_spec")
}
OFFER = "headrace_transforms"


class Implementation(NamedTuple):
    """What a plugin implements a hook by."""

    hook: str
    function: Callable[..., Any]


def implementations(named: Named, plugin: object) -> tuple[Implementation, ...]:
    """The hooks that a plugin implements. Raises PluginError for the first slip."""
    if inspect.isclass(plugin):
        raise unfit(named, f"{plugin.__name__} is a class; a plugin is an object or a module", None)
    found = []
    for name, function, marks in _marked(plugin):
        hook = str(marks.get("specname") or name)
        if hook in _SPECS or not marks.get("optionalhook"):
            _judge(named, hook, function, marks)
            found.append(Implementation(hook, function))
    if forgotten := _forgotten(plugin):
        name, function = forgotten
        why = f"`{name}` is no hook as long as it is not marked"
        raise unfit(named, why, _place(function), "write `@hookimpl` above it")
    return tuple(found)


def signature(name: str, function: Callable[..., Any]) -> str:
    """A function's name and its parameters, as short as they can be told.

    >>> signature("headrace_step_done", _SPECS["headrace_step_done"])
    'headrace_step_done(name, before, after)'
    """
    given = inspect.signature(function).parameters.values()
    bare = [each.replace(annotation=inspect.Parameter.empty) for each in given]
    return f"{name}{inspect.Signature(bare)}"


def _marked(plugin: object) -> Iterator[tuple[str, Any, dict[str, Any]]]:
    """What is marked as a hook, in the order of the names."""
    for name in sorted(dir(plugin)):
        value = getattr(plugin, name, None)
        marks = getattr(value, f"{PROJECT}_impl", None)
        if isinstance(marks, dict):
            yield name, value, marks


def _forgotten(plugin: object) -> tuple[str, Any] | None:
    """A function that has a hook's name, or nearly so, and no mark."""
    for name, value in sorted(getattr(plugin, "__dict__", {}).items()):
        if name.startswith(f"{PROJECT}_") and inspect.isfunction(value):
            near = name in _SPECS or get_close_matches(name, _SPECS, 1, 0.8)
            if near and not hasattr(value, f"{PROJECT}_impl"):
                return name, value
    return None


def _judge(named: Named, hook: str, function: Any, marks: dict[str, Any]) -> None:
    """Raise PluginError where a function cannot implement the hook that it is marked for."""
    place = _place(function)
    if hook not in _SPECS:
        why = f"it implements the hook `{hook}`, and there is none of this name"
        hooks = " and ".join(f"`{signature(name, spec)}`" for name, spec in _SPECS.items())
        raise unfit(named, why, place, f"{nearest(hook, _SPECS)}the hooks are {hooks}")
    if not inspect.isroutine(function):
        raise unfit(named, f"`{hook}` is {_kind(function)}, no function", place)
    if inspect.iscoroutinefunction(function) or inspect.isasyncgenfunction(function):
        raise unfit(named, f"`{hook}` is `async`, and nobody waits for it", place, "take it out")
    if hook == OFFER and (marks.get("wrapper") or marks.get("hookwrapper")):
        raise unfit(named, f"`{hook}` is a wrapper, and offers nothing itself", place)
    _judge_parameters(named, hook, function, place)


def _judge_parameters(named: Named, hook: str, function: Any, place: Place | None) -> None:
    given = inspect.signature(_SPECS[hook]).parameters
    kinds = inspect.Parameter
    asked = [
        each
        for each in inspect.signature(function).parameters.values()
        if each.default is kinds.empty
        and each.kind not in (kinds.VAR_POSITIONAL, kinds.VAR_KEYWORD)
        and (each.kind is kinds.KEYWORD_ONLY or each.name not in given)
    ]
    if asked:
        expected = signature(hook, _SPECS[hook])
        why = f"it has `{signature(hook, function)}`, and the hook is `{expected}`"
        few = "write it so; what is not needed may be left out" if given else "write it so"
        raise unfit(named, why, place, few)


def _place(function: Any) -> Place | None:
    code = getattr(inspect.unwrap(function) if callable(function) else None, "__code__", None)
    return None if code is None else place_of_code(code)


def _kind(value: object) -> str:
    return "a class" if inspect.isclass(value) else f"of the type {type(value).__name__}"


def need_hooks(named: Named, found: tuple[Implementation, ...]) -> None:
    """Raise PluginError where a plugin implements nothing."""
    if not found:
        hooks = " or ".join(f"`{signature(name, spec)}`" for name, spec in _SPECS.items())
        remedy = f"mark a function {hooks} with `@hookimpl`"
        raise unfit(named, "it implements no hook", None, remedy)
