"""Pauses: what the operator reads at each, and what counts as answered by going on.

Somebody acts on these texts with a hand beside the bit. So they are a view of their own, whoever
may change comments elsewhere; and an answer without a pause is none.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

from headrace.language import EventKind
from headrace.plugins.contract import Facet
from headrace.program import Line, Program
from headrace.proof.version import Breach, Version

_STOPS = (EventKind.STOP, EventKind.OPTIONAL_STOP)
_SIGNS = re.compile(r"[^a-z0-9]+")


def pause_breaches(before: Version, after: Version, may: frozenset[Facet]) -> Iterator[Breach]:
    """An answer that nobody can have given, and the first pause that reads otherwise."""
    yield from _unasked(before, after)
    if Facet.PAUSE_TEXTS not in may:
        yield from _reads_otherwise(before, after)


def _unasked(before: Version, after: Version) -> Iterator[Breach]:
    stops = {event.line for event in after.trace.events_of(*_STOPS)}
    known = {
        (before.program[event.line].id, event.value)
        for event in before.trace.events_of(EventKind.ASKS)
    }
    for event in after.trace.events_of(EventKind.ASKS):
        line = after.program[event.line]
        if event.line not in stops:
            added = (line.id, event.value) not in known
            how = "is added without a pause" if added else "has lost its pause"
            yield Breach(f"an answer: `{event.value}` {how}", None, after.place(event.line))
            return


def _reads_otherwise(before: Version, after: Version) -> Iterator[Breach]:
    old = {before.program[event.line].id: event.line for event in before.trace.events_of(*_STOPS)}
    for event in after.trace.events_of(*_STOPS):
        line = after.program[event.line]
        was = old.get(line.id)
        if was is None:
            continue
        first, second = _shown(before.program, was), _shown(after.program, event.line)
        if first != second:
            what = f"the text of a pause (was {_said(first)}, is {_said(second)})"
            yield Breach(what, before.place(was), after.place(event.line))
            return


def _shown(program: Program, line: int) -> tuple[str, str]:
    """What may be read at a pause: the comments above it, and those behind its word, whatever
    brackets, accents and capitals they are written with."""
    at = line - 1
    while at >= 0 and not program[at].text.strip():
        at -= 1
    above = program[at] if at >= 0 else None
    return (
        _folded(above) if above is not None and not above.is_code else "",
        _folded(program[line]),
    )


def _folded(line: Line) -> str:
    text = " ".join(comment.text for comment in line.comments)
    plain = unicodedata.normalize("NFKD", text.casefold().replace("ß", "ss"))
    return _SIGNS.sub(" ", plain.encode("ascii", "ignore").decode()).strip()


def _said(shown: tuple[str, str]) -> str:
    return " / ".join(f"`{text}`" for text in shown if text) or "none"
