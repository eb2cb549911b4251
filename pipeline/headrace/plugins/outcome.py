"""What transforms give besides edits: the parts of a job, and further steps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from headrace.program import Edit


@dataclass(frozen=True, slots=True)
class Part:
    """One of the card files into which a job is split: its lines from `start` to `stop`, and
    `edits` among these. `tool` is the number of the bit that it is cut with.

    `opening` are lines (without line ends) that bring about what the lines before `start` did: they
    count as the beginning of the part's own lines, so that later steps insert before them.
    """

    start: int
    stop: int
    tool: int | None = None
    opening: tuple[str, ...] = ()
    edits: tuple[Edit, ...] = ()


@dataclass(frozen=True, slots=True)
class Use:
    """A step to take: a transform by name, with its options."""

    name: str
    options: Mapping[str, Any] = field(default_factory=dict)
