"""Where a value departs from a JSON Schema (2020-12): data only, no words yet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from headrace.recipe.node import Path

if TYPE_CHECKING:
    from jsonschema.exceptions import ValidationError


@dataclass(frozen=True, slots=True)
class Mismatch:
    """A keyword of a schema that a value does not keep.

    `limit` is the keyword's own value, `schema` the schema around it, `path` the way to the value,
    `about_key` tells that `value` is a key of the mapping at `path`. `is_choice` is for `anyOf`
    and `oneOf`: none of the alternatives fits.
    """

    keyword: str
    limit: Any
    value: Any
    schema: Mapping[str, Any]
    path: Path
    about_key: bool = False
    is_choice: bool = False


def mismatches(value: Any, schema: Mapping[str, Any]) -> list[Mismatch]:
    """All of them. Whatever jsonschema raises for a schema that cannot be used comes through."""
    from referencing import Registry

    # A registry of our own, for the usual one would fetch what a schema refers to elsewhere.
    registry: Registry[Any] = Registry()
    errors = list(_validator()(schema, registry=registry).iter_errors(value))
    return [_mismatch(error) for error in _chosen(errors)]


@cache
def _validator() -> Any:
    """JSON Schema's rules, but 20.0 is no whole number: a transform would get it as it is."""
    from jsonschema import Draft202012Validator, validators

    checker = Draft202012Validator.TYPE_CHECKER.redefine(
        "integer", lambda _, value: isinstance(value, int) and not isinstance(value, bool)
    )
    extend: Any = validators.extend
    return extend(Draft202012Validator, type_checker=checker)


def _chosen(errors: list[ValidationError]) -> list[ValidationError]:
    """Errors without choices: of alternatives, those of the one that was probably meant."""
    chosen: list[ValidationError] = []
    for error in errors:
        is_choice = error.validator in ("anyOf", "oneOf") and error.context
        chosen.extend(_meant(error) if is_choice else [error])
    return chosen


def _meant(error: ValidationError) -> list[ValidationError]:
    branches: dict[Any, list[ValidationError]] = {}
    for cause in error.context or ():
        branches.setdefault(cause.schema_path[0], []).append(cause)
    here = len(error.absolute_path)
    fitting = [
        causes
        for causes in branches.values()
        if not any(
            len(cause.absolute_path) == here and cause.validator in ("type", "const", "enum")
            for cause in causes
        )
    ]
    return _chosen(min(fitting, key=len)) if fitting else [error]


def _mismatch(error: ValidationError) -> Mismatch:
    schema = error.schema
    return Mismatch(
        keyword=str(error.validator),
        limit=error.validator_value,
        value=error.instance,
        schema=schema if isinstance(schema, Mapping) else {},
        path=tuple(error.absolute_path),
        about_key=len(error.schema_path) > 1 and error.schema_path[-2] == "propertyNames",
        is_choice=bool(error.context),
    )
