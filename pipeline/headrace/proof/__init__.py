"""Contracts: after each step, everything that it may not change must have come out equal.

Two programs are compared by their effect. Moves are matched by the identity of their lines: lines
that the step added may move the machine only if the transform declares it, and the moves of all
other lines must be the same, one for one. Programs share what a step did not touch, and what is
shared is equal without looking.
"""

from __future__ import annotations

from collections.abc import Iterator

from headrace.contract.events import event_breaches
from headrace.contract.moves import move_breach
from headrace.contract.texts import text_breaches
from headrace.contract.version import Breach, Version
from headrace.findings import Finding
from headrace.plugins.transform import Transform
from headrace.program import Cause

__all__ = ["Version", "check"]


def check(before: Version, after: Version, transform: Transform, cause: Cause) -> list[Finding]:
    """What the step changed without having declared it; nothing where it kept its contract."""
    if before.program is after.program:
        return []
    return [
        Finding.of(
            "contract-broken",
            f"step `{transform.name}` changed {what}, which it does not declare",
            place,
            remedy=f"see step {cause.number} at {cause.place}" if cause.place else None,
        )
        for what, place in _breaches(before, after, transform)
    ]


def _breaches(before: Version, after: Version, transform: Transform) -> Iterator[Breach]:
    """The first breach of each kind."""
    may = transform.may_change
    breach = move_breach(before, after, may, adds_motion=transform.adds_motion)
    if breach is not None:
        yield breach
    yield from event_breaches(before, after, may)
    yield from text_breaches(before.program, after.program, may)
