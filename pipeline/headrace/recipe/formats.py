"""Formats of the files that people write: which ones are read, and how older ones become newer.

A format has a number, `headrace-recipe/2`. A document of an older one is made into the newest form
as soon as it is read, each by itself, so that nothing behind it knows of more than one form.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from headrace.findings import Place
from headrace.recipe.node import Entry, Leaf, Node, Table


@dataclass(frozen=True, slots=True)
class Upgrade:
    """What makes a document one of the next format: its nodes, and what is to be written at which
    places of its file."""

    nodes: Callable[[Table], Table]
    texts: Callable[[Table], Mapping[Place, str]]
    renamed: Mapping[str, str]
    """Keys of the whole that are called otherwise from then on."""


def renaming(names: Mapping[str, str]) -> Upgrade:
    """Keys of the whole get other names; what stands under them stays."""

    def nodes(root: Table) -> Table:
        entries: dict[str, Entry] = {}
        for key, entry in root.entries.items():
            # what only the next format knows is as unknown in this one as it ever was
            unknown = f"{key}, of a later format" if key in names.values() else key
            entries[names.get(key, unknown)] = entry
        return Table(entries, root.place)

    def texts(root: Table) -> Mapping[Place, str]:
        return {entry.key: names[key] for key, entry in root.entries.items() if key in names}

    return Upgrade(nodes, texts, names)


UPGRADES: Mapping[str, tuple[Upgrade, ...]] = {
    "recipe": (renaming({"plugins": "python"}),),
    "machine": (),
    "setup": (),
}
"""By kind of file what leads from format 1 to 2, from 2 to 3 and so on."""

_FORMAT = re.compile(r"headrace-([a-z]+)/([1-9][0-9]{0,5})")


def newest(kind: str) -> str:
    """The newest format of a kind of file.

    >>> newest("recipe"), newest("machine")
    ('headrace-recipe/2', 'headrace-machine/1')
    """
    return f"headrace-{kind}/{len(UPGRADES[kind]) + 1}"


def kind_stated(root: Node) -> str | None:
    """The kind of file that a document says it is; None where it says none that is known."""
    return next((kind for kind in UPGRADES if number_of(root, kind) is not None), None)


def number_of(root: Node, kind: str) -> int | None:
    """The number of the format that a document states; None where it states none of this kind."""
    stated = root.get("format") if isinstance(root, Table) else None
    text = stated.value if isinstance(stated, Leaf) else None
    told = _FORMAT.fullmatch(text) if isinstance(text, str) else None
    return int(told[2]) if told and told[1] == kind else None


def is_older(root: Table, kind: str) -> bool:
    """Whether a document is of a format that there is a newer one of."""
    number = number_of(root, kind)
    return number is not None and number <= len(UPGRADES[kind])


def is_newer(root: Table, kind: str) -> bool:
    """Whether a document is of a format that this headrace does not know yet."""
    number = number_of(root, kind)
    return number is not None and number > len(UPGRADES[kind]) + 1


def upgraded(root: Table, kind: str) -> Table:
    """A document in its newest form; every value keeps its place. Others come as they are."""
    if not is_older(root, kind):
        return root
    for upgrade in _ahead(root, kind):
        root = upgrade.nodes(root)
    stated = root.entries["format"]
    leaf = Leaf(newest(kind), stated.node.place)
    return replace(root, entries={**root.entries, "format": replace(stated, node=leaf)})


def texts(root: Table, kind: str) -> dict[Place, str]:
    """What is to be written at which places of an older document's file, in place of what stands
    there, so that it is one of the newest format."""
    if not is_older(root, kind):
        return {}
    found = {root.entries["format"].node.place: newest(kind)}
    for upgrade in _ahead(root, kind):
        found |= upgrade.texts(root)
        root = upgrade.nodes(root)
    return found


def former(kind: str) -> dict[str, str]:
    """Keys of older formats, and what they are called in the newest one."""
    names: dict[str, str] = {}
    for upgrade in UPGRADES[kind]:
        names = {old: upgrade.renamed.get(new, new) for old, new in names.items()}
        names |= upgrade.renamed
    return names


def _ahead(root: Table, kind: str) -> tuple[Upgrade, ...]:
    """What leads from the format of a document to the newest one."""
    return UPGRADES[kind][(number_of(root, kind) or 1) - 1 :]
