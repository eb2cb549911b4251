"""The order in which the controller lists the files of a card, and how to come by it."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import suppress
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.card.writing import in_plain_words, staged_path
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.machine import Card

_FIRST_FILLER = 900_000
_MOST_GAPS = 512
"""As many entries as the top folder of a small card has."""


class Gaps:
    """The gaps of a folder that taken-off files have left, filled with empty files of our own.

    A new name on a FAT card takes the first gap that is long enough, and renaming leaves a gap
    where the old name stood: unless gaps are filled, files do not come to lie in the order in
    which they get their names. Where a folder does not keep that order at all, nothing is done.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.fillers: int = 0
        self.hopeless: bool = False

    def fill(self) -> None:
        """Let the next name of the folder come behind all others, as far as that can be had."""
        most = self.fillers + _MOST_GAPS
        with suppress(OSError):
            while not self.hopeless and self.fillers < most:
                filler = staged_path(self.folder, _FIRST_FILLER + self.fillers)
                os.close(os.open(filler, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666))
                self.fillers += 1
                if _as_it_lies(self.folder)[-1] == filler.name:
                    filler.unlink()
                    return
        self.hopeless = True


def order_findings(folder: Path, names: Sequence[str], rules: Card) -> Iterator[Finding]:
    """A warning where the controller lists files in another order than that of `names`, in which
    they run. Nothing where the machine file does not say how it lists them. CardError."""
    if rules.order == "by-name":
        listed = sorted(names, key=str.upper)
        remedy = "say `numbered: true` under `card` in the machine file"
    elif rules.order == "as-written":
        with in_plain_words(f"{folder} cannot be listed"):
            places = {name.casefold(): place for place, name in enumerate(_as_it_lies(folder))}
        listed = sorted(names, key=lambda name: places[name.casefold()])
        remedy = "prepare them into an empty folder of the card, where each gets its place in turn"
    else:
        return
    places = {name: place for place, name in enumerate(listed)}
    for one, next_one in pairwise(names):
        if places[one] > places[next_one]:
            what = f"the controller lists {next_one} before {one}, which runs first"
            yield Finding.of("card-order", what, remedy=remedy)
            return


def _as_it_lies(folder: Path) -> list[str]:
    """The names in a folder as the file system gives them; on FAT, in the order of the directory.
    OSError."""
    with os.scandir(folder) as entries:
        return [entry.name for entry in entries]
