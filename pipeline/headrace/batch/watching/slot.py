"""The card's slot: whether the card is in, and when one that was not fit is tried again."""

from __future__ import annotations

import os
import time
from pathlib import Path

from headrace.batch.watching.sight import contents_sign
from headrace.errors import CardError
from headrace.findings import Finding

_FIRST, _MOST = 1.0, 60.0
"""How long it takes until the next try (s): twice as long each time."""


class Slot:
    """Where the card is."""

    def __init__(self, card: Path) -> None:
        self._card = card
        self._mounted = False
        self._wait = 0.0
        self._next = 0.0
        self._contents: object = None

    def check(self) -> None:
        """Raise CardError where the card was pulled out and the folder that it covered is left."""
        mounted = os.path.ismount(self._card)
        if self._mounted and not mounted and self._card.is_dir():
            what = (
                f"nothing is mounted on {self._card} any more; without the card it is a mere folder"
            )
            raise CardError(findings=[Finding.of("card-missing", what)])
        self._mounted |= mounted

    def accept(self) -> None:
        """All went well."""
        self._wait = 0.0

    def reject(self, error: CardError) -> None:
        """The card was not fit. One that only another run is writing to is soon free again."""
        busy = any(finding.name == "card-busy" for finding in error.findings)
        self._wait = _FIRST if busy else min(max(_FIRST, 2 * self._wait), _MOST)
        self._next = time.monotonic() + self._wait
        self._contents = contents_sign(self._card)

    def worth_another_try(self) -> bool:
        """Whether a card that was not fit may be so now."""
        if not self._wait:
            return False
        if contents_sign(self._card) != self._contents:
            self._wait = 0.0
            return True
        return time.monotonic() > self._next
