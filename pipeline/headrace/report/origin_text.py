"""Where values are from, as text: a line each."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator

from headrace.recipe.override import FILE
from headrace.recipe.said import Said


def lines(values: Iterable[Said]) -> Iterator[str]:
    """The name, the value, and the file and line that say it."""
    for each in values:
        place = each.place
        where = f"{FILE} {place.excerpt}" if place.file == FILE else f"{place.file}:{place.line}"
        text = each.value if isinstance(each.value, str) else json.dumps(each.value)
        yield f"{each.name}: {text}  ({where})"
