"""Words that a job may lose, and what may come out otherwise by that."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from headrace import Facet

_NOTHING: frozenset[Facet] = frozenset()


@dataclass(frozen=True, slots=True)
class Droppable:
    """What may change where a word goes, and the letters of the words that go with it."""

    may: frozenset[Facet] = _NOTHING
    takes: str = ""


_MODES = (
    "G17", "G18", "G19", "G20", "G21", "G40", "G49", "G54", "G80", "G90", "G90.1", "G91.1", "G94",
    "G98", "G99",
)  # fmt: skip
"""Words that say what holds anyway; where one does not, something else comes out otherwise."""

DROPPABLE: Mapping[str, Droppable] = {
    **{word: Droppable() for word in _MODES},
    "G43": Droppable(frozenset({Facet.TOOL}), "H"),
    "G61": Droppable(frozenset({Facet.CORNERS})),
    "G61.1": Droppable(frozenset({Facet.CORNERS})),
    # with P and Q: common practice, not in RS274/NGC 3.5.14
    "G64": Droppable(frozenset({Facet.CORNERS}), "PQ"),
    **{word: Droppable(frozenset({Facet.STOPS})) for word in ("M0", "M1", "M60")},
    **{word: Droppable(frozenset({Facet.OUTPUTS})) for word in ("M7", "M8", "M9")},
    **{word: Droppable(frozenset({Facet.FEED})) for word in ("M48", "M49")},
    "T": Droppable(),
    "H": Droppable(),
    "D": Droppable(),
    "O": Droppable(),
}
"""Words by their spelling: a code, or a letter for all words that begin with it."""

USERS: Mapping[str, tuple[str, ...]] = {
    "H": ("G43",),
    "D": ("G41", "G42"),
    "T": ("M6",),
    "P": ("G4", "G10", "G82", "G86", "G88", "G89", "M98"),
    "Q": ("G83",),
}
"""The codes that use a letter."""


def may_change(words: Iterable[str]) -> frozenset[Facet]:
    """What may come out otherwise where some words go.

    >>> sorted(may_change(["G64", "M8"]))
    [<Facet.CORNERS: 'corners'>, <Facet.OUTPUTS: 'outputs'>]
    """
    return _NOTHING.union(*(DROPPABLE[word].may for word in words))
