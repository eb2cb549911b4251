"""What is asked of a transform as such, before any job: its words, its options, their schemas."""

from __future__ import annotations

import dis
import inspect
from collections.abc import Callable, Iterator, Mapping
from random import Random
from typing import Any

from headrace.plugins import Transform
from headrace.plugins.declaration import parameter
from headrace.testing.values import fits, values, wrong_values

_ANNOTATIONS = frozenset(
    ("$comment", "$schema", "$id", "$defs", "title", "description", "default", "examples",
     "deprecated", "readOnly", "writeOnly", "format", "contentMediaType", "contentEncoding",
     "if", "then", "else", "minContains", "maxContains")
)  # fmt: skip
"""Words of JSON Schema (2020-12) that no validator looks at by themselves."""
_NESTED = ("items", "additionalProperties", "contains", "not", "propertyNames")
_LISTS = ("prefixItems", "anyOf", "oneOf", "allOf")
_SHORTEST = 10


def is_described(transform: Transform) -> Iterator[str]:
    """The first line of its docstring says what it does, and it declares that it does something."""
    summary = transform.summary
    if len(summary) < _SHORTEST or not summary.endswith("."):
        yield f"the docstring's first line {summary!r} is no sentence that ends in a point"
    elif len(summary) > 100:
        yield f"the docstring's first line has {len(summary)} characters; a list shows 100"
    if transform.gives == "edits" and not transform.may_change and not transform.adds_motion:
        terms = transform.terms
        if not any(getattr(terms, name) for name in terms.__dataclass_fields__):
            yield "it declares nothing that it changes, so it could do nothing"


def describes_its_options(transform: Transform) -> Iterator[str]:
    """Each option has a description, and a value to begin with; its schema is one."""
    from jsonschema import Draft202012Validator, SchemaError

    signature = inspect.signature(transform.apply).parameters
    for name, option in transform.options.items():
        if len(str(option.get("description", ""))) < _SHORTEST:
            yield f"the option `{name}` has no description that says what it does, and its unit"
        try:
            Draft202012Validator.check_schema(dict(option))
        except SchemaError as error:
            yield f"the schema of the option `{name}` is none: {error.message}"
            continue
        for word in _unknown_words(option):
            yield f"{word!r} in the schema of the option `{name}` is no word of JSON Schema"
        for key, value in _stated(option):
            if not fits(value, option):
                yield f"the {key} {value!r} of the option `{name}` is not what its schema allows"
        default = signature[parameter(name)].default
        if default is not inspect.Parameter.empty and default != option.get("default"):
            passed = option.get("default")
            what = f"the parameter's default is {default!r}, its schema's {passed!r}"
            yield f"option `{name}`: {what}, and that is what is passed"


def refuses_wrong_options(transform: Transform) -> Iterator[str]:
    """The schema of its options takes what the step can work with, and nothing else."""
    from jsonschema import SchemaError

    for name, option in transform.options.items():
        try:
            wrong, right = wrong_values(option), values(option, Random(0))
        except SchemaError:
            continue  # told by the check of descriptions
        if not wrong:
            yield f"the option `{name}` takes any value whatever: give its `type`, or an `enum`"
        elif let := [value for value in wrong if fits(value, option)]:
            yield f"the option `{name}` takes {let[0]!r}, beyond what its own bounds say"
        elif not right and "default" not in option:
            yield f"for the option `{name}` no value can be thought of: give `examples`"
    if fits({"no such option": 1}, transform.schema()):
        yield "it takes options that it does not declare"


def looks_at(transform: Transform, option: str) -> bool:
    """Whether the code of the function ever takes up the parameter of an option."""
    name = parameter(option)
    for instruction in dis.get_instructions(inspect.unwrap(transform.apply)):
        named = (
            instruction.argval if isinstance(instruction.argval, tuple) else (instruction.argval,)
        )
        if instruction.opname.startswith("LOAD") and name in named:
            return True
    return False


def _stated(option: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    if option.get("default") is not None:
        yield "default", option["default"]
    for value in option.get("examples", ()):
        yield "example", value


def _unknown_words(schema: Any) -> Iterator[str]:
    """Keywords that nothing looks at: most often one that is misspelt."""
    from jsonschema import Draft202012Validator

    if not isinstance(schema, Mapping):
        return
    known = {*Draft202012Validator.VALIDATORS} | _ANNOTATIONS
    yield from (word for word in schema if word not in known and not word.startswith("x-"))
    inner = [schema[key] for key in _NESTED if key in schema]
    inner += [part for key in _LISTS for part in schema.get(key, ())]
    inner += list(schema.get("properties", {}).values())
    for part in inner:
        yield from _unknown_words(part)


OFFERED: tuple[Callable[[Transform], Iterator[str]], ...] = (
    is_described,
    describes_its_options,
    refuses_wrong_options,
)
