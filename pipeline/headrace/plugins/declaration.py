"""What a transform says of itself, held against its function: slips are told where it is made."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from keyword import iskeyword
from typing import Any

from headrace.errors import PluginError
from headrace.findings import Finding
from headrace.plugins.contract import Facet
from headrace.plugins.loading.own_code import place_of_code

GIVES = ("edits", "parts", "steps")
_NAME = re.compile(r"[a-z0-9](?:[a-z0-9]|-(?=[a-z0-9]))*")


@dataclass(frozen=True, slots=True)
class Declared:
    """What stands in the brackets of `@transform(...)`, whatever that is; `known_terms` are the
    names that `terms` can have."""

    name: Any
    changes: Any
    options: Any
    required: Any
    gives: Any
    terms: Mapping[str, Any]
    known_terms: tuple[str, ...]


def parameter(option: str) -> str:
    """The function's parameter for an option.

    >>> parameter("run-up"), parameter("from")
    ('run_up', 'from_')
    """
    name = option.replace("-", "_")
    return f"{name}_" if iskeyword(name) else name


def verify(declared: Declared, function: Any) -> None:
    """Raise PluginError with all in which a declaration contradicts itself or its function."""
    code = getattr(inspect.unwrap(function) if callable(function) else None, "__code__", None)
    if code is None:
        raise _faulty(declared.name, ["is no function written in Python: mark one with `def`"])
    faults = list(_form_faults(declared)) or list(_function_faults(declared, function))
    if faults:
        raise _faulty(declared.name, faults, code)


def listed(values: Any) -> Any:
    """What can be gone through once, as a tuple; anything else as it is, for `verify` to tell."""
    if isinstance(values, (str, bytes)) or not isinstance(values, Iterable):
        return values
    return tuple(values)


def need_name(name: Any) -> None:
    """Raise PluginError where `@transform` was put above a function without brackets."""
    if inspect.isfunction(name):
        what = 'is marked by `@transform` without brackets: write `@transform("its-name")`'
        raise _faulty(name.__name__, [what], name.__code__)


def _faulty(name: Any, faults: Iterable[str], code: Any = None) -> PluginError:
    place = None if code is None else place_of_code(code)
    return PluginError(
        findings=[
            Finding.of("plugin-faulty", f"transform `{name}` {fault}", place) for fault in faults
        ]
    )


def _form_faults(declared: Declared) -> Iterator[str]:
    """What is not of its kind; nothing else can be told then."""
    if not isinstance(declared.name, str) or not _NAME.fullmatch(declared.name):
        yield "has no name as recipes have them: small letters, digits, hyphens, as in `run-up`"
    for key, told in (("changes", "[Facet.DWELL]"), ("required", '["seconds"]')):
        value = getattr(declared, key)
        if isinstance(value, (str, bytes)) or not isinstance(value, Iterable):
            yield f"has `{key}` that is no list: write `{key}={told}`"
    if not isinstance(declared.options, Mapping):
        yield "has `options` that are no mapping of names to JSON Schemas"
    else:
        for name, schema in declared.options.items():
            if not isinstance(name, str) or not isinstance(schema, Mapping):
                yield f"has the option {name!r}, and its JSON Schema {schema!r} is no mapping"
    if declared.gives not in GIVES:
        yield f"gives {declared.gives!r}; it can give {', '.join(GIVES)}"
    for name, function in declared.terms.items():
        if name not in declared.known_terms:
            near = get_close_matches(name, declared.known_terms, 1)
            hint = f"did you mean `{near[0]}`?" if near else ", ".join(declared.known_terms)
            yield f"is given `{name}`, which is unknown: {hint}"
        elif not callable(function):
            yield f"is given `{name}`, which must be a function of the job and the options"


def _function_faults(declared: Declared, function: Callable[..., Any]) -> Iterator[str]:
    if inspect.iscoroutinefunction(function) or inspect.isasyncgenfunction(function):
        yield "is `async`, and nobody waits for it"
    parameters = list(inspect.signature(function).parameters.values())
    given = {p.name for p in parameters if p.kind is p.KEYWORD_ONLY}
    offered = {parameter(option) for option in declared.options}
    positional = [p for p in parameters if p.kind in (p.POSITIONAL_ONLY, p.POSITIONAL_OR_KEYWORD)]
    if not inspect.getdoc(function):
        yield "has no docstring; its first line is what users see"
    if len(positional) != 1:
        written = ", ".join(str(p.replace(annotation=p.empty)) for p in parameters)
        wanted = ", ".join(["job", *(["*", *sorted(offered)] if offered else [])])
        yield f"must take exactly one positional parameter, the job: ({wanted}), not ({written})"
    if missing := sorted(given - offered):
        yield f"takes {', '.join(missing)}, for which there is no option"
    if missing := sorted(offered - given):
        yield f"has the option {', '.join(missing)}, but takes no such keyword"
    if unknown := sorted({str(facet) for facet in declared.changes} - {*Facet}):
        yield f"says that it changes {', '.join(unknown)}; facets are {', '.join(Facet)}"
    if unknown := sorted({str(name) for name in declared.required} - {*declared.options}):
        near = get_close_matches(unknown[0], list(declared.options), 1)
        hint = f"; did you mean `{near[0]}`?" if near else ""
        yield f"requires {', '.join(unknown)}, which is no option{hint}"
