"""`headrace prepare` killed at every call to the operating system, from the first that has to do
with the card to the end.

    python tests/trials/kills.py

Behind each kill every name that a machine lists leads to its old file or to its new one, the
stranger's files are untouched and the list can be read; and behind the next run the card is byte
for byte as an undisturbed run leaves it. The same where names cannot change places, as renameat2(2)
then says (EINVAL): there one name at a time may be missing until the next run, which is counted.
And twice in a row: the run that is to repair the card is killed as well.

It prints one line of JSON with its counts, and fails where a promise is broken.
"""

from __future__ import annotations

import json
import random
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1])]

from trials.disturbed import Call, Ended, Scene, scene  # noqa: E402

_KILLED = -9
_NO_EXCHANGE = ("-e", "inject=renameat2:error=EINVAL")
_LACKING = ("LID.NC", "HEADRACE.JSON")
"""Files that the run replaces: where names cannot change places, each may lack its name a while."""


def killed(stage: Scene, call: Call, *options: str) -> Ended:
    """A run killed where it is about to make this call."""
    kill = f"inject={call.name}:signal=SIGKILL:when={call.number}"
    return stage.disturbed("-e", f"trace={call.name},renameat2", *options, "-e", kill)


def told(point: str, faults: list[str], counts: Counter[str], found: list[str]) -> None:
    counts["broken"] += bool(faults)
    found += [f"{point}: {fault}" for fault in faults]


def at_every_call(
    stage: Scene, share: int, shares: int, step: int, plain: bool, found: list[str]
) -> Counter[str]:
    """Killed at each `step`th call of this share of them."""
    options = _NO_EXCHANGE if plain else ()
    counts: Counter[str] = Counter()
    calls = stage.calls(*options)
    if plain:  # up to the first name that is given there is no difference
        naming = next(n for n, call in enumerate(calls) if call.name == "renameat2")
        calls = [call for call in calls[naming:] if call.name != "renameat2"]
    for call in calls[share * step :: shares * step]:
        stage.lay()
        ended = killed(stage, call, *options)
        counts["points"] += 1
        counts["killed"] += ended.code == _KILLED
        point = f"{call}{' without exchange' if plain else ''}"
        if ended.code not in (_KILLED, 0):
            told(point, [f"exit code {ended.code}: {ended.said}"], counts, found)
        counts["missing for a while"] += any(name not in stage.on_card() for name in _LACKING)
        counts["with leftovers"] += any(name.endswith(".HRT") for name in stage.on_card())
        told(point, stage.faults(_LACKING if plain else ()), counts, found)
        told(point, stage.not_repaired(), counts, found)
    return counts


def twice(stage: Scene, count: int, chance: random.Random, found: list[str]) -> Counter[str]:
    """The run and then the one that is to repair it are killed, at calls that chance chooses; with
    and without exchange in any order."""
    counts: Counter[str] = Counter()
    calls = {
        way: [call for call in stage.calls(*way) if call.of_card] for way in ((), _NO_EXCHANGE)
    }
    for _ in range(count):
        stage.lay()
        points = []
        for _ in range(2):
            options = chance.choice(list(calls))
            call = chance.choice([
                call for call in calls[options] if not (options and call.name == "renameat2")
            ])  # fmt: skip
            points.append(f"{call}{' without exchange' if options else ''}")
            counts["killed"] += killed(stage, call, *options).code == _KILLED
        point = " and ".join(points)
        counts["points"] += 1
        counts["missing for a while"] += any(name not in stage.on_card() for name in _LACKING)
        told(point, stage.faults(_LACKING), counts, found)
        told(point, stage.not_repaired(), counts, found)
    return counts


def trial(
    share: int, shares: int, step: int, doubles: int
) -> dict[str, dict[str, int] | list[str]]:
    """One share of all, with as many kills twice over."""
    found: list[str] = []
    with scene() as stage:
        return {
            "once": dict(at_every_call(stage, share, shares, step, False, found)),
            "once, without exchange": dict(at_every_call(stage, share, shares, step, True, found)),
            "twice": dict(twice(stage, doubles, random.Random(share), found)),
            "repaired": {"different cards": len(stage.repaired)},
            "faults": found,
        }


def _shares(count: int, step: int, doubles: int) -> Iterator[dict[str, dict[str, int] | list[str]]]:
    with ProcessPoolExecutor(count, mp_context=get_context("spawn")) as pool:
        futures = [pool.submit(trial, share, count, step, doubles) for share in range(count)]
        for future in futures:
            yield future.result()


def main() -> int:
    begun = time.monotonic()
    counts: dict[str, Counter[str]] = {}
    found: list[str] = []
    for share in _shares(2, 1, 150):
        for part, counted in share.items():
            if isinstance(counted, list):
                found += counted
            else:
                counts.setdefault(part, Counter()).update(counted)
    seconds = round(time.monotonic() - begun, 1)
    print(json.dumps({**counts, "seconds": seconds, "faults": found[:20]}))
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
