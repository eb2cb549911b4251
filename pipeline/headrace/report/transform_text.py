"""A transform as text: what it is for, its options, and what it may change."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from headrace.plugins.transform import Transform


def listed(transforms: Sequence[Transform]) -> Iterator[str]:
    """A line for each transform: its name, and what it is for."""
    wide = max((len(transform.name) for transform in transforms), default=0)
    for transform in transforms:
        yield f"{transform.name:<{wide}}  {transform.summary}"


def described(transform: Transform) -> Iterator[str]:
    """Everything about one transform, in lines."""
    provider = f"  ({transform.provider})" if transform.provider else ""
    yield f"{transform.name}{provider}"
    yield ""
    yield from transform.doc.splitlines()
    yield ""
    yield "options:" if transform.options else "options: none"
    for name, option in transform.options.items():
        yield f"  {name}: {_kind(option)}{_presence(name, option, transform.required)}"
        yield f"      {option.get('description', 'not described')}"
    yield ""
    facets = ", ".join(sorted(str(facet) for facet in transform.may_change))
    yield f"may change: {facets or 'nothing'}"
    yield f"may add motion: {'yes' if transform.adds_motion else 'no'}"
    yield f"cut path: {_path(transform)}"
    if transform.idempotent:
        yield "run again: finds nothing to do"


def _path(transform: Transform) -> str:
    """What becomes of the cut path."""
    ways = [
        *(["mapped by one affine map"] if transform.terms.affine else []),
        *(["within a tolerance of what it was"] if transform.terms.within else []),
        *(["what linear axes did, rotary ones may do"] if transform.terms.wraps else []),
        *(["rapids may go by the corner"] if transform.detours else []),
    ]
    return " and ".join(ways) or "stays as it is"


def _kind(option: Mapping[str, Any]) -> str:
    """The values that an option takes."""
    if "enum" in option:
        return " | ".join(_value(value) for value in option["enum"])
    if "const" in option:
        return _value(option["const"])
    kind = option.get("type", "any value")
    parts = [" or ".join(kind) if isinstance(kind, list) else str(kind)]
    for key, words in _BOUNDS.items():
        if key in option:
            parts.append(f"{words} {_value(option[key])}")
    return ", ".join(parts)


_BOUNDS = {
    "minimum": "at least",
    "exclusiveMinimum": "more than",
    "maximum": "at most",
    "exclusiveMaximum": "less than",
    "maxLength": "characters at most",
    "pattern": "of the pattern",
}


def _presence(name: str, option: Mapping[str, Any], required: tuple[str, ...]) -> str:
    if name in required:
        return " (required)"
    if option.get("default") is not None:
        return f" (default {_value(option['default'])})"
    return " (may be left out)"


def _value(value: Any) -> str:
    return value if isinstance(value, str) else json.dumps(value)
