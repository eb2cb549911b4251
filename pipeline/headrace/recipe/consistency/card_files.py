"""Card files of a recipe that contradict each other: names, and the order."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from headrace.findings import Finding
from headrace.recipe.node import Node, place_at, plain
from headrace.recipe.wording import listed, nearest, told


def card_file_findings(recipe: Node) -> list[Finding]:
    """Card files that share a name, or whose `after` leads nowhere or in a circle."""
    data = plain(recipe).get("card-files", [])
    found: list[Finding] = []
    first: dict[str, str] = {}
    for number, card_file in enumerate(data):
        name = card_file["name"]
        if (other := first.setdefault(name.lower(), name)) is not name:
            what = f"two card files are called {told(name)}"
            if other != name:
                what = f"{told(other)} and {told(name)} are one name on a card"
            place = place_at(recipe, ("card-files", number, "name"))
            found.append(Finding.of("recipe-card-file", what, place))
    names = [card_file["name"] for card_file in data]
    for number, card_file in enumerate(data):
        after = card_file.get("after")
        if after is not None and after not in names:
            close = nearest(after, names)
            hint = f"did you mean `{close}`? " if close else ""
            what = f"{told(card_file['name'])} comes after {told(after)}, which is no card file"
            place = place_at(recipe, ("card-files", number, "after"))
            remedy = f"{hint}card files: {listed(names)}"
            found.append(Finding.of("recipe-card-file", what, place, remedy=remedy))
    return [*found, *_circles(recipe, data)]


def _circles(recipe: Node, data: list[dict[str, Any]]) -> Iterator[Finding]:
    after = {card_file["name"]: card_file.get("after") for card_file in data}
    told_of: set[str] = set()
    for number, card_file in enumerate(data):
        way = [card_file["name"]]
        while (next_name := after.get(way[-1])) is not None and next_name not in way:
            way.append(next_name)
        if next_name == way[0] and not told_of & set(way):
            told_of |= set(way)
            what = f"{' after '.join(told(name) for name in [*way, way[0]])}: none can be first"
            place = place_at(recipe, ("card-files", number, "after"))
            yield Finding.of("recipe-card-file", what, place)
