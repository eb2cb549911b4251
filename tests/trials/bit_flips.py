"""Verifying shown: every single change of a card is found, and named rightly.

    python tests/trials/bit_flips.py

It prints one line of JSON: how many changes of each sort were made to a card, one at a time, and
how many of them `verify` missed, called by another name, or blamed on another file. It fails where
one was. The sorts: each bit of a job of 4,096 bytes turned, and each bit of the list; a job cut at
each sector (512 bytes) and a short one at each byte; any two sectors of a job swapped; any two
files swapped; each file missing, doubled, and renamed, the last by its capitals too.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import combinations
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests")]

from workshop.handing import hand_over  # noqa: E402

from headrace.card.checked import State  # noqa: E402
from headrace.card.verification import Verified, verify_card  # noqa: E402

SECTOR = 512
LIST = "HEADRACE.JSON"


def job(name: str, size: int) -> bytes:
    """A job of so many bytes in which no two sectors are alike."""
    lines = [f"({name})\n", *(f"G1 X{n % 600} Y{n * 7 % 400} F900\n" for n in range(size // 10))]
    return "".join(lines).encode()[: size - 1] + b"\n"


FILES = {
    "LID.NC": job("HIVE LID", 4096),
    "FRAME.NC": job("FRAME", 4096),
    "FLOOR.NC": job("FLOOR", 16 * SECTOR),
    "SLOT.NC": job("SLOT", 700),
}


@dataclass
class Tally:
    """Changes made by their sort, and those that were not told as they should be."""

    made: Counter[str] = field(default_factory=Counter)
    missed: list[str] = field(default_factory=list)
    misnamed: list[str] = field(default_factory=list)

    def judge(self, sort: str, what: str, verified: Verified, told: dict[str, State]) -> None:
        """`told` are the states of the files that are not as written; a card with any is not
        ready."""
        self.made[sort] += 1
        found = {
            file.name: file.state for file in verified.files if file.state is not State.AS_WRITTEN
        }
        if verified.ready or verified.exit_code != 5:
            self.missed.append(f"{sort}: {what}")
        elif found != told:
            self.misnamed.append(f"{sort}: {what}: {found}")

    def heard(self, sort: str, what: str, verified: Verified, kind: str, ready: bool) -> None:
        """A change that is told by this kind of finding alone."""
        self.made[sort] += 1
        kinds = [finding.name for finding in verified.findings]
        if kind not in kinds:
            self.missed.append(f"{sort}: {what}")
        elif kinds != [kind] or verified.ready != ready:
            self.misnamed.append(f"{sort}: {what}: {kinds}")

    @property
    def kept(self) -> bool:
        return not self.missed and not self.misnamed


@contextmanager
def a_card() -> Iterator[Path]:
    """A card with `FILES`, written by headrace; in memory where the system has such a place."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if os.access(memory, os.W_OK) else None) as folder:
        card = Path(folder)
        hand_over(card, FILES)
        yield card
        assert verify_card(card).ready, "a change was not undone"


def bits(card: Path, tally: Tally, every: int = 1) -> None:
    """Each bit (or each so many) of a job and of the list turned."""
    for name, sort in (("LID.NC", "bit-of-job"), (LIST, "bit-of-list")):
        data = (card / name).read_bytes()
        with (card / name).open("r+b", buffering=0) as file:
            for number in range(0, 8 * len(data), every):
                place, bit = divmod(number, 8)
                file.seek(place)
                file.write(bytes([data[place] ^ 1 << bit]))
                verified = verify_card(card)
                if name == LIST:
                    tally.heard(sort, f"bit {number}", verified, "card-list-faulty", ready=False)
                else:
                    tally.judge(sort, f"bit {number}", verified, {name: State.CHANGED})
                file.seek(place)
                file.write(data[place : place + 1])


