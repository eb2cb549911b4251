"""Power cuts shown: whatever was on its way to a FAT card, each file a machine lists is whole.

    python tests/trials/power_cuts.py

A real `headrace prepare` onto a card is taken down by strace and done again on images of FAT12,
FAT16 and FAT32 cards. At each step the power is cut: of the sectors (512 bytes) that were changed
and not yet synced a random part is on the card, each in any of the states that it went through. The
card is then read by mtools. A file's sync makes its bytes, the tables and the sector of its own
directory entry last, and a folder's sync the tables and the names: no more, as on a FAT card the
system may still hold back the rest.

It prints one line of JSON with the states by what became of the card, and fails where one of them
breaks a promise: a file under a name that a machine lists holds other bytes than the old or the new
ones; a file of others is not as it was; `verify` says ready where the card is not as its list says,
or the list is not that of the old files or the new ones; the next run neither brings all in order
nor says what a person has to do first. Two other ways to write, over the file and by a rename over
its name, are measured for comparison: they must do damage, or nothing would be shown.

Not shown: what a card's own controller does when the power goes (whole sectors are assumed, and no
harm to others), and whatever else a system's own FAT driver holds back.
"""

from __future__ import annotations

import json
import random
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field, replace
from functools import cache, partial
from hashlib import sha256
from itertools import product
from math import prod
from multiprocessing import get_context
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests")]

import numpy as np  # noqa: E402
from trials import tools  # noqa: E402
from trials.fat import SECTOR, Card  # noqa: E402
from trials.handover import Asked, taken_down  # noqa: E402
from workshop import LID, Workshop, set_up  # noqa: E402

from headrace.card.verification import verify_card  # noqa: E402
from headrace.errors import CardError  # noqa: E402

TOOLS = ("strace", "mkfs.vfat", "mcopy", "mren", "mdel")
KINDS = (12, 16, 32)
STATES = 6000
FILLERS = (0, 12)
"""So many other files are on the card: with some, a run's names lie in several sectors."""
DRIVER = "exchange-in-steps"
"""The way of a run whose names are given as a driver may do it: see `moments`."""
FEW = 16
"""Where there are no more states than so many, each is repaired."""
OWN = ("exchange", "aside", DRIVER)
"""The ways of headrace: names that change places; where they cannot; and as a driver may do it."""
LIST = "HEADRACE.JSON"
Files = dict[str, bytes]


@dataclass(frozen=True)
class Handover:
    """A run as it was taken down: the card before and behind it, and what was done."""

    way: str
    before: Files
    behind: Files
    asked: Sequence[Asked]


@dataclass(frozen=True)
class Moment:
    """A moment at which the power may go: sectors that differ from the card at the start for
    certain, and for those on their way all that they may hold, the certain state first."""

    step: str
    certain: Mapping[int, bytes]
    waiting: Mapping[int, Sequence[bytes]]

    @property
    def states(self) -> int:
        return prod(len(held) for held in self.waiting.values())

    def drawn(self, count: int, chance: random.Random) -> Iterator[dict[int, bytes]]:
        """So many states, no two alike; all of them where there are no more."""
        if self.states <= count:
            for choice in product(*self.waiting.values()):
                yield {**self.certain, **dict(zip(self.waiting, choice, strict=True))}
            return
        seen: set[bytes] = set()
        while len(seen) < count:
            choice = tuple(chance.choice(held) for held in self.waiting.values())
            key = sha256(b"".join(choice)).digest()
            if key not in seen:
                seen.add(key)
                yield {**self.certain, **dict(zip(self.waiting, choice, strict=True))}


@dataclass
class Tally:
    """States by what became of the card; those that break a promise."""

    states: Counter[str] = field(default_factory=Counter)
    repairs: Counter[str] = field(default_factory=Counter)
    broken: list[str] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        self.states += other.states
        self.repairs += other.repairs
        self.broken += other.broken


# --- a run ------------------------------------------------------------------------------------


def job(name: str, x: int) -> str:
    """A job of some sectors."""
    lines = "".join(f"G1 X{n % 50 + x} Y{n % 40} F900\n" for n in range(90))
    return LID.replace("hive lid", name).replace("G1 X40 F900\n", lines)


