"""A question of the interview: what is asked about which fields of a machine file.

What an answer may be, with unit and range, is not here: the machine schema says it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from headrace.recipe.node import Path


@dataclass(frozen=True, slots=True)
class When:
    """That a question is asked only where a field has one of some values.

    `path` may lead to a mapping: then `True` among the values means that it is there.
    """

    path: Path
    values: tuple[object, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """One question. `fields` are filled in the order in which the answer names their values.

    `text` asks, `why` says what headrace does with the answer, `how` how to find it out at the
    machine. `choices` say what the accepted words mean. `first` is what a first card should have
    beside what is needed; `needed` marks what the schema alone does not require. `card_file` is the
    stem of the test file that shows it.
    A question without fields asks whether `part`, a mapping of the file, is there at all.
    """

    id: str
    text: str
    why: str
    how: str
    fields: tuple[Path, ...] = ()
    part: str = ""
    choices: Mapping[str, str] = field(default_factory=dict)
    when: tuple[When, ...] = ()
    first: bool = False
    needed: bool = False
    card_file: str = ""


def at(dotted: str) -> Path:
    """The way to a field.

    >>> at("homing.word")
    ('homing', 'word')
    """
    return tuple(dotted.split("."))


def of_axes(key: str) -> tuple[Path, ...]:
    """The ways to one field of all three axes.

    >>> of_axes("rapid")[2]
    ('axes', 'z', 'rapid')
    """
    return tuple(("axes", letter, key) for letter in "xyz")


def when(dotted: str, *values: object) -> When:
    """A condition on a field."""
    return When(at(dotted), values)