def cuts(card: Path, tally: Tally) -> None:
    """Jobs cut at each sector, a short one at each byte; and one that has grown by so much."""
    for name, step in (("LID.NC", SECTOR), ("FLOOR.NC", SECTOR), ("SLOT.NC", 1)):
        data = FILES[name]
        for size in range(0, len(data), step):
            os.truncate(card / name, size)
            tally.judge("cut", f"{name} at {size}", verify_card(card), {name: State.SHORTER})
            (card / name).write_bytes(data)
        for more in (b"\n", bytes(SECTOR), data):
            (card / name).write_bytes(data + more)
            tally.judge("grown", f"{name} by {len(more)}", verify_card(card), {name: State.LONGER})
        (card / name).write_bytes(data)
    listed = (card / LIST).read_bytes()
    for size in range(len(listed)):
        (card / LIST).write_bytes(listed[:size])
        tally.heard("cut-list", f"at {size}", verify_card(card), "card-list-faulty", ready=False)
    (card / LIST).write_bytes(listed)


def sectors(card: Path, tally: Tally) -> None:
    """Any two sectors of a job swapped."""
    for name in ("LID.NC", "FLOOR.NC"):
        data = FILES[name]
        pieces = [data[at : at + SECTOR] for at in range(0, len(data), SECTOR)]
        for one, other in combinations(range(len(pieces)), 2):
            swapped = list(pieces)
            swapped[one], swapped[other] = swapped[other], swapped[one]
            (card / name).write_bytes(b"".join(swapped))
            what = f"{name}, {one} and {other}"
            tally.judge("sectors-swapped", what, verify_card(card), {name: State.CHANGED})
        (card / name).write_bytes(data)


def files(card: Path, tally: Tally) -> None:
    """Whole files swapped, missing, doubled, renamed; and a stranger."""
    for one, other in combinations(FILES, 2):
        (card / one).write_bytes(FILES[other])
        (card / other).write_bytes(FILES[one])
        told = {one: State.SWAPPED, other: State.SWAPPED}
        tally.judge("files-swapped", f"{one} and {other}", verify_card(card), told)
        (card / other).write_bytes(FILES[other])
        told = {one: State.MIXED_UP}
        tally.judge("file-over-file", f"{other} over {one}", verify_card(card), told)
        (card / one).write_bytes(FILES[one])
    for name in FILES:
        path, other = card / name, card / "OTHER.NC"
        path.rename(card.parent / f"{card.name}-aside")
        tally.judge("missing", name, verify_card(card), {name: State.MISSING})
        (card.parent / f"{card.name}-aside").rename(path)
        path.rename(other)
        tally.judge("renamed", name, verify_card(card), {name: State.RENAMED})
        other.rename(path)
        lower = path.rename(card / name.lower())
        tally.heard("renamed-by-case", name, verify_card(card), "card-name-capitals", ready=True)
        lower.rename(path)
        shutil.copy(path, other)
        tally.heard("doubled", name, verify_card(card), "card-file-copied", ready=True)
        other.unlink()
    for name in ("NOTES.TXT", "OTHER.NC", "._LID.NC", "0"):
        (card / name).write_bytes(b"of another program\n")
        tally.heard("stranger", name, verify_card(card), "card-stranger", ready=True)
        (card / name).unlink()
    (card / LIST).rename(card.parent / f"{card.name}-aside")
    tally.heard("list-missing", LIST, verify_card(card), "card-list-missing", ready=False)
    (card.parent / f"{card.name}-aside").rename(card / LIST)


def main() -> int:
    tally = Tally()
    with a_card() as card:
        bits(card, tally)
        cuts(card, tally)
        sectors(card, tally)
        files(card, tally)
    for line in [*tally.missed, *tally.misnamed][:20]:
        print(line, file=sys.stderr)
    counts = {
        "trial": "bit-flips",
        "changes": tally.made.total(),
        **tally.made,
        "missed": len(tally.missed),
        "misnamed": len(tally.misnamed),
    }
    print(json.dumps(counts))
    return 0 if tally.kept and tally.made["bit-of-job"] == 8 * 4096 else 1


if __name__ == "__main__":
    sys.exit(main())