def workshop(root: Path) -> Workshop:
    """Jobs of today, beside a card that holds those of last week and a file of others: one job is
    another one today, one is the same, one is new."""
    hive = set_up(root)
    for name, x in (("lid", 40), ("frame", 60)):
        hive.job(f"{name}.nc", job(name, x))
    assert hive.run("prepare", hive.recipe, hive.jobs, "--card", hive.card).returncode == 0
    (hive.card / "NOTES.TXT").write_bytes(b"for the hives by the lime trees\n" * 40)
    hive.job("lid.nc", job("lid", 45))
    hive.job("floor.nc", job("floor", 80))
    return hive


def handed_over(hive: Workshop, root: Path, exchange: bool) -> Handover:
    """A run of headrace onto a copy of the workshop's card."""
    way = "exchange" if exchange else "aside"
    card = root / way
    shutil.copytree(hive.card, card)
    before = held(card)
    args = ["prepare", str(hive.recipe), str(hive.jobs), "--card", str(card)]
    asked = taken_down(args, hive.root, card, root / f"{way}.log", exchange)
    return Handover(way, before, held(card), asked)


def yardsticks(run: Handover) -> list[Handover]:
    """Other ways to replace one file of a run: over it, and by a rename over its name."""
    name, staged = "LID.NC", "HR000001.HRT"
    data = run.behind[name]
    behind = {**run.before, name: data}
    ends = [Asked("sync", name), Asked("sync", "")]
    write = [Asked("write", staged, data=data), Asked("sync", staged), Asked("sync", "")]
    return [
        Handover("in-place", run.before, behind, [Asked("write", name, data=data), *ends]),
        Handover("over-name", run.before, behind, [*write, Asked("over", staged, name), *ends]),
    ]


def held(folder: Path) -> Files:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


# --- on an image ------------------------------------------------------------------------------


def moments(run: Handover, card: Card, fillers: int) -> list[Moment]:
    """A run done again on an image, and what is certain and what is not behind each step.

    A free name is given in the file's own entry; by `DRIVER` in a new one, which leads nowhere
    until the file is synced, or the system writes it by itself (so the Linux driver, from memory).
    """
    for name in sorted(run.before, key=lambda name: (name.endswith(".JSON"), name)):
        card.write(name, run.before[name])
    for number in range(fillers):
        card.write(f"BEES{number:02}.TXT", filler(number))
    start = now = card.sectors()
    shutil.copy(card.image, card.image.with_suffix(".cut"))
    certain: dict[int, bytes] = {}
    waiting: dict[int, list[bytes]] = {}
    found = []
    for asked in run.asked:
        if asked.what == "sync":
            for sector in _lasting(asked.name, card, waiting):
                certain[sector] = waiting.pop(sector)[-1]
            continue
        for _ in _done(asked, card, run.way == DRIVER):
            then = card.sectors()
            for sector in map(int, np.flatnonzero((then != now).any(axis=1))):
                sure = certain.get(sector, start[sector].tobytes())
                waiting.setdefault(sector, [sure]).append(then[sector].tobytes())
            now = then
        step = f"{asked.what} {asked.name} {asked.other}".strip()
        found.append(Moment(step, dict(certain), _unlike(waiting)))
    found.append(Moment("end", dict(certain), _unlike(waiting)))
    return found


def _unlike(waiting: Mapping[int, Sequence[bytes]]) -> dict[int, tuple[bytes, ...]]:
    """What each sector may hold, nothing twice."""
    return {sector: tuple(dict.fromkeys(held)) for sector, held in waiting.items()}


def filler(number: int) -> bytes:
    return f"hive {number}\n".encode() * 9


def _lasting(name: str, card: Card, waiting: Mapping[int, Any]) -> list[int]:
    """The sectors that last once a file, or the folder (name ""), is synced."""
    folder = card.folder_sectors()
    if not name:
        return [sector for sector in waiting if sector in folder or sector < min(folder)]
    own = card.entry(name) // SECTOR
    return [sector for sector in waiting if sector == own or sector not in folder]


def _done(asked: Asked, card: Card, as_a_driver: bool) -> Iterator[None]:
    """What was asked done on an image, in the steps in which its sectors may be written."""
    match asked.what:
        case "write":
            card.write(asked.name, asked.data)
        case "name" if as_a_driver:
            yield from card.move(asked.name, asked.other)
        case "name":
            card.rename(asked.name, asked.other)
        case "over":
            card.remove(asked.other)
            card.rename(asked.name, asked.other)
        case "exchange":
            yield from card.exchange(asked.name, asked.other)
        case "remove":
            card.remove(asked.name)
        case _:
            raise AssertionError(asked)
    yield


