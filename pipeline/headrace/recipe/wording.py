"""How findings name what a file says: keys, values, and what was probably meant."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import Any

from headrace.recipe.node import Path

_LONGEST = 40
_KINDS = (
    (bool, "true or false"),
    (str, "text"),
    (int, "a number"),
    (float, "a number"),
    (list, "a list"),
    (dict, "a mapping"),
)
_WANTED = {
    "number": "a number",
    "integer": "a whole number",
    "string": "text",
    "boolean": "true or false",
    "array": "a list",
    "object": "a mapping",
    "null": "null",
}


def label(path: Path) -> str:
    """A path in words; items of lists count from 1.

    >>> label(("axes", "x", "travel"))
    '`axes.x.travel`'
    >>> label(("clamps", 1, "top"))
    '`top` in item 2 of `clamps`'
    """
    positions = [at for at, part in enumerate(path) if isinstance(part, int)]
    if not positions:
        return f"`{'.'.join(str(part) for part in path)}`" if path else "the file"
    last = positions[-1]
    item = f"item {int(path[last]) + 1} of {label(path[:last])}"
    rest = path[last + 1 :]
    return f"{label(rest)} in {item}" if rest else item


def told(value: Any) -> str:
    """A value as a finding shows it, cut short when it is long.

    >>> told("oak"), told(None), told([1, 2])
    ('`oak`', '`null`', '`[1, 2]`')
    """
    if isinstance(value, bool):
        text = str(value).lower()
    elif value is None:
        text = "null"
    elif isinstance(value, list):
        text = f"[{', '.join(told(item).strip('`') for item in value[:_LONGEST])}]"
    elif isinstance(value, dict):
        text = f"{{{', '.join(f'{key}: …' for key in list(value)[:_LONGEST])}}}"
    else:
        text = " ".join(str(value).split())
    return f"`{text if len(text) <= _LONGEST else text[: _LONGEST - 1] + '…'}`"


def kind_of(value: Any) -> str:
    """What sort of value it is: `a number`, `text` and so on."""
    return next((words for kind, words in _KINDS if isinstance(value, kind)), "null")


def wanted(types: str | Iterable[str]) -> str:
    """JSON Schema's names of types in words.

    >>> wanted(["number", "array"])
    'a number or a list'
    """
    names = [types] if isinstance(types, str) else list(types)
    return any_of(_WANTED.get(name, name) for name in names)


def any_of(words: Iterable[str]) -> str:
    """Words joined by commas and `or`, each once."""
    unique = list(dict.fromkeys(words))
    if len(unique) < 2:
        return "".join(unique)
    return f"{', '.join(unique[:-1])} or {unique[-1]}"


def listed(names: Iterable[Any]) -> str:
    """Names in a row, each in quotes, in their order."""
    return ", ".join(told(name) for name in names) or "none"


def lowered(text: str) -> str:
    """A sentence as it goes on behind a colon: G10 and S keep their capitals.

    >>> lowered("The feed; mm/min."), lowered("G92 shifts.")
    ('the feed; mm/min.', 'G92 shifts.')
    """
    return text[:1].lower() + text[1:] if text[1:2].islower() or text[1:2] == " " else text


def nearest(word: object, names: Iterable[str]) -> str | None:
    """The name that was probably meant, or None when none is close.

    >>> nearest("sped", ["speed", "missing"]), nearest("ta", ["at", "text"])
    ('speed', 'at')
    """
    if not isinstance(word, str) or len(word) > _LONGEST:
        return None
    plain = {_folded(name): name for name in names}
    wanted = _folded(word)
    swapped = [name for name in plain if _is_swapped(wanted, name)]
    found = swapped or difflib.get_close_matches(wanted, plain, n=1, cutoff=0.6)
    return plain[found[0]] if found else None


def _is_swapped(word: str, name: str) -> bool:
    """Whether two neighbouring letters have changed places; in short words little else is left."""
    if len(word) != len(name):
        return False
    other = [at for at in range(len(word)) if word[at] != name[at]]
    return (
        len(other) == 2
        and other[1] == other[0] + 1
        and word[other[0]] == name[other[1]]
        and word[other[1]] == name[other[0]]
    )


def _folded(word: str) -> str:
    return word.lower().replace("_", "-").replace(" ", "-")
