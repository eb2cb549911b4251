"""The trial of accidents, smaller: see `accidents.py`."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

import pytest

from headrace.batch import memory
from headrace.card import delivery, folder
from headrace.card.delivery import Fate

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that fork")

_LIMIT = 120.0
"""Seconds for so many cards; that many are not reached only where something is very slow."""


def test_a_card_keeps_its_promises_whatever_happens_to_it() -> None:
    from trials import accidents

    counts, broken = accidents.lives(7, _LIMIT, most=8)

    assert broken == []
    assert counts["cards"] > 0
    assert counts["prepared"] > counts["cards"]
    assert counts["killed"] + counts["failed"] > counts["cards"]


def _replaced(_folder: Any, _entry: Any) -> Fate:
    return Fate.REPLACED


def _remembered(original: Any) -> Callable[..., Any]:
    def of_job(self: Any, job: Any, name: str, _standing: Any) -> Any:
        entry = self.listed.get(name)
        return original(self, job, name, entry and entry.content)

    return of_job


SLIPS: dict[str, tuple[Any, str, Any]] = {
    "whatever has the name is replaced": (delivery, "_fate", _replaced),
    "runs cut short are not settled": (folder, "settle", lambda _path: None),
    "damage is not told": (folder, "_changes", lambda *_: ()),
    "unlisted files stay": (delivery, "remove_leftovers", lambda *_, **__: []),
    "what is on the card is not looked at": (
        memory.Memory, "of_job", _remembered(memory.Memory.of_job)
    ),
}  # fmt: skip


@pytest.mark.parametrize("slip", SLIPS)
def test_a_promise_that_is_broken_is_seen(slip: str, monkeypatch: pytest.MonkeyPatch) -> None:
    from trials import accidents

    owner, name, instead = SLIPS[slip]
    monkeypatch.setattr(owner, name, instead)
    for start in range(60):
        if accidents.lives(start, _LIMIT, most=1)[1]:
            return
    raise AssertionError("nothing was seen on 60 cards")
