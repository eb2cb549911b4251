"""Comparing what happens between the moves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from headrace.language import Event, EventKind
from headrace.plugins.contract import Facet
from headrace.proof.path import SAME
from headrace.proof.version import Breach, Version

_FACETS: Mapping[EventKind, Facet] = {
    EventKind.DWELL: Facet.DWELL,
    EventKind.STOP: Facet.STOPS,
    EventKind.OPTIONAL_STOP: Facet.STOPS,
    EventKind.END: Facet.STOPS,
    EventKind.TOOL: Facet.TOOL,
    EventKind.SPINDLE: Facet.SPINDLE,
    EventKind.COOLANT: Facet.OUTPUTS,
    EventKind.OUTPUT: Facet.OUTPUTS,
    EventKind.ZERO: Facet.WORK_ZERO,
    EventKind.OVERRIDES: Facet.FEED,
    EventKind.CORNERS: Facet.CORNERS,
}


def event_breaches(before: Version, after: Version, may: frozenset[Facet]) -> Iterator[Breach]:
    """For each facet that may not change, the first event that did."""
    for facet in dict.fromkeys(_FACETS.values()):
        if facet not in may:
            breach = _first(before, after, facet)
            if breach is not None:
                yield breach


def _first(before: Version, after: Version, facet: Facet) -> Breach | None:
    kinds = tuple(kind for kind, owner in _FACETS.items() if owner is facet)
    old = list(before.trace.events_of(*kinds))
    new = list(after.trace.events_of(*kinds))
    for first, second in zip(old, new, strict=False):
        if not _same(first, second):
            what = f"{facet.value} (was {first.value!r}, is {second.value!r})"
            return Breach(what, before.place(first.line), after.place(second.line))
    if len(old) > len(new):
        lost = old[len(new)]
        return Breach(f"{facet.value} (lost: {lost.kind})", before.place(lost.line))
    if len(new) > len(old):
        added = new[len(old)]
        return Breach(f"{facet.value} (added: {added.kind})", None, after.place(added.line))
    return None


def _same(old: Event, new: Event) -> bool:
    if isinstance(old.value, float) and isinstance(new.value, float):
        return abs(old.value - new.value) <= SAME
    return old.kind is new.kind and old.value == new.value
