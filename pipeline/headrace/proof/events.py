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
    EventKind.OUTPUT_OFF: Facet.OUTPUTS,
    EventKind.ZERO: Facet.WORK_ZERO,
    EventKind.OVERRIDES: Facet.FEED,
    EventKind.CORNERS: Facet.CORNERS,
}


def event_breaches(before: Version, after: Version, may: frozenset[Facet]) -> Iterator[Breach]:
    """For each facet that may not change, the first event that did."""
    for facet in dict.fromkeys(_FACETS.values()):
        if facet not in may:
            breach = _first(before, after, facet, may)
            if breach is not None:
                yield breach


def _first(before: Version, after: Version, facet: Facet, may: frozenset[Facet]) -> Breach | None:
    old, new = list(_events(before, facet)), list(_events(after, facet))
    if facet is Facet.TOOL:
        again = {id(event) for event in _events(before, Facet.STOPS)}
        old = _without_lost(old, new, again)
        if Facet.OUTPUTS in may:
            new = _but_lifted(after, new, len(old))
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


def _events(version: Version, facet: Facet) -> Iterator[Event]:
    """The events that a facet shows. A call of the bit that is in already is a stop as well."""
    tool: object = version.trace.tool
    for event in version.trace.events:
        again = event.kind is EventKind.TOOL and event.value is not None and event.value == tool
        tool = event.value if event.kind is EventKind.TOOL else tool
        if _FACETS.get(event.kind) is facet or (again and facet is Facet.STOPS):
            yield event


def _but_lifted(after: Version, new: list[Event], count: int) -> list[Event]:
    """The changes of the tool, `count` of them before, without those at the end that an output
    makes, by lifting a head behind the last cut."""
    begun = cut = 0
    for block in after.trace.blocks:
        rows = block.cuts.nonzero()[0]
        cut = begun + int(rows[-1]) + 1 if len(rows) else cut
        begun += len(block)
    kept = list(new)
    while len(kept) > count and kept[-1].moves >= cut:
        line = after.program[kept[-1].line]
        if line.has("M", 6) or line.asks is not None:
            break
        kept.pop()
    return kept


def _without_lost(old: list[Event], new: list[Event], again: set[int]) -> list[Event]:
    """The changes of the tool without those calls of the bit that is in already (`again`, by
    identity) that are gone: they changed no bit, so only a stop is lost."""
    kept: list[Event] = []
    for event in old:
        there = len(kept) < len(new) and _same(event, new[len(kept)])
        if there or id(event) not in again:
            kept.append(event)
    return kept


def _same(old: Event, new: Event) -> bool:
    if isinstance(old.value, float) and isinstance(new.value, float):
        return abs(old.value - new.value) <= SAME
    return old.kind is new.kind and old.value == new.value
