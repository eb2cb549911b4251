"""`headrace prepare` with every call failing that has to do with the card.

    python tests/trials/failing_calls.py

Each call fails with ENOSPC, EIO and EROFS, once and from then on, and once with EINTR; and calls
that change something claim that they have, and have not. Behind each run every name that a machine
lists leads to its old file or to its new one, the exit code is one of the table, what is wrong is
told, and 0 means that the card is as it should be; and the next run leaves it byte for byte as an
undisturbed one does.

It prints one line of JSON with its counts, and fails where a promise is broken.
"""

from __future__ import annotations

import json
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1])]

from trials.disturbed import EXIT_CODES, Call, Scene, scene  # noqa: E402

FAULTS = ("ENOSPC", "EIO")
CLAIMING = ("write", "fsync", "renameat2", "rename", "unlink")
_LACKING = ("LID.NC", "HEADRACE.JSON")
"""Files that the run replaces: where names cannot change places, each may lack its name a while."""


def disturbances(call: Call) -> Iterator[tuple[str, str]]:
    """Ways in which a call goes wrong, for people and for strace."""
    for fault in FAULTS:
        yield fault, f"error={fault}:when={call.number}"
        yield f"{fault} from then on", f"error={fault}:when={call.number}+"
    yield "EROFS from then on", f"error=EROFS:when={call.number}+"  # no lock goes off by itself
    yield "EINTR", f"error=EINTR:when={call.number}"
    if call.name in CLAIMING:
        yield "claims to have worked", f"retval={call.gave}:when={call.number}"
    if call.name == "renameat2":
        for fault in ("ENOSYS", "EINVAL"):
            yield fault, f"error={fault}:when={call.number}"
            yield f"{fault} from then on", f"error={fault}:when={call.number}+"


def wrongs(stage: Scene, call: Call, disturbance: str, counts: Counter[str]) -> list[str]:
    """What is broken behind a run that was disturbed, and behind the next."""
    stage.lay()
    ended = stage.disturbed(
        "-e", f"trace={call.name}", "-e", f"inject={call.name}:{disturbance}"
    )  # fmt: skip
    counts["points"] += 1
    counts[f"exit code {ended.code}"] += 1
    lacking = any(name not in stage.on_card() for name in _LACKING)
    counts["missing for a while"] += lacking
    # only a run that could not be tidied up by itself leaves a name without its file
    wrong = stage.faults(_LACKING if ended.code == 5 else ())
    if ended.code not in EXIT_CODES:
        wrong.append(f"exit code {ended.code}: {ended.said}")
    if ended.code == 0:
        runnable = {n: d for n, d in stage.on_card().items() if not n.endswith(".HRT")}
        if runnable != stage.after:
            wrong.append("exit code 0, and the card is not as it should be")
    elif not ended.said.strip() and call.name != "write":
        wrong.append(f"exit code {ended.code} without a word")
    return wrong + stage.not_repaired()


def trial(share: int, shares: int, step: int) -> tuple[Counter[str], list[str]]:
    """Each `step`th call of this share of them, disturbed in all ways."""
    counts: Counter[str] = Counter()
    found: list[str] = []
    with scene() as stage:
        calls = [call for call in stage.calls() if call.of_card]
        for call in calls[share * step :: shares * step]:
            for words, disturbance in disturbances(call):
                wrong = wrongs(stage, call, disturbance, counts)
                counts["broken"] += bool(wrong)
                found += [f"{call} {words}: {each}" for each in wrong]
        counts["different cards repaired"] = len(stage.repaired)
    return counts, found


def main() -> int:
    begun = time.monotonic()
    counts: Counter[str] = Counter()
    found: list[str] = []
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        for counted, wrong in pool.map(trial, (0, 1), (2, 2), (1, 1)):
            counts.update(counted)
            found += wrong
    seconds = round(time.monotonic() - begun, 1)
    print(json.dumps({**dict(sorted(counts.items())), "seconds": seconds, "faults": found[:20]}))
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