def shared_out(count: int, found: Sequence[Moment]) -> list[int]:
    """So many states over all moments, none more than it has."""
    shares = [0] * len(found)
    rest = count
    for left, number in zip(
        range(len(found), 0, -1), sorted(range(len(found)), key=lambda n: found[n].states),
        strict=True,
    ):  # fmt: skip
        shares[number] = min(found[number].states, -(-rest // left))
        rest -= shares[number]
    return shares


def cut(run: Handover, hive: Workshop, kind: int, fillers: int, count: int, repaired: int) -> Tally:
    """So many states of a card on which this run was cut short; one in so many is repaired."""
    tally = Tally()
    chance = random.Random(f"{run.way} {kind} {fillers}")
    with tempfile.TemporaryDirectory(dir=_memory()) as folder:
        card = Card.new(Path(folder) / "card.img", kind)
        found = moments(run, card, fillers)
        torn = Card(card.image.with_suffix(".cut"), kind)
        whole = card.image.with_suffix(".out")
        with torn.image.open("r+b", buffering=0) as image:
            for moment, share in zip(found, shared_out(count, found), strict=True):
                for state in moment.drawn(share, chance):
                    with _changed(image, state):
                        whole.mkdir()
                        torn.read_out(whole)
                    number = tally.states.total()
                    said = judged(run, whole, fillers)
                    tally.states[said] += 1
                    if said in BROKEN:
                        at = f"{run.way}, FAT{kind}, {fillers} more files, at {moment.step}"
                        tally.broken.append(f"{said}: {at}")
                    elif repaired and (number % repaired == 0 or moment.states <= FEW):
                        tally.repairs[mended(run, hive, whole, fillers)] += 1
                    shutil.rmtree(whole)
    return tally


@contextmanager
def _changed(image: Any, state: Mapping[int, bytes]) -> Iterator[None]:
    """Some sectors of an open image hold other bytes, as long as this lasts."""
    before = {}
    for sector in state:
        image.seek(sector * SECTOR)
        before[sector] = image.read(SECTOR)
    for held_now in (state, before):
        for sector, data in held_now.items():
            image.seek(sector * SECTOR)
            image.write(data)
        if held_now is state:
            yield


def _memory() -> str | None:
    return "/dev/shm" if Path("/dev/shm").is_dir() else None


# --- what became of it ------------------------------------------------------------------------

BROKEN = frozenset(("wrong bytes", "stranger harmed", "list harmed", "said ready", "file missing"))
"""What must not be; `file missing` only where names can change places."""


def judged(run: Handover, folder: Path, fillers: int) -> str:
    """What became of a card, as it was read from an image."""
    there = held(folder)
    others = {"NOTES.TXT": run.before["NOTES.TXT"]}
    others |= {f"BEES{number:02}.TXT": filler(number) for number in range(fillers)}
    if any(there.get(name) != data for name, data in others.items()):
        return "stranger harmed"
    runnable = {name for name in there if name.endswith(".NC")}
    for name in runnable:
        if run.way == DRIVER and name not in run.before and not there[name]:
            continue  # of no length for now: nothing that a machine would run
        if there[name] not in (run.before.get(name), run.behind.get(name)):
            return "wrong bytes"
    if there.get(LIST, run.before[LIST]) not in (run.before[LIST], run.behind[LIST]):
        return "list harmed"
    gone = run.before.keys() - there.keys()
    if verify_card(folder).ready and not _as_listed(run, there, runnable):
        return "said ready"
    if gone:
        return "file missing" if run.way != "aside" else "missing for now"
    if all(there.get(name) == data for name, data in run.behind.items()):
        return "new"
    if any(not there[name] for name in runnable):
        return "empty for now"
    return "old" if all(there[name] == run.before[name] for name in run.before) else "in between"


def _as_listed(run: Handover, there: Files, runnable: set[str]) -> bool:
    """Whether the list is one that a run wrote, and the card holds what it says: by hashlib and
    json alone."""
    if there.get(LIST) not in (run.before[LIST], run.behind[LIST]):
        return False
    listed = {file["name"]: file["sha256"] for file in json.loads(there[LIST])["files"]}
    return listed == {name: sha256(there[name]).hexdigest() for name in runnable}


ASKS = ("asks for a repair of the card", "asks for an empty file to be taken off")
"""What the next run may say instead of bringing all in order; it leaves all files as they are."""


def mended(run: Handover, hive: Workshop, folder: Path, fillers: int) -> str:
    """What the next run makes of a card."""
    from headrace.batch import collect_jobs, prepare_folder

    before = held(folder)
    plan, registry = planned(hive.recipe)
    jobs, _ = collect_jobs([hive.jobs])
    try:
        prepare_folder(plan, registry, jobs, folder)
    except CardError as error:
        kinds = {finding.name for finding in error.findings}
        if _listed(held(folder)) == _listed(before):
            empty = [name for name in before if name.endswith(".NC") and not before[name]]
            if kinds == {"card-needs-repair"}:
                return ASKS[0]
            if kinds == {"card-foreign-file"} and run.way == DRIVER and empty:
                return ASKS[1]
        return f"refused: {', '.join(sorted(kinds))}"
    fine = {**run.behind, **{f"BEES{number:02}.TXT": filler(number) for number in range(fillers)}}
    there = held(folder)
    amiss = [name for name in there.keys() | fine.keys() if there.get(name) != fine.get(name)]
    if amiss or not verify_card(folder).ready:
        return f"not in order: {', '.join(sorted(amiss)) or 'not ready'}"
    return "in order"


def _listed(files: Files) -> Files:
    """Files without what an unfinished run has left."""
    return {name: data for name, data in files.items() if not name.endswith(".HRT")}


@cache
def planned(recipe: Path) -> tuple[Any, Any]:
    """A plan, and the transforms that it names."""
    from headrace.cli import shared

    return shared.planned(recipe, ())[:2]


# --- the whole --------------------------------------------------------------------------------


def trial(
    count: int, kinds: Sequence[int] = KINDS, repaired: int = 12, workers: int = 2
) -> dict[str, Tally]:
    """So many states of headrace's own way, with names that change places and without; and an
    eighth of it of each yardstick."""
    with tempfile.TemporaryDirectory() as folder, ExitStack() as kept:
        root = Path(folder).resolve()
        hive = workshop(root / "hive")
        runs = [handed_over(hive, root, exchange) for exchange in (True, False)]
        runs.append(replace(runs[0], way=DRIVER))
        each = -(-count // (len(runs) * len(kinds) * len(FILLERS)))
        few = max(40, -(-count // (8 * len(kinds))))
        parts = [
            partial(cut, run, hive, kind, fillers, each, repaired)
            for run in runs
            for kind in kinds
            for fillers in FILLERS
        ]
        parts += [
            partial(cut, run, hive, kind, 0, few, 0)
            for run in yardsticks(runs[0])
            for kind in kinds
        ]
        if workers > 1:
            pool = ProcessPoolExecutor(workers, mp_context=get_context("fork"))
            done = [kept.enter_context(pool).submit(part).result for part in parts]
        else:
            done = parts
        tallies: dict[str, Tally] = {}
        for part, result in zip(parts, done, strict=True):
            tallies.setdefault(part.args[0].way, Tally()).add(result())
    return tallies


def faults(tallies: Mapping[str, Tally]) -> list[str]:
    """Promises that were broken; and yardsticks that did no damage."""
    said = []
    for way in OWN:
        said += [f"{way}: {broken}" for broken in sorted(set(tallies[way].broken))]
        said += [
            f"{way}: the next run: {what}"
            for what in tallies[way].repairs.keys() - {"in order", *ASKS}
        ]
    said += [f"{way} did no damage" for way in ("in-place", "over-name") if not tallies[way].broken]
    return said


def main() -> int:
    if missing := [tool for tool in TOOLS if tools.found(tool) is None]:
        packages = " ".join(sorted({tools.PACKAGES[tool] for tool in missing}))
        print(f"not on this machine: {', '.join(missing)} (apt-get install {packages})")
        return 1
    tallies = trial(STATES)
    wrong = faults(tallies)
    print(*wrong[:20], sep="\n", file=sys.stderr, end="\n" if wrong else "")
    own = [tallies[way] for way in OWN]
    counts = {
        "trial": "power-cuts",
        "states": sum(tally.states.total() for tally in own),
        "broken": sum(len(tally.broken) for tally in own),
        **{way: dict(tally.states) for way, tally in tallies.items()},
        "next-runs": {way: dict(tallies[way].repairs) for way in OWN},
    }
    print(json.dumps(counts))
    return 0 if not wrong and counts["states"] >= 5000 else 1


if __name__ == "__main__":
    sys.exit(main())
