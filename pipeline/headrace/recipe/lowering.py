"""Warnings that a recipe answers once and for all: told as notes from then on, with the reason.

Only warnings. What refuses a job has no such way: it is mended, or nothing is written.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from headrace.findings import CATALOGUE, Finding, Place, Severity
from headrace.recipe.node import Items, Leaf, Node, Table
from headrace.recipe.wording import nearest, told

_OPEN = "cannot-tell"
"""Answering one question must not close all others."""
_IDS = {kind.id: name for name, kind in CATALOGUE.items()}


@dataclass(frozen=True, slots=True)
class Lowering:
    """A kind of finding by its name, why it is fine here, and where the recipe says so."""

    name: str
    because: str
    place: Place


def lowered(findings: Iterable[Finding], lowerings: Sequence[Lowering]) -> Iterator[Finding]:
    """The findings, those that warn and are named in `lowerings` as notes.

    What counts is how much a finding weighs at that moment, not what its kind usually does.
    """
    reasons = {lowering.name: lowering.because for lowering in lowerings}
    for finding in findings:
        reason = reasons.get(finding.name)
        if reason is None or finding.severity is not Severity.WARN:
            yield finding
        else:
            yield replace(finding, severity=Severity.NOTE, lowered=reason)


def lowerings_of(recipe: Table) -> tuple[Lowering, ...]:
    """What a recipe lowers, in its order; of a recipe without findings."""
    return tuple(
        Lowering(_IDS.get(named, named), " ".join(because.split()), place)
        for named, because, place in _items(recipe.get("lower"))
    )


def lowering_findings(recipe: Table) -> Iterator[Finding]:
    """Unknown kinds, kinds that refuse, open questions, and kinds named twice, in a list that the
    recipe schema has accepted."""
    first: dict[str, Place] = {}
    for named, _, place in _items(recipe.get("lower")):
        kind = CATALOGUE.get(_IDS.get(named, named))
        if kind is None:
            close = nearest(named, [*CATALOGUE, *_IDS])
            hint = f"did you mean `{close}`? " if close else ""
            remedy = f"{hint}take the name or the id from the brackets behind what headrace told"
            what = f"there is no finding {told(named)}"
            yield Finding.of("recipe-unknown-finding", what, place, remedy=remedy)
        elif kind.severity is Severity.REFUSE:
            what = f"{told(named)} refuses a job, and only warnings can be lowered"
            remedy = f"take it out, and mend what it tells of: {kind.remedy}"
            yield Finding.of("recipe-lowers-refusal", what, place, remedy=remedy)
        elif kind.name == _OPEN:
            what = f"{told(named)} is a question that a description leaves open, not a warning"
            remedy = "take it out, and fill in the field that it names"
            yield Finding.of("recipe-lowers-refusal", what, place, remedy=remedy)
        elif (before := first.setdefault(kind.name, place)) is not place:
            what = f"{told(named)} is lowered for the second time; the first is in {before}"
            yield Finding.of("recipe-lowered-twice", what, place)


def _items(node: Node | None) -> Iterator[tuple[str, str, Place]]:
    """Name or id, reason, and the place of the name."""
    for item in node.items if isinstance(node, Items) else ():
        if isinstance(item, Table):
            named, because = item.get("finding"), item.get("because")
            if isinstance(named, Leaf) and isinstance(because, Leaf):
                yield str(named.value), str(because.value), named.place
